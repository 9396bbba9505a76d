"""Two people agreeing at once: both figures stay visible until somebody chooses; and what a settlement would teach."""

import json
from math import exp
from pathlib import Path

import pytest
from brinebook.engine.settle.learn import FactorState, update_factor
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import Settlement
from brinebook.records.facts import BODY_BY_KIND
from planning.fakes import HOUR_MS, TEAM, stages_of, team

VECTORS = json.loads((Path(__file__).parent / "learn_vectors.json").read_text(encoding="utf-8"))
ALL = Changed(subject_ids=frozenset({"r1", "r2"}), kinds=frozenset(BODY_BY_KIND))


def _settled(repository):
    recompute(repository, TEAM, ALL)
    return repository.record("settlement:r1:s1", Settlement)


def _agree(facts, stage, drunk_l, **more):
    return facts.add("agreed", "r1", {"drunk_l": drunk_l, **more}, at_ms=stage.start_at_ms + 6 * HOUR_MS, stage_id="s1")


def _twice(**second):
    repository, facts = team(n_stages=2)
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.4)
    first = _agree(facts, stage, 2.8, over=[])
    _agree(facts, stage, 3.1, **{name: [first] if value == "first" else value for name, value in second.items()})
    return repository, facts, stage, first


def test_two_figures_agreed_unseen_are_flagged_with_the_other_figure():
    repository, *_ = _twice(over=[])
    found = [flag for flag in _settled(repository).flags if flag.code == "agreed_twice"]

    assert [(flag.value, flag.severity) for flag in found] == [(2.8, "caution")]


def test_a_figure_that_names_the_one_before_settles_it():
    repository, *_ = _twice(over="first")

    assert [flag.code for flag in _settled(repository).flags if flag.code == "agreed_twice"] == []


def test_a_figure_from_before_such_names_counts_as_having_seen_all():
    repository, *_ = _twice()

    assert [flag.code for flag in _settled(repository).flags if flag.code == "agreed_twice"] == []


def test_opening_again_clears_both_and_choosing_leaves_one():
    repository, facts, stage, _ = _twice(over=[])
    facts.add("reopened", "r1", {"reason": "x"}, at_ms=stage.start_at_ms + 7 * HOUR_MS, stage_id="s1")
    _agree(facts, stage, 3.0, over=[])

    settled = _settled(repository)

    assert settled.agreed_drunk_l == pytest.approx(3.0)
    assert "agreed_twice" not in {flag.code for flag in settled.flags}


def test_what_was_known_before_a_stage_predicts_what_agreeing_teaches():
    repository, facts = team(n_stages=2)
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.4)
    open_ = _settled(repository)
    sweat_l = open_.sweat_loss_l + 2.7 - open_.proposed_drunk_l
    told = update_factor(
        FactorState(open_.prior_log_mean, open_.prior_log_sd),
        model_l=open_.model_sweat_l * exp(open_.prior_offset_log),
        observed_l=sweat_l, observed_sd_l=open_.sweat_loss_sd_l, n_days_since=0.0,
    )

    facts.agree("r1", stage, 2.7)
    after = _settled(repository)

    assert after.sweat_loss_l == pytest.approx(sweat_l)
    assert after.factor_after == pytest.approx(exp(open_.prior_offset_log + told.state.log_mean))
    assert after.factor_before == pytest.approx(exp(open_.prior_offset_log + open_.prior_log_mean))


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_the_shared_vectors_of_learning_hold_here(vector):
    """The first is the published reconciliation check: prior 1 +- 0.20, 3.30 L by the model, 3.95 +- 0.218 L seen."""
    update = update_factor(
        FactorState(vector["log_mean"], vector["log_sd"]), model_l=vector["model_l"], observed_l=vector["observed_l"],
        observed_sd_l=vector["observed_sd_l"], n_days_since=0.0,
    )

    assert update.is_rejected is vector["is_rejected"]
    assert exp(update.state.log_mean) == pytest.approx(vector["factor"], abs=vector["tolerance"])
    assert update.state.log_sd == pytest.approx(vector["factor_log_sd"], abs=vector["tolerance"])
