"""Wind components against a printed figure, the wind triangle, and bad input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stdday import wind
from stdday.errors import InputError
from tests.published_values import differences, identity, items

KNOT = 1852.0 / 3600.0  # exact, international knot
PUBLISHED = [item for item in items("atmosphere_airspeed") if item["topic"] == "wind"]

steady = settings(derandomize=True, deadline=None)
angles = st.floats(-2.0 * math.pi, 2.0 * math.pi)


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published(item):
    inputs = item["inputs"]
    across = wind.crosswind_ms(
        math.radians(inputs["wind_dir_deg"]),
        inputs["wind_speed_kt"] * KNOT,
        math.radians(inputs["runway_dir_deg"]),
    )
    assert not differences(item, {"crosswind_kt": abs(across) / KNOT})
    assert across < 0.0  # 210 deg is to the left of runway 27


@pytest.mark.parametrize(
    ("wind_from", "course", "head", "right"),
    [
        (0, 0, 10.0, 0.0),
        (180, 0, -10.0, 0.0),
        (90, 0, 0.0, 10.0),
        (270, 0, 0.0, -10.0),
        (350, 20, 8.660, -5.0),
        (50, 20, 8.660, 5.0),
        (-10, 20, 8.660, -5.0),
    ],
)
def test_signs_and_the_clock_code(wind_from, course, head, right):
    # Clock code of flight training (common practice): 30 degrees off the nose is half the wind
    # across; headwind is positive, and so is a crosswind from the right.
    arguments = math.radians(wind_from), 10.0, math.radians(course)
    assert wind.headwind_ms(*arguments) == pytest.approx(head, abs=5e-4)
    assert wind.crosswind_ms(*arguments) == pytest.approx(right, abs=5e-4)


@steady
@given(angles, st.floats(0.0, 60.0), angles)
def test_components_make_the_wind_again(wind_from, speed, course):
    head = wind.headwind_ms(wind_from, speed, course)
    right = wind.crosswind_ms(wind_from, speed, course)
    assert math.hypot(head, right) == pytest.approx(speed, abs=1e-12)
    # Air moves towards (from + 180 deg): its vector, put together from the two components.
    north = -head * math.cos(course) + right * math.sin(course)
    east = -head * math.sin(course) - right * math.cos(course)
    assert north == pytest.approx(-speed * math.cos(wind_from), abs=1e-12)
    assert east == pytest.approx(-speed * math.sin(wind_from), abs=1e-12)


@pytest.mark.parametrize("function", [wind.headwind_ms, wind.crosswind_ms])
def test_a_draws_axis_broadcasts_and_nan_passes(function):
    wind_from = np.array([1.0, 2.0, np.nan])
    speed = np.linspace(3.0, 6.0, 4)[:, np.newaxis]
    got = function(wind_from, speed, 0.5)
    assert got.shape == (4, 3)
    assert np.isnan(got[:, 2]).all()
    one = function(2.0, 6.0, 0.5)
    assert type(one) is float
    assert got[3, 1] == pytest.approx(one, rel=1e-14)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (
            (80.0, 5.0, 1.4),
            "wind_from_rad [rad] must be -9.42478 to 9.42478; got 80 (is it in degrees?)",
        ),
        (
            (1.4, 5.0, [1.4, 82.0]),
            "course_rad [rad] must be -9.42478 to 9.42478; got 82 at index 1 (is it in degrees?)",
        ),
        (
            (1.4, 70.0, 1.4),
            "wind_speed_ms [m/s] must be 0 to 60; got 70 (is it in km/h or kt?)",
        ),
        ((1.4, -5.0, 1.4), "wind_speed_ms [m/s] must be 0 to 60; got -5"),
    ],
)
def test_out_of_range_is_refused_in_words(arguments, text):
    with pytest.raises(InputError) as caught:
        wind.headwind_ms(*arguments)
    assert str(caught.value) == text


@pytest.mark.parametrize(
    ("east", "north", "from_deg"), [(0, -5, 0), (-5, 0, 90), (0, 5, 180), (5, 0, 270), (3, -3, 315)]
)
def test_a_wind_comes_from_where_the_air_does_not_go(east, north, from_deg) -> None:
    from_rad, speed = wind.wind_from(east, north)
    assert math.degrees(from_rad) % 360 == pytest.approx(from_deg)
    assert speed == pytest.approx(math.hypot(east, north))
    # flying along the wind's own direction, all of it is headwind
    assert wind.headwind_ms(from_rad, speed, from_rad) == pytest.approx(speed)
