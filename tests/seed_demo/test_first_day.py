"""The race lies on fixed days, so that every run prints the same; a demo may lay it around today."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from seed_demo import race
from seed_demo.serve_demo import DemoProblem, lay_race

NOW_MS = int(datetime(2026, 11, 26, 22, 30, tzinfo=UTC).timestamp() * 1000)
WINTER = "2026-10-20"
"""Summer time ends on the sixth day of a race that begins here."""


@pytest.fixture(autouse=True)
def _no_day_given(monkeypatch):
    monkeypatch.setenv(race.FIRST_DAY_VARIABLE, "")


def _starts() -> list[datetime]:
    zone = ZoneInfo(race.TIME_ZONE)
    return [datetime.fromtimestamp(stage.start_at_ms / 1000, zone) for stage in race.stages()]


def test_without_a_word_the_race_lies_in_july_2026():
    assert race.first_day() == race.FIRST_DAY
    assert _starts()[0].isoformat() == "2026-07-04T13:10:00+02:00"


def test_laid_elsewhere_every_stage_keeps_its_day_of_the_race_and_its_time_on_the_clock(monkeypatch):
    fixed = _starts()
    monkeypatch.setenv(race.FIRST_DAY_VARIABLE, WINTER)
    laid = _starts()

    assert laid[0].date().isoformat() == WINTER
    assert [one.date() - laid[0].date() for one in laid] == [one.date() - fixed[0].date() for one in fixed]
    assert [one.time() for one in laid] == [one.time() for one in fixed]
    assert {one.utcoffset() for one in laid} != {one.utcoffset() for one in fixed}


def test_a_new_folder_begins_today_where_the_race_is_and_stays_there_on_later_days(tmp_path):
    data = tmp_path / "team"
    lay_race(data, now_ms=NOW_MS, is_today=True, is_play=False)
    assert race.first_day().date().isoformat() == "2026-11-26"

    lay_race(data, now_ms=NOW_MS + 40 * 86_400_000, is_today=True, is_play=False)
    assert race.first_day().date().isoformat() == "2026-11-26"


def test_a_play_has_been_ridden_by_today(tmp_path):
    lay_race(tmp_path / "play", now_ms=NOW_MS, is_today=True, is_play=True)

    assert _starts()[-1].date().isoformat() == "2026-11-25"


def test_a_folder_with_a_race_in_it_is_not_laid_elsewhere(tmp_path):
    (tmp_path / "seed-token").write_text("x")

    with pytest.raises(DemoProblem, match="July 2026 already"):
        lay_race(tmp_path, now_ms=NOW_MS, is_today=True, is_play=False)
    assert not (tmp_path / "first-day").exists()
    assert race.first_day() == race.FIRST_DAY
