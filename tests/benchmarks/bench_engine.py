"""What the engine costs: ``python -m pytest -s tests/benchmarks/bench_engine.py`` prints every number."""

import os
import time
from types import SimpleNamespace

import numpy as np
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.loss.predicted_heat_strain import HeatExposure, predicted_heat_strain_iso7933_2023
from brinebook.engine.loss.sweat_forecast import RiderState, sweat_forecast
from brinebook.engine.settle.learn import FactorState, update_factor
from pythermalcomfort.models import phs

N_RIDERS, N_STAGES, N_DRAWS, N_SEGMENTS = 8, 21, 1024, 60
FORECAST_BUDGET_S = 2.0
N_CASES = 10_000
MET_W_PER_M2 = 58.15


def _seconds(work, *, n_runs=3):
    """Return the shortest of some runs: the machine is shared, and only ever makes a run longer."""
    times = []
    for _ in range(n_runs):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def _stage(seed):
    random = np.random.default_rng(seed)
    duration_h = random.uniform(0.04, 0.12, N_SEGMENTS)
    air_c = np.full(N_SEGMENTS, random.uniform(12.0, 38.0))
    return SimpleNamespace(
        duration_h=duration_h, power_w=random.uniform(0.0, 380.0, N_SEGMENTS), air_temperature_c=air_c,
        relative_humidity_frac=np.full(N_SEGMENTS, random.uniform(0.2, 0.8)),
        air_speed_m_per_s=random.uniform(3.0, 14.0, N_SEGMENTS),
        radiant_temperature_c=air_c + random.uniform(0.0, 35.0, N_SEGMENTS),
    )


def test_a_race_of_forecasts_for_a_team_fits_its_budget():
    stages = [_stage(seed) for seed in range(N_STAGES)]
    riders = [RiderState(60.0 + 2.0 * place, 1.78, 0.22, 0.02 * place, 0.2, 0.05, 40.0, 9.0)
              for place in range(N_RIDERS)]
    sweat_forecast(stages[0], riders[0], n_draws=N_DRAWS)

    took_s = _seconds(
        lambda: [sweat_forecast(stage, rider, n_draws=N_DRAWS) for stage in stages for rider in riders])

    print(f"\n{N_RIDERS} riders x {N_STAGES} stages x {N_DRAWS} draws x {N_SEGMENTS} segments: {took_s:.2f} s "
          f"of {FORECAST_BUDGET_S:.1f} s, {1000.0 * took_s / N_RIDERS / N_STAGES:.1f} ms a forecast, "
          f"load {os.getloadavg()[0]:.1f}")
    assert took_s <= FORECAST_BUDGET_S


def test_iso_7933_on_ten_thousand_cases_is_ahead_of_the_compiled_library():
    random = np.random.default_rng(7933)
    air_c = random.uniform(15.0, 50.0, N_CASES)
    saturated_kpa = saturation_pressure_kpa(air_c)
    exposure = HeatExposure(
        air_temperature_c=air_c, radiant_temperature_c=air_c + random.uniform(0.5, 60.0, N_CASES),
        vapour_pressure_kpa=random.uniform(0.5, np.minimum(4.5, 0.99 * saturated_kpa)),
        air_speed_m_per_s=random.uniform(0.0, 3.0, N_CASES),
        metabolic_rate_w_per_m2=random.uniform(56.0, 250.0, N_CASES), clothing_clo=random.uniform(0.1, 1.0, N_CASES),
    )

    def ours():
        return predicted_heat_strain_iso7933_2023(exposure)

    def theirs():
        return phs(
            tdb=air_c, tr=exposure.radiant_temperature_c, v=exposure.air_speed_m_per_s,
            rh=exposure.vapour_pressure_kpa / saturated_kpa * 100.0,
            met=exposure.metabolic_rate_w_per_m2 / MET_W_PER_M2, clo=exposure.clothing_clo, posture="standing",
            model="7933-2023", round_output=False, limit_inputs=False,
        )

    np.testing.assert_allclose(ours().water_loss_g, theirs().sweat_loss_g, rtol=0.02)
    # In turns, so that a busy machine bears on both alike.
    pairs = [(_seconds(ours, n_runs=1), _seconds(theirs, n_runs=1)) for _ in range(4)]
    ours_s, theirs_s = (min(column) for column in zip(*pairs, strict=True))

    print(f"\nISO 7933:2023, {N_CASES} cases x 480 min: ours {ours_s:.2f} s, pythermalcomfort (numba, all cores) "
          f"{theirs_s:.2f} s, ratio {theirs_s / ours_s:.2f}, load {os.getloadavg()[0]:.1f}")
    assert ours_s < theirs_s


def test_learning_from_a_weighing_costs_less_than_a_tenth_of_a_millisecond():
    state = FactorState(0.0, 0.25)
    n = 2000

    took_s = _seconds(
        lambda: [update_factor(state, model_l=4.0, observed_l=4.4, observed_sd_l=0.3) for _ in range(n)])

    print(f"\none update of a rider's factor: {1e6 * took_s / n:.0f} us")
    assert took_s / n < 1e-4
