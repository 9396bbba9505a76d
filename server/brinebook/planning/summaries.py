"""Forecasts, plans and settlements cut down to what follows from no mass, and from which no mass follows."""

from math import ceil, floor

from msgspec.structs import replace

from brinebook.planning.basis import basis_of
from brinebook.planning.lane import LaneWord
from brinebook.records.derived import Flag, ProfilePoint, Reason, Settlement, StageForecast, StagePlan
from brinebook.records.summaries import ForecastSummary, PlanSummary

FORECAST, FORECAST_SUMMARY = "stage_forecast:", "forecast_summary:"
PLAN, PLAN_SUMMARY = "stage_plan:", "plan_summary:"
CUT = "cut:2"
"""How records are cut; raised whenever they are cut otherwise, so that what is stored is cut again."""
LOSS_STEP_L = 0.5
"""A bottle. The band is rounded outwards, so that it is as true as the forecast and has no exact middle."""
SHARE_DIGITS = 2
CUP_DIGITS = 1
"""A plan that meets its target to the last digit would tell what the target follows from."""
TIME_STEP_H = 0.25
CHANGE_STEP_FRAC = 0.01
BOTTLE_FIGURES = frozenset({"plan_water", "plan_sodium", "plan_carbohydrate", "plan_bottles"})
SETTLED_FIGURES = frozenset({"derived", "noted", "drunk"})


def _in_words(flags: list[Flag]) -> list[Flag]:
    return [replace(flag, value=None, limit=None) for flag in flags]


def _without_figures(reasons: list[Reason]) -> list[Reason]:
    return [one if one.code in BOTTLE_FIGURES else replace(one, before=None, after=None) for one in reasons]


def forecast_summary_of(forecast: StageForecast) -> ForecastSummary:
    """
    Say a forecast in bottles.

    Along the road each point is a rounded share of the rounded whole: true figures by kilometre would tell where the
    loss passes each half litre, and so the loss itself.
    """
    low_l = floor(forecast.sweat_q10_l / LOSS_STEP_L) * LOSS_STEP_L
    high_l = ceil(forecast.sweat_q90_l / LOSS_STEP_L) * LOSS_STEP_L
    return ForecastSummary(
        id=forecast.id.replace(FORECAST, FORECAST_SUMMARY, 1), rider_id=forecast.rider_id,
        basis=basis_of(CUT, forecast.id), flags=_in_words(forecast.flags), reasons=_without_figures(forecast.reasons),
        stage_id=forecast.stage_id, stage_number=forecast.stage_number, stage_kind=forecast.stage_kind,
        duration_h=_to_quarter_h(forecast.duration_h), sweat_q10_l=low_l, sweat_q50_l=(low_l + high_l) / 2.0,
        sweat_q90_l=high_l, wbgt_max_c=forecast.wbgt_max_c, air_temperature_max_c=forecast.air_temperature_max_c,
        along=[_shared(point, forecast.sweat_q50_l, (low_l, high_l)) for point in forecast.along],
    )


def _to_quarter_h(hours: float) -> float:
    return round(hours / TIME_STEP_H) * TIME_STEP_H


def _shared(point: ProfilePoint, whole_l: float, band_l: tuple[float, float]) -> ProfilePoint:
    share = round(point.sweat_q50_l / whole_l, SHARE_DIGITS) if whole_l > 0.0 else 0.0
    low_l, high_l = (share * end_l for end_l in band_l)
    return ProfilePoint(
        point.km, point.elevation_m, _to_quarter_h(point.elapsed_h), low_l, (low_l + high_l) / 2.0, high_l,
        point.air_temperature_c,
    )


def plan_summary_of(plan: StagePlan) -> PlanSummary:
    """Keep a plan's bottles; what it aims at follows from a mass, so it stays out, and limits are said in words."""
    return PlanSummary(
        id=plan.id.replace(PLAN, PLAN_SUMMARY, 1), rider_id=plan.rider_id,
        basis=basis_of(CUT, f"{plan.id}@{plan.plan_version}"), flags=_in_words(plan.flags),
        reasons=_without_figures(plan.reasons), stage_id=plan.stage_id, stage_number=plan.stage_number,
        status=plan.status, plan_version=plan.plan_version, supersedes=plan.supersedes,
        water_l=round(plan.water_l, CUP_DIGITS), sodium_mg=plan.sodium_mg, carbohydrate_g=plan.carbohydrate_g,
        steps=plan.steps, along=[(point.km, point.intake_l) for point in plan.along],
        binding_limits=plan.binding_limits, heat=plan.heat, changed=_without_figures(plan.changed),
    )


def settlement_summary_of(settlement: Settlement, *, lane: LaneWord) -> Settlement:
    """Leave out every mass and every loss; the change of mass is told in whole percent, the lane by size class."""
    change = settlement.body_mass_change_frac
    return replace(
        settlement,
        id=settlement.id.replace("settlement:", "settlement_summary:", 1),
        basis=basis_of(settlement.id),
        flags=_in_words(settlement.flags),
        explained=[],
        reasons=[reason for reason in settlement.reasons if reason.code in SETTLED_FIGURES],
        lane=lane,
        body_mass_change_frac=None if change is None else round(change / CHANGE_STEP_FRAC) * CHANGE_STEP_FRAC,
        mass_before_kg=None, mass_after_kg=None, food_kg=0.0, urine_l=0.0, sweat_loss_l=None, sweat_loss_sd_l=None,
        predicted_q10_l=None, predicted_q50_l=None, predicted_q90_l=None,
        sodium_lost_mg=None, deficit_l=None, model_sweat_l=None, forecast_rank_frac=None,
        factor_before=None, factor_after=None, prior_log_mean=None, prior_log_sd=None, prior_offset_log=None,
    )
