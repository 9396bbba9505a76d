"""
How long facts are kept, by kind, in months since the server took them in.

Common practice, no source: long enough to compare two seasons, medical notes for one. A team's data-protection officer
may want less. A correction is kept as long as what it corrects.
"""

from collections.abc import Mapping
from types import MappingProxyType

MONTH_MS = 30.4375 * 24 * 3_600_000
SEASONS_MONTHS, SEASON_MONTHS, SHELF_MONTHS = 24, 12, 6
ASIDE_MONTHS = 6
"""What stands aside for review."""
OTHER_MONTHS = SEASON_MONTHS
"""A kind from a newer version may be medical, so it is kept as if it were."""
KEPT_MONTHS: Mapping[str, int | None] = MappingProxyType({
    **dict.fromkeys(("drank", "handed_up", "came_back", "poured", "lost", "ate", "agreed", "reopened",
                     "acknowledged", "contested", "collection_booked", "team_count"), SEASONS_MONTHS),
    **dict.fromkeys(("weighed", "morning_check", "sweat_sample", "weighed_ride", "ridden"), SEASONS_MONTHS),
    **dict.fromkeys(("symptom", "note"), SEASON_MONTHS),
    **dict.fromkeys(("mix_check", "calibrated"), SEASONS_MONTHS),
    **dict.fromkeys(("stock_counted", "delivered", "sheet_printed"), SHELF_MONTHS),
    # These hold nothing of anybody; phones need the first for ever.
    "erase": None, "erased": None,
})


def before_ms(months: int, now_ms: int) -> int:
    """Give the instant before which something kept so long goes."""
    return int(now_ms - months * MONTH_MS)
