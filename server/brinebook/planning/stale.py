"""Which derived records a changed fact makes stale: a pure table."""

from dataclasses import dataclass

ALL_TYPES = frozenset({
    "profile", "stage_forecast", "stage_plan", "settlement", "evening_drink", "forecast_audit", "prep_sheet", "stock",
})
TEAM_TYPES = frozenset({"forecast_audit", "prep_sheet", "stock"})
"""Documents of the whole team."""
_SETTLING = frozenset({"settlement"})
_SHEETS = frozenset({"prep_sheet", "stock"})
_MIXED = frozenset({"profile", "stage_plan", "settlement", "evening_drink"}) | _SHEETS
_NOTHING: frozenset[str] = frozenset()
_PLANS = frozenset({"stage_plan"}) | _SHEETS

STALE_BY_KIND: dict[str, frozenset[str]] = {
    "drank": ALL_TYPES,
    "handed_up": ALL_TYPES,
    "came_back": ALL_TYPES,
    "poured": ALL_TYPES,
    "lost": ALL_TYPES,
    "ate": ALL_TYPES,
    "weighed": ALL_TYPES,
    "agreed": ALL_TYPES,
    "reopened": ALL_TYPES,
    "contested": ALL_TYPES,
    "amend": ALL_TYPES,
    "void": ALL_TYPES,
    "link": ALL_TYPES,
    "unlink": ALL_TYPES,
    "sweat_sample": ALL_TYPES,
    "weighed_ride": ALL_TYPES,
    "ridden": ALL_TYPES,
    "mix_check": _MIXED,
    "stock_counted": _PLANS,
    "delivered": _PLANS,
    "sheet_printed": _NOTHING,
    "morning_check": frozenset({"profile", "stage_plan"}) | _SHEETS,
    "symptom": _PLANS | {"evening_drink"},
    "note": _NOTHING,
    "acknowledged": _NOTHING,
    "calibrated": _NOTHING,
    "collection_booked": _NOTHING,
    "team_count": _NOTHING,
}
"""Bottle facts of a settled stage reach as far as an agreed figure does; of an open one they stop at the settlement."""
OPEN_STAGE_KINDS = frozenset({"drank", "handed_up", "came_back", "poured", "lost", "ate"})
STAGE_KINDS = OPEN_STAGE_KINDS | {"weighed", "agreed", "reopened", "ridden"}
"""Kinds bound to one stage: nothing that was known before that stage changes."""

STALE_BY_EDIT: dict[str, frozenset[str]] = {
    "rider": ALL_TYPES,
    "rider_body": ALL_TYPES,
    "stage": ALL_TYPES,
    "drink": _MIXED,
    "food": _MIXED,
    "supply": _SHEETS,
    "kit": _SHEETS,
    "plan_goals": _PLANS,
    "rider_palate": frozenset({"stage_plan"}) | _SHEETS,
    "team": _NOTHING,
    "member": _NOTHING,
}
SHARED_KINDS = frozenset({"mix_check", "stock_counted", "delivered"})
SHARED_EDITS = frozenset({"stage", "drink", "food", "supply", "kit", "plan_goals"})
TEAM_WIDE_KINDS = frozenset({
    "weighed", "agreed", "reopened", "weighed_ride", "ridden", "amend", "void", "link", "unlink",
})
"""Kinds that move the team's common offset and the race's own "now", and so other riders' forecasts."""


@dataclass(frozen=True)
class Stale:
    """What to compute again: types for the riders a change names, types for everyone else."""

    named: frozenset[str]
    others: frozenset[str]


def stale(kinds: frozenset[str], edited_types: frozenset[str]) -> Stale:
    """Look up what a batch of changes makes stale; an unknown kind makes nothing stale."""
    by_kind = [STALE_BY_KIND.get(kind, _NOTHING) for kind in kinds]
    by_edit = [STALE_BY_EDIT.get(kind, _NOTHING) for kind in edited_types]
    shared = [STALE_BY_KIND[kind] for kind in kinds & SHARED_KINDS]
    shared += [STALE_BY_EDIT[kind] for kind in edited_types & SHARED_EDITS]
    if kinds & TEAM_WIDE_KINDS:
        shared.append(frozenset({"profile", "stage_forecast", "stage_plan"}) | _SHEETS)
    return Stale(named=_NOTHING.union(*by_kind, *by_edit), others=_NOTHING.union(*shared))
