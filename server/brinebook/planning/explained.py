"""Each main figure of a record, opened: what the engine says of it, with how each input is known."""

from collections.abc import Iterable
from math import exp

import numpy as np
from msgspec import convert

from brinebook.engine.explain import (
    Explanation,
    Given,
    balance_explained,
    chain_range,
    evening_explained,
    factor_explained,
    plan_explained,
    sodium_explained,
    stage_loss_explained,
)
from brinebook.engine.loss.sweat_forecast import SweatForecast
from brinebook.engine.plan.balance import PlanTargets
from brinebook.engine.plan.rehydration import EveningPlan
from brinebook.engine.stage.segments import SegmentTable
from brinebook.planning.standing import Standing
from brinebook.planning.weighing import Loss, Masses
from brinebook.records.common import Evidence
from brinebook.records.explained import Explained, ExplainedInput, ValidRange

DAY_MS = 86_400_000


def explained(made: Iterable[Explanation]) -> list[Explained]:
    """Write down what the engine says of its results."""
    return [
        Explained(
            quantity=one.quantity, value=one.value, equation=one.equation, sources=list(one.sources),
            inputs=[
                ExplainedInput(quantity=given.quantity, value=given.value, evidence=convert(given.evidence, Evidence),
                               source=given.source)
                for given in one.inputs
            ],
            valid=[ValidRange(quantity=met.quantity, low=met.low, high=met.high, value=met.value)
                   for met in one.valid],
        )
        for one in made
    ]


def profile_explained(standing: Standing) -> list[Explained]:
    """Open a rider's sodium and factor."""
    known, learnt = standing.sodium, standing.learnt
    estimate = known.estimate
    tests = [
        Given("test_weight_frac", weight, "measured", "sodium_estimator") for weight in estimate.weights_frac
    ] + ([Given("forearm_sodium_mmol_per_l", estimate.forearm_median_mmol_per_l, "measured", "baker2016")]
         if known.n_tests else [])
    return explained([
        sodium_explained(
            estimate.mean_mmol_per_l, tests=tests, forearm_mmol_per_l=estimate.forearm_median_mmol_per_l
        ),
        factor_explained(
            factor_of(standing), offset_log=learnt.offset_log, n_weighed=learnt.n_used, log_sd=learnt.state.log_sd
        ),
    ])


def factor_of(standing: Standing) -> float:
    """Return the median factor on the chain, team offset included."""
    return exp(standing.learnt.offset_log + standing.learnt.state.log_mean)


def forecast_explained(standing: Standing, segments: SegmentTable, forecast: SweatForecast) -> list[Explained]:
    """Open the likely loss of a stage. A forecast reaches people who may not know the body: its mass has no value."""
    hours = segments.duration_h
    mean = {
        name: float(column @ hours / hours.sum())
        for name, column in (
            ("power_w", segments.power_w), ("air_temperature_c", segments.air_temperature_c),
            ("relative_humidity_frac", segments.relative_humidity_frac),
            ("air_speed_m_per_s", segments.air_speed_m_per_s),
            ("radiant_temperature_c", segments.radiant_temperature_c),
        )
    }
    body = standing.body
    efficiency: Evidence = "default" if body.gross_efficiency_frac is None else "measured"
    inputs = [
        Given("power_w", mean["power_w"], "predicted", "vogt2007"),
        Given("duration_h", float(hours.sum()), "predicted", "martin1998"),
        Given("air_temperature_c", mean["air_temperature_c"], "predicted"),
        Given("relative_humidity_frac", mean["relative_humidity_frac"], "predicted"),
        Given("air_speed_m_per_s", mean["air_speed_m_per_s"], "predicted", "own_defaults"),
        Given("radiant_temperature_c", mean["radiant_temperature_c"], "predicted", "dinapoli2020"),
        Given("mass_kg", None, "weighed"),
        Given("gross_efficiency_frac", None, efficiency, "lucia2002"),
        Given("sweat_factor", factor_of(standing), "weighed" if standing.learnt.n_used else "default",
              "reconciliation"),
    ]
    met = [
        chain_range(name, lowest_u=float(np.min(column)), highest_u=float(np.max(column)))
        for name, column in (
            ("power_w", segments.power_w), ("air_temperature_c", segments.air_temperature_c),
            ("air_speed_m_per_s", segments.air_speed_m_per_s),
        )
    ]
    return explained([
        stage_loss_explained(float(forecast.cumulative_quantiles_l[1, -1]), inputs=inputs, met=met)
    ])


def stage_plan_explained(
    standing: Standing, *, sweat_q10_l: float, sweat_q50_l: float, aim: PlanTargets, plasma_low: float, deficit: float
) -> list[Explained]:
    """Open a plan's targets and the limits it may not cross."""
    sodium = standing.sodium
    return explained(plan_explained(
        water_l=aim.water_l, water_limit_l=sweat_q10_l, sodium_mg=aim.sodium_mg, plasma_low_mmol_per_l=plasma_low,
        deficit_frac=deficit,
        inputs=[
            Given("sweat_q10_l", sweat_q10_l, "predicted", "sweat_chain"),
            Given("sweat_q50_l", sweat_q50_l, "predicted", "sweat_chain"),
            Given("replaced_frac", aim.replaced_frac, "predicted", "mosler2020"),
            Given("sodium_share_frac", aim.sodium_share_frac, "predicted", "nguyen_kurtz2005"),
            Given("sweat_sodium_mmol_per_l", sodium.estimate.mean_mmol_per_l,
                  "measured" if sodium.n_tests else "default", "sodium_estimator"),
            Given("mass_kg", None, "weighed"),
        ],
    ))


def settlement_explained(
    loss: Loss | None, masses: Masses, *, drunk: Given, food_kg: float, energy: Given, model_l: float
) -> list[Explained]:
    """Open the sweat of a settled stage; nothing while a mass is missing."""
    if loss is None:
        return []
    return explained([balance_explained(
        loss.sweat_l, model_l=model_l,
        inputs=[
            Given("mass_before_kg", masses.before_kg, "weighed"),
            Given("mass_after_kg", masses.after_kg, "weighed"),
            drunk,
            Given("food_kg", food_kg, "counted"),
            Given("urine_l", masses.urine_l, "recalled"),
            *_by_other_ways(masses),
            energy,
        ],
    )])


def evening_drink_explained(made: EveningPlan, *, deficit_l: float, owed_mg: float, hours_h: float) -> list[Explained]:
    """Open what to drink in the evening; nothing where nothing is owed."""
    if deficit_l <= 0.0:
        return []
    return explained([evening_explained(
        made.drink_l, ratio_frac=made.drink_l / deficit_l,
        inputs=[
            Given("deficit_l", deficit_l, "weighed", "reconciliation"),
            Given("sodium_owed_mg", owed_mg, "weighed", "sodium_estimator"),
            Given("hours_to_next_start_h", hours_h, "predicted"),
        ],
    )])


def _by_other_ways(masses: Masses) -> list[Given]:
    """Name what else left or stayed on the scale, where there was any."""
    if masses.after is None:
        return []
    body = masses.after.body
    given = (("kit_sweat_kg", body.kit_sweat_kg), ("stool_kg", body.stool_kg))
    return [Given(name, value, "weighed") for name, value in given if value]
