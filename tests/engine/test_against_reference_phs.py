"""ISO 7933 against pythermalcomfort (MIT) on 400 random inputs inside Annex A per edition."""

from dataclasses import replace

import numpy as np
import pytest
from brinebook.engine.constants.heat_strain import EDITION_2004, EDITION_2023
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss.clothed_exchange import Surroundings, clothed_exchange, clothing_temperature_c
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.loss.predicted_heat_strain import (
    HeatExposure,
    heat_strain_violations,
    predicted_heat_strain_iso7933_2004,
    predicted_heat_strain_iso7933_2023,
)
from pythermalcomfort.models import phs
from pythermalcomfort.psychrometrics import p_sat

N = 400
MET_W_PER_M2 = 58.15
POSTURES = np.array(["standing", "sitting", "crouching"])
EDITIONS = {
    "7933-2004": (predicted_heat_strain_iso7933_2004, EDITION_2004),
    "7933-2023": (predicted_heat_strain_iso7933_2023, EDITION_2023),
}


def _exposure(edition, *, seed, **fixed):
    random = np.random.default_rng(seed)
    low, high = (
        {name: span[side] for name, span in edition.ranges.items()} for side in (0, 1)
    )
    air = random.uniform(low["air_temperature_c"], high["air_temperature_c"], N)
    wettest = np.minimum(high["vapour_pressure_kpa"], 0.99 * saturation_pressure_kpa(air))
    return HeatExposure(
        air_temperature_c=air,
        radiant_temperature_c=air + random.uniform(0.5, high["radiant_excess_c"], N),
        vapour_pressure_kpa=random.uniform(low["vapour_pressure_kpa"], wettest),
        air_speed_m_per_s=random.uniform(0.0, high["air_speed_m_per_s"], N),
        metabolic_rate_w_per_m2=random.uniform(low["metabolic_rate_w_per_m2"], high["metabolic_rate_w_per_m2"], N),
        clothing_clo=random.uniform(low["clothing_clo"], high["clothing_clo"], N),
        posture=POSTURES[random.integers(0, 3, N)].tolist(),
        **fixed,
    )


def _theirs(exposure, model):
    air = exposure.air_temperature_c
    saturated = p_sat(air) / 1000.0 if model == "7933-2004" else 0.6105 * np.exp(17.27 * air / (air + 237.3))
    return phs(
        tdb=air, tr=exposure.radiant_temperature_c, v=exposure.air_speed_m_per_s,
        rh=exposure.vapour_pressure_kpa / saturated * 100.0, met=exposure.metabolic_rate_w_per_m2 / MET_W_PER_M2,
        clo=exposure.clothing_clo, posture=list(exposure.posture), model=model, round_output=False,
        limit_inputs=False, acclimatized=100 if exposure.is_acclimatised else 0, duration=exposure.duration_min,
        walk_sp=exposure.walk_m_per_s, theta=exposure.wind_angle_deg,
    )


@pytest.mark.parametrize("model", list(EDITIONS))
@pytest.mark.parametrize("fixed", [
    {}, {"is_acclimatised": False}, {"walk_m_per_s": 1.2, "wind_angle_deg": 60.0}, {"duration_min": 90},
], ids=["acclimatised", "not_acclimatised", "walking", "90_minutes"])
def test_with_the_same_body_heat_both_give_the_same_strain(model, fixed):
    ours, edition = EDITIONS[model]
    exposure = _exposure(edition, seed=7933, **fixed)

    found = ours(exposure, edition=replace(edition, body_heat_w_min_per_kg_k=MET_W_PER_M2))
    theirs = _theirs(exposure, model)

    # Their iterations stop at 0.001 K a minute; ours are solved.
    np.testing.assert_allclose(found.rectal_c, theirs.t_re, atol=0.02)
    np.testing.assert_allclose(found.core_c, theirs.t_cr, atol=0.02)
    np.testing.assert_allclose(found.skin_c, theirs.t_sk, atol=0.02)
    np.testing.assert_allclose(found.water_loss_g, theirs.sweat_loss_g, atol=3.0)
    for mine, other in ((found.rectal_limit_min, theirs.d_lim_t_re), (found.mean_loss_limit_min, theirs.d_lim_loss_50),
                        (found.cautious_loss_limit_min, theirs.d_lim_loss_95)):
        assert np.mean(np.abs(mine - other) <= 1.0) >= 0.99


@pytest.mark.parametrize("model", list(EDITIONS))
def test_the_standard_s_own_body_heat_moves_the_strain_by_little(model):
    ours, edition = EDITIONS[model]
    exposure = _exposure(edition, seed=57)

    found, theirs = ours(exposure), _theirs(exposure, model)

    np.testing.assert_allclose(found.rectal_c, theirs.t_re, atol=0.1)
    np.testing.assert_allclose(found.water_loss_g, theirs.sweat_loss_g, rtol=0.01)


def test_an_array_gives_what_a_loop_of_scalars_gives():
    exposure = replace(_exposure(EDITION_2004, seed=3), posture="standing")
    together = predicted_heat_strain_iso7933_2004(exposure).water_loss_g

    columns = ("air_temperature_c", "radiant_temperature_c", "vapour_pressure_kpa", "air_speed_m_per_s",
               "metabolic_rate_w_per_m2", "clothing_clo")
    alone = [
        float(predicted_heat_strain_iso7933_2004(
            replace(exposure, **{name: float(getattr(exposure, name)[case]) for name in columns})
        ).water_loss_g)
        for case in range(6)
    ]

    np.testing.assert_allclose(together[:6], alone, rtol=1e-12)


def test_a_refusal_names_the_quantity_and_the_places():
    exposure = _exposure(EDITION_2023, seed=5)
    speed = exposure.air_speed_m_per_s.copy()
    speed[[2, 9]] = 11.1

    with pytest.raises(UnphysicalInput) as refused:
        predicted_heat_strain_iso7933_2023(replace(exposure, air_speed_m_per_s=speed))

    assert (refused.value.name, refused.value.indices) == ("air_speed_m_per_s", (2, 9))


def test_what_is_out_of_range_can_be_asked_for_without_a_refusal():
    rider = HeatExposure(
        air_temperature_c=32.0, radiant_temperature_c=32.0, vapour_pressure_kpa=2.4, air_speed_m_per_s=11.1,
        metabolic_rate_w_per_m2=541.0, clothing_clo=0.33,
    )

    found = heat_strain_violations(rider, edition=EDITION_2004)

    assert [violation.quantity for violation in found] == ["air_speed_m_per_s", "metabolic_rate_w_per_m2"]
    assert heat_strain_violations(_exposure(EDITION_2004, seed=1), edition=EDITION_2004) == ()


def test_without_drink_the_limits_come_sooner():
    exposure = _exposure(EDITION_2004, seed=11)
    dry = replace(exposure, is_drinking=False)

    for ours in (predicted_heat_strain_iso7933_2004, predicted_heat_strain_iso7933_2023):
        inside = replace if ours is predicted_heat_strain_iso7933_2004 else _milder
        wet_limit, dry_limit = (ours(inside(case)).cautious_loss_limit_min for case in (exposure, dry))
        assert (dry_limit <= wet_limit).all()
        assert (dry_limit < wet_limit).any()


def _milder(exposure):
    return replace(
        exposure, metabolic_rate_w_per_m2=np.clip(exposure.metabolic_rate_w_per_m2, 56.0, 250.0),
        vapour_pressure_kpa=np.clip(exposure.vapour_pressure_kpa, 0.5, 4.5),
    )


@pytest.mark.parametrize("wrong", [{"posture": "lying"}, {"duration_min": 0}, {"mass_kg": 0.0},
                                   {"vapour_pressure_kpa": float("nan")}])
def test_an_impossible_exposure_is_refused(wrong):
    good = HeatExposure(
        air_temperature_c=40.0, radiant_temperature_c=40.0, vapour_pressure_kpa=2.5, air_speed_m_per_s=0.3,
        metabolic_rate_w_per_m2=150.0, clothing_clo=0.5,
    )

    with pytest.raises(UnphysicalInput):
        predicted_heat_strain_iso7933_2004(replace(good, **wrong))


@pytest.mark.parametrize("model", list(EDITIONS))
def test_every_corner_of_annex_a_gives_finite_numbers(model):
    ours, edition = EDITIONS[model]
    air, excess, speed, rate, clo = (
        column.ravel() for column in np.meshgrid(*(
            edition.ranges[name] for name in ("air_temperature_c", "radiant_excess_c", "air_speed_m_per_s",
                                              "metabolic_rate_w_per_m2", "clothing_clo")
        ))
    )
    for vapour_kpa in edition.ranges["vapour_pressure_kpa"]:
        strain = ours(HeatExposure(
            air_temperature_c=air, radiant_temperature_c=air + excess, air_speed_m_per_s=speed,
            metabolic_rate_w_per_m2=rate, clothing_clo=clo,
            vapour_pressure_kpa=np.minimum(vapour_kpa, saturation_pressure_kpa(air)),
        ))
        for name in strain.__slots__:
            assert np.isfinite(getattr(strain, name)).all(), name
        assert (strain.water_loss_g > 0.0).all()


def test_the_cloth_passes_on_just_what_the_skin_gives_it():
    exposure = _exposure(EDITION_2023, seed=17)
    n = exposure.air_temperature_c.size
    body = clothed_exchange(Surroundings(
        exposure.air_temperature_c, exposure.radiant_temperature_c, exposure.vapour_pressure_kpa,
        exposure.air_speed_m_per_s, exposure.metabolic_rate_w_per_m2, exposure.clothing_clo, np.zeros(n), np.zeros(n),
        np.full(n, 0.77), np.full(n, 0.54),
    ), EDITION_2023)
    skin = np.full(n, 35.0)

    first = clothing_temperature_c(exposure.radiant_temperature_c, skin_c=skin, body=body,
                                   convection_w_per_m2_k=body.forced_w_per_m2_k, n_steps=8)
    later = clothing_temperature_c(first, skin_c=skin + 0.3, body=body,
                                   convection_w_per_m2_k=body.forced_w_per_m2_k, n_steps=2)

    for cloth, inner in ((first, skin), (later, skin + 0.3)):
        by_air = body.forced_w_per_m2_k * (cloth - exposure.air_temperature_c)
        by_walls = body.radiation_w_per_m2_k4 * ((cloth + 273.0) ** 4 - body.radiant_k4)
        given = (inner - cloth) / body.cloth_m2_k_per_w
        np.testing.assert_allclose(body.clothing_area_frac * (by_air + by_walls), given, atol=1e-8)
