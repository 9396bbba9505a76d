"""The course on its grid keeps length and climbing."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.course import (
    ascent_m,
    from_real_start,
    haversine_m,
    resample_course,
    synthetic_profile,
    travelled_m,
)
from engine.stage.skies import straight


def test_one_degree_of_latitude_is_a_hundred_and_eleven_kilometres():
    here, north, east = np.array([44.0]), np.array([45.0]), np.array([5.0])

    distance_m = haversine_m(here, east, to_latitude_deg=north, to_longitude_deg=east)

    assert distance_m[0] == pytest.approx(111_195.08, abs=0.1)


def test_the_grid_keeps_the_length_to_the_metre():
    course = straight(12_345.0)

    assert course.distance_m[-1] == 12_345.0
    assert np.diff(course.distance_m)[:-1] == pytest.approx(50.0)
    assert 25.0 <= np.diff(course.distance_m)[-1] < 75.0


def test_an_even_climb_keeps_its_gradient_away_from_the_ends():
    course = straight(10_000.0, gradient_frac=0.08)

    assert course.gradient_frac[5:-5] == pytest.approx(0.08)
    assert ascent_m(course) == pytest.approx(800.0, abs=15.0)


def test_a_spike_in_the_heights_is_clamped():
    along_m = np.arange(0.0, 2000.0, 10.0)
    heights_m = np.where(along_m == 1000.0, 900.0, 100.0)

    course = resample_course(along_m, heights_m, 44.0 + along_m / 111_195.0, np.full(along_m.size, 5.0))

    assert np.abs(course.gradient_frac).max() <= 0.25


def test_thinning_a_course_to_a_fifth_keeps_its_climbing():
    along_m = np.arange(0.0, 50_000.0, 12.0)
    heights_m = 300.0 + 100.0 * np.sin(along_m / 1500.0) + 30.0 * np.sin(along_m / 400.0)
    north_deg, east_deg = 44.0 + along_m / 111_195.0, np.full(along_m.size, 5.0)

    full = resample_course(along_m, heights_m, north_deg, east_deg)
    thin = resample_course(along_m[::5], heights_m[::5], north_deg[::5], east_deg[::5])

    assert ascent_m(thin) == pytest.approx(ascent_m(full), rel=0.01)


def test_bearing_is_clockwise_from_north():
    along_m = np.array([0.0, 1000.0])
    east = resample_course(along_m, [0.0, 0.0], [0.0, 0.0], [5.0, 5.01])

    assert east.bearing_deg == pytest.approx(90.0, abs=0.01)
    assert straight(1000.0).bearing_deg == pytest.approx(0.0, abs=0.01)


def test_doubled_points_and_steps_back_are_dropped():
    course = resample_course([0.0, 0.0, 500.0, 400.0, 1000.0], [0.0] * 5, [44.0] * 5, [5.0, 5.0, 5.01, 5.0, 5.02])

    assert course.distance_m[-1] == 1000.0


@pytest.mark.parametrize("bad", [[0.0, 0.0], [np.nan, 100.0], [-5.0, 100.0], []])
def test_a_course_without_length_raises(bad):
    with pytest.raises(UnphysicalInput):
        resample_course(bad, [0.0] * len(bad), [44.0] * len(bad), [5.0] * len(bad))


@pytest.mark.parametrize(
    ("kind", "length_m", "gain_m"), [("flat", 180e3, 1100), ("hilly", 175e3, 2500), ("mountain", 155e3, 4000)]
)
def test_a_made_up_profile_has_its_length_and_climbing(kind, length_m, gain_m):
    course = synthetic_profile(kind, length_m=length_m, gain_m=gain_m)

    assert course.distance_m[-1] == pytest.approx(length_m)
    assert ascent_m(course) == pytest.approx(gain_m, rel=0.02)
    assert travelled_m(course.latitude_deg, course.longitude_deg)[-1] == pytest.approx(length_m, rel=0.02)


def test_more_climbing_than_the_length_holds_raises():
    with pytest.raises(UnphysicalInput):
        synthetic_profile("flat", length_m=10e3, gain_m=2000.0)


def test_the_real_start_cuts_off_the_neutral_road():
    course = straight(10_000.0, gradient_frac=0.03)

    raced = from_real_start(course, km0_m=2_222.0)

    assert raced.distance_m[0] == 0.0
    assert raced.distance_m[-1] == pytest.approx(7_778.0)
    assert raced.elevation_m[0] == pytest.approx(66.66, abs=0.1)
    assert raced.gradient_frac.size == raced.distance_m.size - 1


def test_a_real_start_at_zero_changes_nothing():
    course = straight(5_000.0)

    assert from_real_start(course, km0_m=0.0).distance_m == pytest.approx(course.distance_m)


@pytest.mark.parametrize("km0_m", [-1.0, 5_000.0, 9_000.0])
def test_a_real_start_off_the_course_raises(km0_m):
    with pytest.raises(UnphysicalInput):
        from_real_start(straight(5_000.0), km0_m=km0_m)
