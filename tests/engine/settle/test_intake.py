"""Bottles and notes settle what was drunk."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.intake import IntakeFacts, drunk_from_facts

SIX = (0.5,) * 6


def test_drunk_is_handed_up_less_came_back_poured_and_lost():
    estimate = drunk_from_facts(IntakeFacts(
        handed_up_l=SIX, came_back_l=(0.3, 0.1), came_back_evidence=("counted", "counted"), poured_l=(0.25,),
        lost_l=(0.4,),
    ))

    assert estimate.derived_l == pytest.approx(1.95)
    assert (estimate.proposed_l, estimate.evidence) == (estimate.derived_l, "counted")


def test_lines_that_agree_are_surer_together_than_alone():
    estimate = drunk_from_facts(IntakeFacts(handed_up_l=SIX, noted_l=(1.0, 1.8), noted_evidence=("tapped", "tapped")))

    assert estimate.is_in_agreement
    assert estimate.noted_l < estimate.proposed_l < estimate.derived_l
    assert estimate.proposed_sd_l < min(estimate.derived_sd_l, estimate.noted_sd_l)


def test_lines_that_disagree_keep_the_better_one_and_reach_the_other():
    estimate = drunk_from_facts(IntakeFacts(handed_up_l=SIX, noted_l=(0.5,), noted_evidence=("tapped",)))

    assert not estimate.is_in_agreement
    assert (estimate.proposed_l, estimate.evidence) == (3.0, "counted")
    assert estimate.proposed_l - estimate.proposed_sd_l <= estimate.noted_l


def test_a_weighed_note_beats_counted_bottles():
    estimate = drunk_from_facts(IntakeFacts(handed_up_l=SIX, noted_l=(1.2,), noted_evidence=("weighed",)))

    assert (estimate.proposed_l, estimate.evidence) == (1.2, "weighed")


def test_weighing_what_came_back_narrows_the_spread():
    by_eye = IntakeFacts(handed_up_l=SIX, came_back_l=(0.2,), came_back_evidence=("counted",))
    on_scale = IntakeFacts(handed_up_l=SIX, came_back_l=(0.2,), came_back_evidence=("weighed",))

    assert drunk_from_facts(on_scale).derived_sd_l < drunk_from_facts(by_eye).derived_sd_l


def test_nothing_noted_is_nothing_known():
    estimate = drunk_from_facts(IntakeFacts())

    assert (estimate.proposed_l, estimate.proposed_sd_l, estimate.evidence) == (0.0, 1.0, "default")


def test_more_back_than_up_proposes_nothing_below_zero():
    estimate = drunk_from_facts(IntakeFacts(handed_up_l=(0.5,), came_back_l=(0.7,), came_back_evidence=("counted",)))

    assert estimate.derived_l < 0.0
    assert estimate.proposed_l == 0.0


@pytest.mark.parametrize("facts", [
    IntakeFacts(handed_up_l=(-0.5,)),
    IntakeFacts(noted_l=(0.5,)),
    IntakeFacts(noted_l=(0.5,), noted_evidence=("guessed",)),
])
def test_a_volume_or_evidence_that_cannot_be_is_refused(facts):
    with pytest.raises(UnphysicalInput):
        drunk_from_facts(facts)
