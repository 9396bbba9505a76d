"""What the play prints: each rider's stages, the totals, the weeks, and whether planted trouble was noticed."""

import math
from collections.abc import Iterable
from statistics import fmean
from typing import Any

from seed_demo.physiology import hidden_riders
from seed_demo.race import week_of
from seed_demo.stage_day import RiderDay
from seed_demo.trouble import PLANTED, Trouble

Row = dict[str, Any]


def _round(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(value, digits)


def row(day: RiderDay) -> Row:
    """Put one rider's stage into one line."""
    forecast, plan, settlement = day.forecast or {}, day.plan or {}, day.settlement or {}
    return {
        "stage": day.stage.number, "week": week_of(day.stage), "kind": day.stage.kind, "rider": day.rider_id,
        "predicted_q10_l": _round(forecast.get("sweat_q10_l")), "predicted_q50_l": _round(forecast.get("sweat_q50_l")),
        "predicted_q90_l": _round(forecast.get("sweat_q90_l")),
        "predicted_sodium_q50_mg": _round(forecast.get("sodium_q50_mg"), 0),
        "planned_l": _round(plan.get("water_l")), "planned_sodium_mg": _round(plan.get("sodium_mg"), 0),
        "drunk_truth_l": _round(day.ridden.drunk_l), "drunk_truth_sodium_mg": _round(day.ridden.sodium_mg, 0),
        "drunk_l": _round(settlement.get("agreed_drunk_l")),
        "drunk_sodium_mg": _round(settlement.get("sodium_drunk_mg"), 0),
        "settled_loss_l": _round(settlement.get("sweat_loss_l")), "true_loss_l": _round(day.truth.sweat_l),
        "settled_sodium_lost_mg": _round(settlement.get("sodium_lost_mg"), 0),
        "true_sodium_lost_mg": _round(day.truth.sodium_mg, 0),
        "factor_before": _round(settlement.get("factor_before"), 3),
        "factor_after": _round(settlement.get("factor_after"), 3),
        "used_for_learning": settlement.get("is_used_for_learning", False), "lane": settlement.get("lane"),
        "body_mass_change_frac": _round(settlement.get("body_mass_change_frac"), 4),
        "unnoted_facts": day.ridden.n_unnoted, "flags": sorted(day.flag_codes()),
    }


def _is_judged(line: Row) -> bool:
    values = (line["settled_loss_l"], line["predicted_q10_l"], line["predicted_q90_l"])
    return all(value is not None and value > 0 for value in values)


def _is_planted(line: Row) -> bool:
    """Leave out days whose settled loss was spoilt on purpose; their point is the flag."""
    spoilt = {"scale_fault", "no_weigh_in"}
    return any(
        trouble.kind in spoilt and trouble.rider_id == line["rider"] and line["stage"] in trouble.stages
        for trouble in PLANTED
    )


def weeks(rows: Iterable[Row]) -> dict[str, Row]:
    """Judge the forecasts of each week by what was settled: coverage of the 80 % interval and mean absolute error."""
    judged = [line for line in rows if _is_judged(line) and not _is_planted(line)]
    return {f"week_{week}": _week([line for line in judged if line["week"] == week]) for week in (1, 2, 3)}


def _week(lines: list[Row]) -> Row:
    if not lines:
        return {"n": 0}
    errors = [line["predicted_q50_l"] - line["settled_loss_l"] for line in lines]
    logs = [math.log(line["predicted_q50_l"] / line["settled_loss_l"]) for line in lines]
    spreads = [math.log(line["predicted_q90_l"] / line["predicted_q10_l"]) for line in lines]
    inside = [line["predicted_q10_l"] <= line["settled_loss_l"] <= line["predicted_q90_l"] for line in lines]
    truth = [abs(line["predicted_q50_l"] - line["true_loss_l"]) for line in lines]
    return {
        "n": len(lines), "coverage_80_frac": round(fmean(inside), 3), "bias_l": round(fmean(errors), 3),
        "mean_absolute_error_l": round(fmean(abs(error) for error in errors), 3),
        "mean_absolute_error_frac": round(math.expm1(fmean(abs(value) for value in logs)), 3),
        "mean_absolute_error_to_truth_l": round(fmean(truth), 3),
        "interval_width_l": round(fmean(line["predicted_q90_l"] - line["predicted_q10_l"] for line in lines), 3),
        "interval_width_ratio": round(math.exp(fmean(spreads)), 3),
    }


def riders(days: Iterable[RiderDay]) -> list[Row]:
    """Set what the server found out about each rider beside what was hidden from it."""
    last = {day.rider_id: day.profile or {} for day in days}
    return [
        {
            "rider": rider_id,
            "learned_factor_median": _round(profile.get("sweat_factor_median"), 3),
            "learned_factor_log_sd": _round(profile.get("sweat_factor_log_sd"), 3),
            "hidden_factor_before_body_differences": _round(math.exp(hidden_riders()[rider_id].log_factor), 3),
            "learned_sodium_mmol_per_l": _round(profile.get("sodium_mean_mmol_per_l"), 1),
            "learned_sodium_low_mmol_per_l": _round(profile.get("sodium_low_mmol_per_l"), 1),
            "learned_sodium_high_mmol_per_l": _round(profile.get("sodium_high_mmol_per_l"), 1),
            "hidden_sodium_mmol_per_l": _round(hidden_riders()[rider_id].whole_body_mmol_per_l, 1),
        }
        for rider_id, profile in last.items()
    ]


def server_audit(device: Any) -> Row:
    """Read the server's own forecast audit."""
    audits = device.bodies("forecast_audit")
    wanted = ("n_settled", "bias_l", "mean_absolute_error_l", "coverage_80_frac")
    return {key: audits[0][key] for key in wanted} if audits else {}


NOTICED_BY: dict[str, tuple[str, ...]] = {
    "above_losses": ("drank_above_losses",),
    "logs_nothing": ("nothing_noted", "unexplained_litres"),
    "scale_fault": ("weigh_again", "suspect_log"),
    "weak_mix": ("mix_too_weak",),
    "dry_days": ("dry_days_in_a_row",),
    "no_weigh_in": ("no_weigh_in",),
}
"""Flag codes and lane words that count as noticing each kind of trouble."""


def noticed(days: list[RiderDay]) -> list[Row]:
    """Tell for each planted trouble whether the records carried a word about it."""
    return [_noticed(trouble, days) for trouble in PLANTED]


def _said(day: RiderDay) -> set[str]:
    return day.flag_codes() | {record["lane"] for record in (day.proposed, day.settlement) if record}


def _noticed(trouble: Trouble, days: list[RiderDay]) -> Row:
    spoilt = [
        day for day in days if trouble.rider_id in ("", day.rider_id) and day.stage.number in trouble.stages
    ]
    said = {code for day in spoilt for code in _said(day)}
    wanted = set(NOTICED_BY[trouble.kind])
    elsewhere = [day for day in days if day not in spoilt and wanted & _said(day)]
    return {
        "trouble": trouble.kind, "rider": trouble.rider_id, "stages": list(trouble.stages), "what": trouble.what,
        "flag_fired": bool(said & wanted), "by": sorted(said & wanted), "all_flags": sorted(said),
        "rider_days_elsewhere_with_it": len(elsewhere), "rider_days_elsewhere": len(days) - len(spoilt),
    }
