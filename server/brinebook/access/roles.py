"""Roles and the groups that share an answer."""

from brinebook.records.common import Role

ALL_ROLES: frozenset[Role] = frozenset(
    {"rider", "soigneur", "car", "physiologist", "coach", "doctor", "admin"},
)
STAFF: frozenset[Role] = ALL_ROLES - {"rider"}
PLANNERS: frozenset[Role] = frozenset({"physiologist", "admin"})
"""May edit records, publish plans, settle and invite."""
BODY_READERS: frozenset[Role] = frozenset({"physiologist", "doctor", "admin"})
"""May see kilograms, sweat and sodium of others."""
HANDS: frozenset[Role] = frozenset({"soigneur", "car"})
"""Mix, carry and hand up; of a body they see nothing."""
COACH: frozenset[Role] = frozenset({"coach"})
"""Sees litres and words, cut so that no mass follows from them."""
DOCTOR: frozenset[Role] = frozenset({"doctor"})
GUARDED: frozenset[Role] = frozenset({"doctor", "admin"})
"""Brought in by an admin alone: else whoever may invite could make himself the one who reads what he may not."""
NOBODY: frozenset[Role] = frozenset()
