"""True airspeed and wind from legs: published examples, what averaging gets wrong, geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stdday import legs
from stdday.errors import InputError
from stdday.wind import wind_from
from tests.published_values import differences, identity, items

KT, FT = 1852 / 3600, 0.3048
PUBLISHED = items("airspeed_calibration")
steady = settings(derandomize=True, deadline=None)


def of_topic(topic: str) -> list[dict]:
    return [item for item in PUBLISHED if item["topic"] == topic]


def vectors(speed, track_deg) -> tuple[np.ndarray, np.ndarray]:
    track = np.radians(track_deg)
    return np.asarray(speed) * np.sin(track), np.asarray(speed) * np.cos(track)


def flown(true, heading_deg, wind, wind_from_deg) -> tuple[np.ndarray, np.ndarray]:
    east, north = vectors(true, heading_deg)
    out_east, out_north = vectors(wind, wind_from_deg)
    return east - out_east, north - out_north


@pytest.mark.parametrize("item", of_topic("three_tracks"), ids=identity)
def test_published_circles(item) -> None:
    speed, track = item["inputs"]["ground_speed_kt"], item["inputs"]["track_deg"]
    east, north = vectors(np.array(speed) * KT, track)
    true, wind_east, wind_north = legs.solve_legs(east, north)
    from_rad, wind = wind_from(wind_east, wind_north)
    heading = np.degrees(np.arctan2(east - wind_east, north - wind_north)) % 360
    got = {"true_kt": true / KT, "wind_kt": wind / KT, "wind_from_deg": np.degrees(from_rad)}
    got |= {f"heading{place}_deg": one for place, one in enumerate(heading, start=1)}
    assert not differences(item, got)
    # the mean of the ground speeds is not the airspeed
    assert abs(np.mean(speed) - true / KT) > 2


@pytest.mark.parametrize("item", of_topic("four_headings"), ids=identity)
def test_mean_of_four_cardinal_ground_speeds_is_not_the_airspeed(item) -> None:
    inputs = item["inputs"]
    heading = [0, 90, 180, 270]
    east, north = flown(inputs["true_kt"], heading, inputs["wind_kt"], inputs["wind_from_deg"])
    speed = np.hypot(east, north)
    got = {f"ground_{one:03d}": value for one, value in zip(heading, speed, strict=True)}
    assert not differences(item, got | {"mean": float(speed.mean())})
    true, wind_east, wind_north = legs.solve_legs(east, north)
    assert true == pytest.approx(100)
    assert (wind_east, wind_north) == pytest.approx((20, 0))
    # whole knots as printed, on the headings that the closed form is for
    rounded, _ = legs.three_headings_square(102.0, 120.0, 102.0)
    assert rounded == pytest.approx(100, abs=0.3)


@pytest.mark.parametrize("item", of_topic("three_headings_apart"), ids=identity)
def test_published_three_headings_apart(item) -> None:
    true, wind = legs.three_headings_apart(np.array(item["inputs"]["ground_speed_kt"]) * KT)
    assert not differences(item, {"true_kt": true / KT, "wind_kt": wind / KT})


@pytest.mark.parametrize("item", of_topic("three_headings_square"), ids=identity)
def test_published_horseshoe(item) -> None:
    true, wind = legs.three_headings_square(*np.array(item["inputs"]["ground_speed_kt"]) * KT)
    assert not differences(item, {"true_kt": true / KT, "wind_kt": wind / KT})


@pytest.mark.parametrize("item", of_topic("speed_course"), ids=identity)
def test_published_speed_courses(item) -> None:
    inputs = item["inputs"]
    true = legs.speed_course_ms(inputs["length_ft"] * FT, inputs["out_s"], inputs["back_s"])
    assert not differences(item, {"true_kt": true / KT})


def test_the_mean_time_of_a_speed_course_is_slow() -> None:
    mean_time = 10560 * FT / np.mean([51.284, 63.843]) / KT
    assert mean_time == pytest.approx(108.69, abs=0.01)


def test_tracks_in_place_of_headings_read_high() -> None:
    """Root mean square of three tracks 120 degrees apart: 0.24 % high at a wind of 0.3 V."""
    true, wind = 100.0, 30.0
    across = wind * np.sin(np.radians([45, 165, 285]))
    along = wind * np.cos(np.radians([45, 165, 285]))
    ground = np.sqrt(true**2 - across**2) - along
    assert np.sqrt(np.mean(ground**2)) / true == pytest.approx(1.0024, abs=2e-3)
    assert legs.three_headings_apart(ground)[0] != pytest.approx(true, abs=0.05)
    assert legs.solve_legs(*vectors(ground, [0, 120, 240]))[0] == pytest.approx(true, rel=1e-3)


@steady
@given(
    st.floats(20, 120), st.floats(0, 18), st.floats(0, 6.28),
    st.lists(st.floats(0, 360), min_size=3, max_size=8),
)
def test_exact_legs_are_solved_exactly_where_the_headings_span(true, wind, blows, headings) -> None:
    if legs.condition_of_headings(np.radians(headings)) > 5:
        return
    east, north = flown(true, headings, wind, math.degrees(blows))
    found, wind_east, wind_north = legs.solve_legs(east, north)
    assert found == pytest.approx(true, rel=1e-6)
    assert np.hypot(wind_east, wind_north) == pytest.approx(wind, abs=1e-4)


@steady
@given(st.floats(30, 120), st.floats(0, 15), st.floats(0, 360), st.floats(0, 360))
def test_closed_forms_agree_with_the_circle(true, wind, blows, heading) -> None:
    apart = [heading, heading + 120, heading + 240]
    square = [heading, heading + 90, heading + 180]
    for headings, form in ((apart, lambda g: legs.three_headings_apart(g)),
                           (square, lambda g: legs.three_headings_square(*g))):
        east, north = flown(true, headings, wind, blows)
        found, blown = form(np.hypot(east, north))
        assert found == pytest.approx(legs.solve_legs(east, north)[0], rel=1e-6)
        assert blown == pytest.approx(wind, abs=1e-3)


def test_reciprocal_headings_carry_the_wind_across_and_tracks_do_not() -> None:
    east, north = flown(50.0, [0, 180], 10.0, 90.0)
    assert legs.reciprocal_legs(east, north) == pytest.approx((50.0, -10.0, 0.0))
    held = np.array([1, -1]) * np.sqrt(50.0**2 - 10.0**2)    # track held along the meridian
    low = legs.reciprocal_legs(np.zeros(2), held)[0]
    assert 50 - low == pytest.approx(10**2 / (2 * 50), rel=0.02)
    assert legs.track_held_ms(low, 10.0) == pytest.approx(50.0)


def test_draws_lead_and_nan_passes() -> None:
    east, north = flown(50.0, [0, 90, 180, 270], 8.0, 30.0)
    many = legs.solve_legs(np.stack([east, east * np.nan, east]), np.stack([north] * 3))[0]
    assert many[[0, 2]] == pytest.approx(50.0)
    assert np.isnan(many[1])


@pytest.mark.parametrize(
    ("headings", "condition"),
    [([0, 90, 180, 270], 0.5), ([0, 120, 240], 3**-0.5), ([0, 90, 180], 0.5**0.5),
     (np.arange(0, 360, 45), 8**-0.5), ([0, 60], math.inf), ([10, 10, 190], math.inf)],
)
def test_condition_of_headings(headings, condition) -> None:
    assert legs.condition_of_headings(np.radians(headings)) == pytest.approx(condition)


def test_a_wind_across_that_is_not_known_spoils_the_headings() -> None:
    assert legs.condition_of_headings(np.radians([0, 180, 182])) > legs.CONDITION_LIMIT
    assert legs.condition_of_headings(np.radians([0, 180, 225])) < legs.CONDITION_LIMIT


def test_condition_is_what_noise_comes_to() -> None:
    headings = np.array([0.0, 40, 100, 170])
    east, north = flown(50.0, headings, 8.0, 30.0)
    random = np.random.default_rng(3)
    noise = 0.05 * random.standard_normal((4000, 2, 4))
    found = legs.solve_legs(east + noise[:, 0], north + noise[:, 1])[0]
    wanted = 0.05 * legs.condition_of_headings(np.radians(headings))
    assert np.std(found) == pytest.approx(wanted, rel=0.05)


def test_the_heading_to_add_helps_most() -> None:
    assert math.degrees(legs.heading_to_add_rad(np.radians([0, 40, 80]))) == pytest.approx(220)
    assert math.degrees(legs.heading_to_add_rad(np.radians([0, 180]))) in (
        pytest.approx(90), pytest.approx(270))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: legs.solve_legs([1.0, 2.0], [1.0, 2.0]), "fly a third leg"),
        (lambda: legs.solve_legs([10.0, 20.0, 30.0], [0.0, 0.0, 0.0]), "one line"),
        (lambda: legs.three_headings_apart([50.0, 60.0]), "three legs"),
        (lambda: legs.three_headings_apart([5.0, 60.0, 5.0]), "120 degrees apart"),
        (lambda: legs.three_headings_square(20.0, 100.0, 20.0), "90 and 180"),
        (lambda: legs.reciprocal_legs([1.0], [2.0]), "two legs"),
        (lambda: legs.speed_course_ms(2.0, 60.0, 60.0), "miles"),
        (lambda: legs.heading_to_add_rad([]), "got none"),
        (lambda: legs.condition_of_headings([90.0, 180.0]), "degrees"),
    ],
)
def test_refusals_say_why(call, words) -> None:
    with pytest.raises(InputError, match=words):
        call()
