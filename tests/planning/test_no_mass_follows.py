"""What a coach can read is put through the algebra: no body mass comes out of any pair of figures."""

import msgspec
import numpy as np
import pytest
from brinebook.access.disclosure import DOCUMENT_READERS
from brinebook.planning.lane import size_kg
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.edited import RiderBody
from planning.fakes import TEAM, stages_of, team

MASSES_KG = {"r1": 55.7, "r2": 62.9, "r3": 66.6, "r4": 74.6, "r5": 79.3}
CONSTANTS = (1.0, 0.01, 0.02, 0.03, 0.005, 0.4, 0.5, 0.6, 0.73, 0.8, 1.05, 2.0, 10.0, 100.0, 1000.0)
"""The fractions of a body that our own arithmetic knows (kerbs, dry mornings, body water), and powers of ten."""
NEAR_KG = 1.0
MOST_RIDERS = 4
pytestmark = pytest.mark.filterwarnings("ignore:Mean of empty slice:RuntimeWarning")


@pytest.fixture(scope="module")
def stored():
    """A race of riders who sweat alike and differ in mass, two of its stages ridden, weighed and settled."""
    repository, facts = team(n_stages=4, n_riders=len(MASSES_KG))
    for rider_id, mass_kg in MASSES_KG.items():
        body = RiderBody(id=rider_id, mass_kg=mass_kg, height_m=1.79, age_years=26, sex="m", version=1)
        repository.put_edited(TEAM, body)
        for stage_id, lost_kg in (("s1", 1.13), ("s2", 1.61)):
            stage = stages_of(repository)[stage_id]
            facts.ride_a_stage(rider_id, stage, before_kg=mass_kg, after_kg=mass_kg - lost_kg, agreed_l=2.9)
    recompute(repository, TEAM, Changed(subject_ids=frozenset(MASSES_KG), edited_types=frozenset({"stage"})))
    return repository.heads


def figures(value, path=""):
    """Yield every number below a decoded document, each under the path it stands at."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return
    if isinstance(value, int | float):
        yield path, float(value)
        return
    for key, one in value.items() if isinstance(value, dict) else enumerate(value):
        yield from figures(one, f"{path}/{key}")


def told(stored, rider_id, types):
    """Gather a rider's figures of each stage: of long lists the first, the middle and the last entries do."""
    by_stage = {}
    for one in stored.values():
        if one.type not in types or one.subject_id != rider_id:
            continue
        body = msgspec.json.decode(one.body)
        for name in ("along", "sweat_quantiles_l"):
            if name in body:
                body[name] = [body[name][0], body[name][len(body[name]) // 2], body[name][-1]]
        found = by_stage.setdefault(body.get("stage_id", ""), {})
        found.update({f"{one.type}{path}": value for path, value in figures(body)})
    return by_stage


def recipes(stored, types):
    """
    Name the recipes that give most riders' masses, by the mean over stages.

    A recipe is a pair of places and a way to combine them: an attacker would use the same for every rider.
    """
    per_rider = [told(stored, rider_id, types) for rider_id in MASSES_KG]
    paths = sorted({path for by_stage in per_rider for found in by_stage.values() for path in found})
    stages = sorted({stage_id for by_stage in per_rider for stage_id in by_stage})
    table = np.array([[[by_stage.get(stage_id, {}).get(path, np.nan) for stage_id in stages] for by_stage in per_rider]
                      for path in paths])
    masses = np.array(list(MASSES_KG.values()))
    hits = []
    for a, one in enumerate(table):
        for how, combined in (("a-b", one - table), ("a+b", one + table), ("a*b", one * table),
                              ("a/b", one / np.where(table == 0.0, np.nan, table))):
            mean = np.nanmean(np.abs(combined), axis=2)
            for scale in (*CONSTANTS, *(1.0 / k for k in CONSTANTS)):
                n_near = (np.abs(mean * scale - masses) < NEAR_KG).sum(axis=1)
                hits += [(paths[a], how, paths[b], scale) for b in np.flatnonzero(n_near >= MOST_RIDERS)]
    return hits


def read_by_coach():
    return {type_ for type_, readers in DOCUMENT_READERS.items() if "coach" in readers.roles}


def test_the_full_records_do_tell_the_mass_so_the_algebra_can_find_it(stored):
    found = recipes(stored, {"stage_plan", "stage_forecast"})

    assert ("stage_forecast/sweat_q50_l", "a-b", "stage_plan/lane_low_l", 50.0) in found
    assert len(found) > MOST_RIDERS


def test_no_pair_of_figures_a_coach_can_read_tells_a_mass(stored):
    types = read_by_coach()

    assert {"plan_summary", "forecast_summary", "settlement_summary", "bottle_sheet"} <= types
    assert recipes(stored, types) == []


def test_no_exact_figure_of_the_body_is_in_what_a_coach_reads(stored):
    words = ("sweat", "mass", "power", "kcal", "predicted", "deficit", "respiratory", "factor", "lane_low")
    secret = {
        value for one in stored.values() if one.type in {"stage_forecast", "stage_plan", "settlement"}
        for path, value in figures(msgspec.json.decode(one.body))
        if any(word in path for word in words) and "explained" not in path and value != round(value, 2)
    }
    read = {
        f"{one.id}{path}": value for one in stored.values() if one.type in read_by_coach()
        for path, value in figures(msgspec.json.decode(one.body))
    }

    assert len(secret) > 100
    assert {path for path, value in read.items() if value in secret} == set()


def test_bodies_of_one_size_class_get_the_same_dry_kerb():
    classes = {size_kg(mass_kg) for mass_kg in (52.1, 55.7, 58.0, 63.9)}

    assert classes == {size_kg(58.0)}
    assert max(abs(size_kg(mass_kg / 10) - mass_kg / 10) for mass_kg in range(400, 1100)) <= 6.0
