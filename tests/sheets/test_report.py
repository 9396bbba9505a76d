"""The evening report: every rider once, warnings first, nothing for those who may not see the body."""

import pypdfium2
import pytest
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.edited import Member
from brinebook.records.facts import BODY_BY_KIND
from brinebook.sheets.errors import NothingToPrint
from brinebook.sheets.printing import Printer, Wanted
from planning.fakes import TEAM, stages_of, team

NOW_MS = 1_782_160_000_000


@pytest.fixture(scope="module")
def evening():
    repository, facts = team(n_stages=2)
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.4, agreed_l=2.8)
    facts.ride_a_stage("r2", stage, before_kg=69.0, after_kg=69.8, agreed_l=2.9)
    recompute(repository, TEAM, Changed(subject_ids=frozenset({"r1", "r2"}), kinds=frozenset(BODY_BY_KIND)))
    repository.edited = lambda _team, type_, id_: repository.edited_records.get((type_.__name__, id_))
    repository.document = lambda _team, id_: repository.heads.get(id_)
    return repository


def _printer(evening, role):
    return Printer(evening, TEAM, Member(id="m", name="M", role=role), Wanted())


def _text(body: bytes) -> str:
    document = pypdfium2.PdfDocument(body)
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())


def test_the_report_holds_every_rider_and_says_the_gravest_first(evening):
    said = _text(_printer(evening, "doctor").report("s1", printed_at_ms=NOW_MS))

    assert "Rider 1" in said
    assert "More was drunk than lost." in said
    assert "Tell the team physician." in said
    assert said.index("More was drunk than lost.") < said.index("Agreed drunk")
    assert "2 of 2 riders settled" in said


def test_those_who_may_not_see_the_body_get_no_report(evening):
    for role in ("soigneur", "car", "coach"):
        with pytest.raises(NothingToPrint):
            _printer(evening, role).report("s1", printed_at_ms=NOW_MS)


def test_a_stage_nobody_noted_anything_on_is_no_report(evening):
    with pytest.raises(NothingToPrint):
        _printer(evening, "physiologist").report("s2", printed_at_ms=NOW_MS)
