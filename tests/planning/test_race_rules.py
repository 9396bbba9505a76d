"""The sport's rules are dated data: the day decides, and the jury may say otherwise for one stage."""

from datetime import date

import msgspec
import pytest
from brinebook.engine.plan.race_rules import Marked, feed_windows_km, heat_band, is_feed_allowed
from brinebook.engine.sources import all_sources
from brinebook.planning.race_rules import _sets, feed_flags, feed_rules_of, feed_rules_on, heat_bands_on, heat_flags
from brinebook.records.edited import FeedPoint
from hypothesis import given, settings
from hypothesis import strategies as st
from planning.fakes import stage


@pytest.mark.parametrize(("day", "id_"), [
    (date(2018, 7, 1), "to_2018"), (date(2019, 7, 1), "2019"), (date(2024, 7, 1), "2020"), (date(2025, 1, 1), "2025"),
    (date(2025, 6, 30), "2025"), (date(2025, 7, 1), "2025_07"), (date(2026, 7, 1), "2025_07"),
])
def test_the_day_decides_the_rules(day, id_):
    assert feed_rules_on(day).id == id_


def test_every_dated_set_names_its_source():
    for name, table in (("feeding", "rules"), ("heat", "bands")):
        assert {one["source"] for one in _sets(name, table)} <= set(all_sources())


def test_the_windows_close_around_marked_points():
    # News report of 2019: 1 km before to 500 m after each sprint; from kilometre 30 to 20 km to go.
    assert feed_windows_km(feed_rules_on(date(2019, 7, 1)), length_km=180.0, marked=[Marked(100.0)]) == (
        (30.0, 99.0), (100.5, 160.0))


def test_a_short_stage_has_no_window():
    assert feed_windows_km(feed_rules_on(date(2024, 7, 1)), length_km=45.0) == ()


def test_since_2025_nobody_feeds_from_the_roadside_outside_a_zone():
    before, after = feed_rules_on(date(2024, 7, 1)), feed_rules_on(date(2025, 3, 1))

    assert is_feed_allowed(before, km=80.0, kind="roadside", length_km=180.0)
    assert not is_feed_allowed(after, km=80.0, kind="roadside", length_km=180.0)
    assert is_feed_allowed(after, km=80.0, kind="zone", length_km=180.0)


def test_a_jury_may_open_the_whole_road_in_the_heat():
    # News reports of 2022, a stage at 38-40 C: feeding from kilometre 0 to 10 km to go.
    plain = stage(1)
    hot = msgspec.structs.replace(plain, feed_opens_km=0.0, feed_closes_to_go_km=10.0)

    assert (feed_rules_of(plain).opens_km, feed_rules_of(hot).opens_km) == (30.0, 0.0)
    assert feed_windows_km(feed_rules_of(hot), length_km=150.0) == ((0.0, 140.0),)


def test_a_feed_outside_the_windows_is_named():
    late = FeedPoint(id="late", name="Late", kind="car", km=145.0)
    made = msgspec.structs.replace(stage(1), feed_points=[*stage(1).feed_points, late])

    assert [flag.value for flag in feed_flags(made)] == [145.0]
    assert feed_flags(stage(1)) == []
    assert feed_flags(msgspec.structs.replace(made, kind="time_trial")) == []


@pytest.mark.parametrize(("wbgt_c", "name"), [(14.9, "white"), (15.0, "green"), (17.9, "green"), (18.0, "yellow"),
                                             (22.9, "yellow"), (23.0, "orange"), (27.9, "orange"), (28.0, "red")])
def test_the_protocol_s_colours(wbgt_c, name):
    # News report of 2024: white below 15, green 15-17.9, yellow 18-22.9, orange 23-27.9, red from 28.
    assert heat_band(wbgt_c, bands=heat_bands_on(date(2026, 7, 1), prefix="race_protocol")).name == name


@pytest.mark.parametrize(("wbgt_c", "name"), [(27.8, "normal"), (27.9, "caution"), (30.0, "caution"), (30.1, "limit"),
                                             (32.2, "limit"), (32.3, "cancel")])
def test_the_bands_of_sports_medicine(wbgt_c, name):
    # Armstrong et al. 2007, acclimatised: to 27.8 normal, 27.9-30.0 caution, 30.1-32.2 limit, above cancel.
    assert heat_band(wbgt_c, bands=heat_bands_on(date(2026, 7, 1), prefix="acsm_2007_acclimatised")).name == name


def test_before_there_was_a_protocol_there_is_no_band():
    assert heat_bands_on(date(2023, 7, 1), prefix="race_protocol") is None


def test_a_cool_stage_says_nothing_and_a_hot_one_ends_in_a_caution():
    assert heat_flags(stage(1), 14.0) == []
    assert [(flag.code, flag.severity, flag.detail) for flag in heat_flags(stage(1), 31.0)] == [
        ("heat_band", "caution", "heat_red"), ("heat_band_medicine", "caution", "heat_limit")]


@settings(max_examples=100, deadline=None)
@given(st.floats(1.0, 260.0), st.lists(st.floats(0.0, 1.0), max_size=6))
def test_windows_never_overlap_and_stay_on_the_road(length_km, shares):
    marked = [Marked(share * length_km) for share in shares]
    windows = feed_windows_km(feed_rules_on(date(2019, 7, 1)), length_km=length_km, marked=marked)

    edges = [edge for window in windows for edge in window]
    assert edges == sorted(edges)
    assert all(30.0 <= edge <= length_km - 20.0 for edge in edges)
    for point in marked:
        assert not any(low < point.km < high for low, high in windows)
