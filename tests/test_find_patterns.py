"""Airspeed-calibration patterns in made flights, and what keeps a flight from being one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stdday.bands import BANDS, FOOT_M, KNOT_MS
from stdday.candidates import Candidate
from stdday.decisions import Decision
from stdday.find_legs import Leg, find_legs, motion_of
from stdday.find_patterns import find_patterns
from stdday.flight_rows import Flight
from stdday.ground_velocity import ground_velocity, mean_direction_rad, velocity_at_middle
from stdday.leg_state import LEG_COLUMNS, leg_bounds, leg_state
from stdday.pattern_shape import shape_of
from stdday.points import find_points
from stdday.recording_types import Recording, RowAccount
from stdday.signals import Trace
from tests import make_flights
from tests.pattern_scores import score_flights
from tests.test_points import campaign

RATES_HZ = (1.0, 4.0, 10.0)
FLIGHTS = 8
WIND = (6.0, -3.0)
TURN_S = 25.0


def flown(turns_deg, leg_s=60.0, airspeeds=(45.0,), heights=(900.0,), start_deg=350.0, rate_hz=1.0,
          wind=WIND, drop=(), climb=0.0, indicated=None):
    """Legs with turns between them; a list shorter than the legs is repeated."""
    legs = len(turns_deg) + 1
    times, headings, speeds, levels, clock, heading = [], [], [], [], 0.0, start_deg
    for place in range(legs):
        for moment in (clock, clock + leg_s):
            times.append(moment)
            headings.append(heading)
            speeds.append(airspeeds[place % len(airspeeds)])
            levels.append(heights[place % len(heights)])
        heading += turns_deg[place] if place < legs - 1 else 0.0
        clock += leg_s + TURN_S
    time = np.arange(0.0, times[-1], 1 / rate_hz)
    heading = np.radians(np.interp(time, times, headings))
    speed, height = np.interp(time, times, speeds), np.interp(time, times, levels) + climb * time
    east, north = speed * np.sin(heading) + wind[0], speed * np.cos(heading) + wind[1]
    channels = {
        "ground_speed": np.hypot(east, north),
        "track": np.arctan2(east, north) % (2 * np.pi),
        "indicated_airspeed": 0.95 * speed if indicated is None else indicated(time),
        "pressure_altitude": height,
        "latitude": 45.0 + np.cumsum(north) / rate_hz / 111_132.0,
        "longitude": 8.0 + np.cumsum(east) / rate_hz / 78_847.0,
    }
    for name in {"latitude", "longitude", *drop}:
        if name in drop or "track" not in drop:
            del channels[name]
    return Trace(time, channels)


def only(found):
    assert len(found) == 1, found
    return found[0]


BOX, TRIANGLE, PAIR = [90, 90, 90], [-120, -120], [180]


# ---- made flights --------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_patterns_are_found_and_nothing_else(rate_hz):
    score = score_flights(range(500, 500 + FLIGHTS), rate_hz)
    assert score.right["pattern"] > 2 * FLIGHTS
    for kind in ("pattern", "leg"):
        assert score.precision(kind) >= 0.98, score.wrong
        assert score.recall(kind) >= 0.98, score.missed
    for name in ("leg velocity, along [m/s]", "leg velocity, across [m/s]"):
        error = np.array(score.errors[name])
        assert np.sqrt((error**2).mean()) < 0.15


@pytest.mark.parametrize("seed", range(6))
def test_flights_of_the_other_generator_hold_no_legs_of_a_pattern(seed):
    made = make_flights.make_flight(seed, 1.0)
    assert [one for one in find_patterns(Trace(made.time_s, made.channels)) if one.used] == []


# ---- shapes --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("turns", "name"), [
    (BOX, "box"), ([-90, -90, -90, -90], "box"), (TRIANGLE, "triangle"), (PAIR, "reciprocal pair"),
    ([180, 180, 180], "reciprocal pair"), ([90, 90], "legs"), ([-270, -270, -270], "box"),
])  # fmt: skip
@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_shapes(turns, name, rate_hz):
    one = only(find_patterns(flown(turns, rate_hz=rate_hz)))
    assert (one.used, one.pattern, one.reason) == (True, name, "")
    assert one.kind == "airspeed calibration"
    assert len(one.legs) == len(turns) + 1


@pytest.mark.parametrize("wind", [(0.0, 0.0), (14.0, 0.0), (-10.0, 12.0)])
@pytest.mark.parametrize(("turns", "name"), [(BOX, "box"), (TRIANGLE, "triangle"),
                                             (PAIR, "reciprocal pair")])
def test_shapes_are_those_through_the_air_whatever_the_wind(wind, turns, name):
    assert only(find_patterns(flown(turns, wind=wind))).pattern == name


def test_bounds_are_those_of_the_legs_after_trimming():
    one = only(find_patterns(flown(BOX)))
    for place, (start, end) in enumerate(one.legs):
        begun = place * (60.0 + TURN_S)
        assert begun + (3.0 if place else 0.0) <= start <= begun + 9.0
        assert begun + 51.0 <= end <= begun + 60.0
    assert (one.start_s, one.end_s) == (one.legs[0][0], one.legs[-1][1])


def test_a_pair_without_heading_says_what_it_leaves_open():
    assert "wind across is open" in only(find_patterns(flown(PAIR))).quality


def test_two_speeds_are_two_patterns():
    trace = flown([90] * 7, airspeeds=[40.0] * 4 + [44.0] * 4)
    assert [(one.pattern, len(one.legs)) for one in find_patterns(trace)] == [("box", 4)] * 2


def test_a_turn_of_450_degrees_at_steady_bank_is_a_circle():
    time = np.arange(0.0, 160.0)
    heading = np.interp(time, [30.0, 130.0], [0.0, 2.5 * np.pi])
    east, north = 40.0 * np.sin(heading) + 8.0, 40.0 * np.cos(heading)
    trace = Trace(time, {
        "ground_speed": np.hypot(east, north), "track": np.arctan2(east, north),
        "indicated_airspeed": np.full(160, 38.0), "pressure_altitude": np.full(160, 900.0)})
    one = only(find_patterns(trace))
    assert (one.used, one.pattern) == (True, "circle")
    turned = np.degrees(np.interp([one.start_s, one.end_s], time, heading) @ [-1.0, 1.0])
    assert 380.0 < turned < 450.0
    assert turned / len(one.legs) == pytest.approx(45.0, abs=3.0)
    for _, start, end in leg_bounds(one):
        state = leg_state(trace, start, end, "circle", True)
        through = np.hypot(state["ground_east_ms"] - 8.0, state["ground_north_ms"])
        assert through == pytest.approx(40.0, abs=0.03)
        mean = np.hypot(leg_state(trace, start, end, "box", True)["ground_east_ms"] - 8.0,
                        leg_state(trace, start, end, "box", True)["ground_north_ms"])
        assert mean < 39.3    # what a plain mean of a turning vector would give


# ---- why not -------------------------------------------------------------------------------------


def test_headings_that_do_not_span():
    one = only(find_patterns(flown([90])))
    assert not one.used
    assert one.reason.startswith("headings span only")
    assert "fly one more leg near" in one.reason


def test_the_heading_to_add_is_the_middle_of_the_widest_gap():
    one = only(find_patterns(flown([90], wind=(0.0, 0.0))))
    assert one.reason == "headings span only 91 deg: fly one more leg near 215 deg"


@pytest.mark.parametrize(("change", "reason"), [
    ({"leg_s": 18.0}, "leg 1: straight for only 17 s"),
    ({"airspeeds": [40.0, 42.5]}, "airspeed not held: 74 to 78 kt over the legs"),
    ({"heights": [900.0, 980.0], "turns_deg": PAIR}, ""),
    ({"heights": [900.0, 955.0]}, "altitude not held"),
    ({"drop": ["indicated_airspeed"]}, "no airspeed recorded"),
    ({"drop": ["pressure_altitude"]}, "no pressure altitude recorded"),
])  # fmt: skip
def test_reasons(change, reason):
    found = find_patterns(flown(**{"turns_deg": BOX} | change))
    assert [one.used for one in found] in ([False], [])
    assert [reason in one.reason for one in found] == [True] * bool(reason)


def test_without_ground_speed_the_headings_show_what_was_flown():
    trace = flown(BOX)
    heading = trace.raw("track")
    channels = {name: trace.raw(name) for name in ("indicated_airspeed", "pressure_altitude")}
    one = only(find_patterns(Trace(trace.time_s, channels | {"heading": heading})))
    assert not one.used
    assert "no ground speed recorded" in one.reason


def test_ground_speed_and_heading_are_enough():
    trace = flown(BOX, wind=(0.0, 0.0))
    names = ("indicated_airspeed", "pressure_altitude", "ground_speed")
    channels = {name: trace.raw(name) for name in names} | {"heading": trace.raw("track")}
    one = only(find_patterns(Trace(trace.time_s, channels)))
    assert (one.used, one.pattern) == (True, "box")
    state = leg_state(Trace(trace.time_s, channels), *one.legs[0], "box", True)
    assert np.isnan(state["ground_east_ms"])
    assert np.degrees(state["heading_rad"]) == pytest.approx(350.0, abs=0.5)


def test_from_positions_alone():
    trace = flown(BOX, drop=["track", "ground_speed"])
    one = only(find_patterns(trace))
    assert one.pattern == "box"
    state = leg_state(trace, *one.legs[0], "box", False)
    heading = np.radians(350.0)
    assert state["track_is_true"] == 1.0
    assert state["ground_east_ms"] == pytest.approx(45.0 * np.sin(heading) + WIND[0], abs=0.1)
    assert state["ground_north_ms"] == pytest.approx(45.0 * np.cos(heading) + WIND[1], abs=0.1)


@pytest.mark.parametrize("trace", [
    Trace(np.arange(600.0), {}),
    Trace(np.arange(600.0), {"track": np.full(600, np.nan)}),
    flown([]),
    flown([], leg_s=900.0),
    flown([90, 90, 90], climb=2.5),
    flown([20, -25, 15]),
    flown([60], leg_s=200.0),
])  # fmt: skip
def test_no_pattern_and_no_attempt_at_one(trace):
    assert find_patterns(trace) == []


def test_a_track_that_spins_in_slow_flight_into_the_wind_is_no_circle():
    time = np.arange(0.0, 200.0)
    trace = Trace(time, {
        "ground_speed": np.full(200, 1.5), "track": 0.1 * time % (2 * np.pi),
        "indicated_airspeed": np.full(200, 25.0), "pressure_altitude": np.full(200, 900.0)})
    assert find_patterns(trace) == []


def test_long_cruise_legs_are_no_pattern():
    assert [one for one in find_patterns(flown([90, 90, 90], leg_s=400.0)) if one.used] == []


def test_a_cruise_may_end_in_a_pattern_of_which_the_last_part_counts():
    trace = flown([90, 90, 90], leg_s=60.0)
    before = flown([], leg_s=401.0)
    time = np.concatenate((before.time_s, trace.time_s + 400.0))
    names = ("ground_speed", "track", "indicated_airspeed", "pressure_altitude")
    channels = {name: np.concatenate((before.raw(name), trace.raw(name))) for name in names}
    one = only(find_patterns(Trace(time, channels)))
    assert one.pattern == "box"
    assert one.legs[0][1] - one.legs[0][0] == pytest.approx(BANDS.leg_kept_s, abs=1.0)


def test_changing_speed_between_opposite_legs_is_no_turn():
    """Two level accelerations on opposite headings end at the same speed."""
    def airspeed(time):
        return np.interp(time % 85.0, [0, 50, 60, 72, 85], [44, 44, 44, 30, 44])
    found = find_patterns(flown(PAIR, indicated=airspeed))
    assert [one.used for one in found] == [False]
    assert "more than turns between the legs" in found[0].reason


# ---- legs ----------------------------------------------------------------------------------------


def test_legs_wait_for_the_airspeed_to_settle():
    def airspeed(time):
        return 43.0 - 4.0 * np.exp(-(time % 85.0) / 8.0)
    legs = find_legs(motion_of(flown(BOX, indicated=airspeed)))
    assert all(leg.held for leg in legs)
    assert all(leg.airspeed_ms > 42.5 for leg in legs[1:])
    assert all(leg.start_s % 85.0 > 5.0 for leg in legs[1:])


def test_mean_direction_is_that_of_the_vector():
    angles = np.radians([359.0, 358.0, 1.0, 2.0])
    assert np.cos(mean_direction_rad(angles)) == pytest.approx(1.0)
    assert np.isnan(mean_direction_rad(np.radians([0.0, 180.0])))
    assert np.isnan(mean_direction_rad(np.array([np.nan])))


def test_mean_velocity_across_north_is_no_mean_of_angles():
    track = np.tile([0.1, 2 * np.pi - 0.1], 15)
    trace = Trace(np.arange(30.0), {"ground_speed": np.full(30, 40.0), "track": track})
    state = leg_state(trace, 0.0, 29.0, "box", True)
    assert state["ground_east_ms"] == pytest.approx(0.0, abs=1e-9)
    assert state["ground_north_ms"] == pytest.approx(40.0 * np.cos(0.1))


def test_too_few_samples_of_an_arc_have_no_velocity():
    assert np.isnan(velocity_at_middle(np.arange(3.0), np.ones(3)))
    east, north, positions = ground_velocity(Trace([0.0, 1.0], {}))
    assert np.isnan([east, north]).all()
    assert not positions


def test_bounds_drawn_closer_cut_the_legs():
    one = only(find_patterns(flown(BOX)))
    closer = replace(one, start_s=one.legs[1][0] + 10.0)
    names = leg_bounds(closer)
    assert [name for name, _, _ in names] == ["leg_1", "leg_2", "leg_3"]
    assert names[0][1] == one.legs[1][0] + 10.0
    assert leg_bounds(Candidate("airspeed calibration", 0.0, 1.0, True)) == []


def leg(track_deg, speed=45.0, wind=(0.0, 0.0)):
    angle = np.radians(track_deg)
    return Leg(0.0, 60.0, True, "", speed * np.sin(angle) + wind[0],
               speed * np.cos(angle) + wind[1], np.nan, speed, 0.0, 1.0)


@pytest.mark.parametrize("start", range(0, 360, 30))
def test_shapes_do_not_depend_on_where_north_is(start):
    turned = [[leg(start + angle, wind=(7.0, 2.0)) for angle in angles]
              for angles in ([0, 90, 180, 270], [0, 120, 240], [0, 180], [0, 90])]
    assert [shape_of(one).name for one in turned] == ["box", "triangle", "reciprocal pair", "legs"]
    assert [shape_of(one).usable for one in turned] == [True, True, True, False]


def test_one_direction_spans_nothing():
    shape = shape_of([leg(10.0), leg(12.0)])
    assert not shape.usable
    assert shape.span_rad == pytest.approx(0.0, abs=0.2)


# ---- as points -----------------------------------------------------------------------------------


def points(trace, decisions=()):
    names = ("ground_speed", "track", "indicated_airspeed", "pressure_altitude")
    channels = {name: trace.raw(name) % (2 * np.pi) if name == "track" else trace.raw(name)
                for name in names}
    rows = RowAccount(len(trace.time_s), len(trace.time_s), {})
    recording = Recording("F1", trace.time_s + 1.76e9, channels, "true", None, rows, ())
    return find_points(recording, Flight("F1", "A", 2, block="A1"), campaign(), decisions)


def test_each_leg_has_a_row_with_its_own_bounds():
    found = points(flown(BOX))
    legs = found.segments[found.segments["kind"] == "airspeed calibration"]
    assert legs["condition_id"].tolist() == ["leg_1", "leg_2", "leg_3", "leg_4"]
    assert legs["point"].nunique() == 1
    assert (legs["end_s"].to_numpy()[:-1] < legs["start_s"].to_numpy()[1:]).all()
    assert set(LEG_COLUMNS) <= set(legs.columns)
    assert set(legs["pattern"]) == {"box"}
    assert set(legs["flaps"]) == {""}
    assert (legs["track_is_true"] == 1.0).all()
    assert legs["heading_rad"].isna().all()
    assert legs["indicated_airspeed_ms"].to_numpy() == pytest.approx(0.95 * 45.0, abs=0.01)
    heading = np.radians([350.0, 80.0, 170.0, 260.0])
    assert legs["ground_east_ms"].to_numpy() == pytest.approx(
        45.0 * np.sin(heading) + WIND[0], abs=0.05)
    assert legs["ground_north_ms"].to_numpy() == pytest.approx(
        45.0 * np.cos(heading) + WIND[1], abs=0.05)


def test_a_decision_leaves_a_pattern_out_or_says_the_flaps():
    found = points(flown(BOX)).table
    name = found.loc[found["kind"] == "airspeed calibration", "point"].iloc[0]
    out = Decision(name, "F1", "airspeed calibration", 2, use=False, reason="flaps were moving")
    left = points(flown(BOX), [out])
    row = left.table[left.table["point"] == name].iloc[0]
    assert (bool(row["used"]), row["reason"]) == (False, "decided: flaps were moving")
    assert not (left.segments["kind"] == "airspeed calibration").any()
    flaps = Decision(name, "F1", "airspeed calibration", 2, flaps="10 deg")
    legs = points(flown(BOX), [flaps]).segments
    assert set(legs.loc[legs["kind"] == "airspeed calibration", "flaps"]) == {"10 deg"}


def test_a_decision_uses_what_was_left_out():
    trace = flown(BOX, airspeeds=[40.0, 42.5])
    found = points(trace).table
    one = found[found["kind"] == "airspeed calibration"].iloc[0]
    assert not one["used"]
    yes = Decision(one["point"], "F1", "airspeed calibration", 2, use=True)
    legs = points(trace, [yes]).segments
    assert (legs["kind"] == "airspeed calibration").sum() == 4


def test_figures_of_reasons_are_in_the_units_they_say():
    one = only(find_patterns(flown(BOX, heights=[900.0, 955.0])))
    assert f"{55.0 / FOOT_M:.0f} ft between the legs" in one.reason
    slow, fast = (0.95 * speed / KNOT_MS for speed in (40.0, 42.5))
    one = only(find_patterns(flown(BOX, airspeeds=[40.0, 42.5])))
    assert f"{slow:.0f} to {fast:.0f} kt" in one.reason
