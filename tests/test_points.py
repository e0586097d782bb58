"""The table of points and its state means, decisions, and flights with little recorded."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

import numpy as np
import pytest

from stdday.atmosphere import pressure_altitude_at_field_m
from stdday.campaign_types import (
    Airfield,
    Airplane,
    Campaign,
    Configuration,
    Propeller,
    Reference,
)
from stdday.decisions import Decision
from stdday.errors import InputError
from stdday.flight_rows import Flight
from stdday.leg_state import LEG_TEXT
from stdday.points import POINT_COLUMNS, find_points, join_points, point_id
from stdday.recording_types import Recording, RowAccount
from stdday.segments import SEGMENT_COLUMNS
from stdday.signals import Trace
from stdday.takeoff_state import TAKEOFF_COLUMNS, field_temperature_k, static_jump_m
from tests.make_flights import EPOCH_S, Plan, make_flight

KT = 1852 / 3600
ALTITUDES_M = (700.0, 2500.0)


def campaign():
    reference = Reference(
        weight_kg=600.0,
        temperature_offset_k=0.0,
        takeoff_pressure_altitude_m=0.0,
        climb_pressure_altitudes_m=ALTITUDES_M,
        cruise_pressure_altitude_m=1200.0,
        cruise_power_fraction=(0.65,),
        liftoff_airspeed_ms=25.0,
        climb_airspeed_ms=32.0,
        runway_slope=0.0,
        runway_surface="paved, dry",
    )
    airplane = Airplane(
        id="one",
        name="one",
        maximum_weight_kg=600.0,
        empty_weight_kg=350.0,
        wing_area_m2=11.0,
        wing_span_m=9.0,
        induction="naturally aspirated",
        critical_altitude_m=None,
        rated_power_w=75e3,
        rated_engine_speed_rps=45.0,
        continuous_engine_speed_rps=None,
        gear_ratio=1.0,
        fuel_density_kg_m3=720.0,
        power_from="logged power",
        specific_consumption_kg_j=None,
        airspeed_calibration="none",
        assumed_efficiency=(0.7, 0.8),
    )
    propeller = Propeller(blades=2, diameter_m=1.7, control="fixed pitch")
    return Campaign(
        folder=Path("campaign"),
        title="",
        question="",
        display={},
        compare_reference="A",
        primary=(),
        reference=reference,
        matters={},
        airplanes={"one": airplane},
        configurations={"A": Configuration("A", "one", "A", (), propeller)},
        airfields={"home": Airfield("home", 100.0, 0.0)},
        uncertainty={},
        defaults_used=(),
        flights=(),
    )


def recorded(made, flight="F1"):
    rows = RowAccount(len(made.time_s), len(made.time_s), {})
    return Recording(flight, made.time_s, made.channels, "true", "magnetic", rows, ())


def found(made, decisions=(), **fields):
    flight = Flight("F1", "A", 2, block="A1", **fields)
    return find_points(recorded(made), flight, campaign(), decisions)


@pytest.fixture(scope="module")
def made():
    return make_flight(21, 4.0, Plan(stop_and_go=True))


@pytest.fixture(scope="module")
def points(made):
    return found(made)


def first(points, kind, used=True):
    rows = points.table[(points.table["kind"] == kind) & (points.table["used"] == used)]
    return rows.iloc[0]


def segment(points, kind):
    return points.segments[points.segments["kind"] == kind].iloc[0]


def test_columns_and_types(points):
    assert tuple(points.table.columns) == POINT_COLUMNS
    assert tuple(points.segments.columns) == SEGMENT_COLUMNS
    assert points.table["used"].dtype == bool
    numbers = points.segments.drop(
        columns=["point", "condition_id", "flight", "configuration", "block", "kind", *LEG_TEXT]
    )
    assert all(np.issubdtype(kind, np.number) for kind in numbers.dtypes)


def test_every_kind_is_there_in_order_of_time(points):
    used = points.table[points.table["used"]]
    assert set(used["kind"]) == {"take-off", "climb", "level run", "landing"}
    assert points.table["start_s"].is_monotonic_increasing
    assert (points.table["end_s"] > points.table["start_s"]).all()
    assert (points.table["block"] == "A1").all()


def test_reasons_and_quality(points):
    table = points.table
    assert (table.loc[table["used"], "reason"] == "").all()
    assert (table.loc[~table["used"], "reason"] != "").all()
    assert table["quality"].str.match("good|fair|poor").all()


def test_ids_are_unique_and_say_when():
    assert point_id("F1", "level run", 1_750_000_004.9) == "F1-level run-150640"
    assert point_id("F1", "level run", 1_750_000_005.1) == "F1-level run-150650"


def test_ids_in_the_table(points):
    assert points.table["point"].is_unique
    row = first(points, "take-off")
    assert row["point"] == point_id("F1", "take-off", row["start_s"])
    assert set(points.segments["point"]) <= set(points.table.loc[points.table["used"], "point"])


def test_same_recording_same_points(made, points):
    again = found(made)
    assert again.table.equals(points.table)
    assert again.segments.equals(points.segments)


def test_takeoff_state_against_the_truth(made, points):
    row, truth = segment(points, "take-off"), made.truth.takeoffs[0]
    assert row["condition_id"] == "takeoff"
    assert row["ground_roll_m"] == pytest.approx(truth["roll_m"], abs=25.0)
    assert row["time_to_liftoff_s"] == pytest.approx(row["liftoff_s"] - row["brake_release_s"])
    assert row["liftoff_ground_speed_ms"] == pytest.approx(
        np.interp(row["liftoff_s"], made.time_s, made.channels["ground_speed"]), abs=1.0
    )
    assert 0.3 < row["liftoff_acceleration_ms2"] < 3.0
    assert row["near_ground_speed_ms"] > 15
    assert row["roll_engine_speed_rps"] == pytest.approx(45.0, abs=1.0)
    assert row["idle_engine_speed_rps"] == pytest.approx(45.0 * 0.4, abs=5.0)
    rolls = abs(made.time_s - row["liftoff_s"]) < 5
    assert row["track_rad"] == pytest.approx(np.nanmedian(made.channels["track"][rolls]), abs=0.1)


def test_ground_roll_is_the_integral_of_ground_speed():
    """Constant 2 m/s2 for 12 s: 144 m."""
    made = make_flight(21, 4.0, Plan())
    time_s = EPOCH_S + np.arange(0.0, 200.0, 0.5)
    speed = 2.0 * np.clip(time_s - time_s[0] - 30.0, 0.0, 14.0)
    height = np.clip(3.0 * (time_s - time_s[0] - 43.0), 0.0, None)
    nose = 0.15 * np.clip((time_s - time_s[0] - 40.5) / 2.0, 0.0, 1.0)
    channels = {"ground_speed": speed, "gps_altitude": height, "pitch": nose}
    row = segment(found(dataclasses.replace(made, time_s=time_s, channels=channels)), "take-off")
    # Nothing tells how late this receiver is: as late as usual, and its roll in its own time.
    seen_s = row["brake_release_s"] + row["gps_delay_s"] - time_s[0]
    assert seen_s == pytest.approx(30.0, abs=0.15)
    assert row["liftoff_s"] - time_s[0] == pytest.approx(42.0, abs=0.8)
    lasts = row["time_to_liftoff_s"]
    assert row["ground_roll_m"] == pytest.approx(lasts**2, rel=0.03)
    assert row["liftoff_acceleration_ms2"] == pytest.approx(2.0, abs=0.05)


def test_static_jump():
    """14 m at power-up, the airplane standing; GPS altitude drifts 1 m meanwhile."""
    moment = np.arange(0.0, 120.0, 0.5)
    engine = np.where(moment < 50, 17.0, 45.0)
    static = 100.0 + np.where(moment < 50, 0.0, 14.0) + 0.0 * moment
    drift = 200.0 + np.where(moment < 50, 0.0, 1.0)
    speed = 2.0 * np.clip(moment - 58.0, 0.0, 15.0)
    channels = {"ground_speed": speed, "engine_speed": engine, "pressure_altitude": static}
    assert static_jump_m(Trace(moment, channels), 58.0) == pytest.approx(14.0, abs=0.1)
    with_gps = Trace(moment, {**channels, "gps_altitude": drift})
    assert static_jump_m(with_gps, 58.0) == pytest.approx(13.0, abs=0.1)
    without = Trace(moment, {"ground_speed": speed, "pressure_altitude": static})
    assert np.isnan(static_jump_m(without, 58.0))


def test_field_temperature_is_carried_down_and_not_the_soaked_probe():
    moment = np.arange(0.0, 400.0)
    altitude = 50.0 + 3.0 * np.clip(moment - 50, 0, None)
    air = 288.15 - 0.0065 * altitude
    probe = air + 3.0 * np.exp(-np.clip(moment - 50, 0, None) / 8.0)
    trace = Trace(moment, {"pressure_altitude": altitude, "outside_air_temperature": probe})
    assert field_temperature_k(trace, 50.0, 50.0) == pytest.approx(288.15 - 0.325, abs=0.2)
    assert np.isnan(field_temperature_k(trace, 380.0, 900.0))


def test_field_pressure_altitude_from_elevation_and_setting(made):
    row = segment(found(made, airfield="home", altimeter_setting_pa=100_000.0), "take-off")
    assert row["field_pressure_altitude_m"] == pytest.approx(
        pressure_altitude_at_field_m(100.0, 100_000.0)
    )
    recorded_one = segment(found(made), "take-off")
    ground = made.channels["pressure_altitude"][:40]
    assert recorded_one["field_pressure_altitude_m"] == pytest.approx(np.nanmean(ground), abs=12.0)


def test_climb_segments(made, points):
    row = segment(points, "climb")
    assert row["condition_id"] == "climb_1"
    assert row["pressure_altitude_m"] == pytest.approx(ALTITUDES_M[0], abs=40.0)
    part = (made.time_s >= row["start_s"]) & (made.time_s <= row["end_s"])
    altitude = made.channels["pressure_altitude"][part]
    rate = (altitude[-1] - altitude[0]) / (made.time_s[part][-1] - made.time_s[part][0])
    assert row["pressure_altitude_rate_ms"] == pytest.approx(rate, rel=0.05)
    assert row["gps_height_rate_ms"] == pytest.approx(rate, rel=0.05)
    assert row["samples"] == part.sum()
    assert not (points.segments["condition_id"] == "climb_2").any()


def test_level_segments(made, points):
    row = segment(points, "level run")
    assert row["condition_id"] == ""
    part = (made.time_s >= row["start_s"]) & (made.time_s <= row["end_s"])
    for column, channel in (("indicated_airspeed_ms", "indicated_airspeed"),
                            ("power_w", "power"), ("fuel_flow_m3s", "fuel_flow"),
                            ("outside_air_temperature_k", "outside_air_temperature")):  # fmt: skip
        assert row[column] == pytest.approx(np.nanmean(made.channels[channel][part]))
    assert abs(row["pressure_altitude_rate_ms"]) < 0.1
    assert abs(row["heading_change_rad"]) < 0.1
    assert np.isnan(row["ground_roll_m"])


def test_elapsed_time_and_fuel_count_from_the_first_brake_release(made, points):
    release = points.segments["brake_release_s"].min()
    row = segment(points, "level run")
    middle = (row["start_s"] + row["end_s"]) / 2
    assert row["elapsed_since_first_takeoff_s"] == pytest.approx(middle - release)
    part = (made.time_s >= release) & (made.time_s <= middle)
    flow = made.channels["fuel_flow"][part]
    expected = np.nanmean(flow) * (middle - release)
    assert row["fuel_used_m3"] == pytest.approx(expected, rel=0.02)


def test_recording_without_takeoff_says_from_when_it_counts():
    points = found(make_flight(1, 1.0, Plan(starts_airborne=True)))
    used = points.table[points.table["used"]]
    assert len(used)
    assert used["quality"].str.contains("fuel and time count from its start").all()


def test_flight_that_is_not_used(made):
    points = found(made, use=False, why_not="wheel pant fell off")
    assert not points.table["used"].any()
    assert (points.table["reason"] == "flight not used: wheel pant fell off").all()
    assert len(points.segments) == 0
    assert tuple(points.segments.columns) == SEGMENT_COLUMNS


def decision(row, **fields):
    base = {"point": row["point"], "flight": "F1", "kind": row["kind"], "row": 2}
    return Decision(**{**base, "start_s": row["start_s"], "end_s": row["end_s"], **fields})


def test_decision_against_a_point(made, points):
    row = first(points, "level run")
    no = decision(row, use=False, reason="flap left at 10")
    after = found(made, [no])
    changed = after.table[after.table["point"] == row["point"]].iloc[0]
    assert not changed["used"]
    assert changed["reason"] == "decided: flap left at 10"
    assert row["point"] not in set(after.segments["point"])
    assert after.orphans == ()
    assert after.decided == {row["point"]: no}


def test_decision_for_a_rejected_point(made):
    """The recording stops 45 s into the first level run: too short, but a person may insist."""
    cut = made.time_s < made.truth.levels[0][0] + 45
    channels = {name: values[cut] for name, values in made.channels.items()}
    made = dataclasses.replace(made, time_s=made.time_s[cut], channels=channels)
    row = first(found(made), "level run", used=False)
    assert row["reason"]
    after = found(made, [decision(row, use=True, reason="good enough")])
    changed = after.table[after.table["point"] == row["point"]].iloc[0]
    assert changed["used"]
    assert changed["reason"] == ""
    assert row["point"] in set(after.segments["point"])


def test_decision_about_bounds(made, points):
    row = first(points, "level run")
    after = found(made, [decision(row, start_s=row["start_s"] + 20, end_s=row["end_s"] - 15)])
    changed = after.segments[after.segments["point"] == row["point"]].iloc[0]
    assert changed["start_s"] == pytest.approx(row["start_s"] + 20)
    assert changed["end_s"] == pytest.approx(row["end_s"] - 15)


def test_decision_keeps_sub_second_bounds(made, points):
    """A table holds whole seconds; a brake release is known better."""
    row = first(points, "take-off")
    whole = decision(row, start_s=round(row["start_s"]), end_s=round(row["end_s"]), use=True)
    after = found(made, [whole])
    assert after.table.equals(points.table)


def test_decision_about_brake_release(made, points):
    row = first(points, "take-off")
    later = row["start_s"] + 2.0
    after = segment(found(made, [decision(row, start_s=later)]), "take-off")
    assert after["brake_release_s"] == pytest.approx(later)
    assert after["time_to_liftoff_s"] == pytest.approx(after["liftoff_s"] - later)


@pytest.mark.parametrize(("shift", "belongs"), [(0.0, True), (0.45, True), (0.55, False)])
def test_decision_belongs_where_it_overlaps_by_half(made, points, shift, belongs):
    row = first(points, "level run")
    moved = (row["end_s"] - row["start_s"]) * shift
    other = decision(row, point="F1-level run-000000", use=False, reason="rain",
                     start_s=row["start_s"] - moved, end_s=row["end_s"] - moved)  # fmt: skip
    after = found(made, [other])
    assert (after.orphans == ()) is belongs
    changed = after.table[after.table["point"] == row["point"]].iloc[0]
    assert bool(changed["used"]) is not belongs


def test_decision_of_another_kind_or_time_is_an_orphan_and_kept(made, points):
    row = first(points, "level run")
    other_kind = decision(row, point="x", kind="climb", use=False)
    long_gone = decision(row, point="y", start_s=0.0, end_s=100.0, use=False)
    after = found(made, [other_kind, long_gone])
    assert after.orphans == (other_kind, long_gone)
    assert after.table.equals(points.table)


def test_decision_without_times_goes_by_its_id(made, points):
    row = first(points, "climb")
    after = found(made, [decision(row, start_s=None, end_s=None, use=False, reason="gear")])
    changed = after.table[after.table["point"] == row["point"]].iloc[0]
    assert not changed["used"]


def test_decisions_of_other_flights_are_passed_over(made, points):
    row = first(points, "climb")
    other = dataclasses.replace(decision(row, use=False), flight="F2")
    after = found(made, [other])
    assert after.orphans == ()
    assert after.table.equals(points.table)


@pytest.mark.parametrize(
    "missing",
    [("power", "engine_speed"), ("heading", "track"), ("fuel_flow",), ("outside_air_temperature",),
     ("gps_altitude",), ("ground_speed", "track"), ("indicated_airspeed",),
     ("pressure_altitude",)],
)  # fmt: skip
def test_missing_channels_cost_only_what_needs_them(missing):
    points = found(make_flight(22, 1.0, Plan(missing=missing)))
    used = set(points.table.loc[points.table["used"], "kind"])
    expected = {"take-off", "climb", "level run"}
    if "ground_speed" in missing:
        expected -= {"take-off"}
    if {"indicated_airspeed", "pressure_altitude"} & set(missing):
        expected -= {"climb", "level run"}
    assert used == expected
    for name in missing:
        for column in {"fuel_flow": ("fuel_used_m3", "fuel_flow_m3s"),
                       "power": ("power_w", "roll_power_w")}.get(name, ()):  # fmt: skip
            assert points.segments[column].isna().all()


def test_nothing_recorded_gives_nothing():
    none = Recording("F1", np.array([]), {}, None, None, RowAccount(0, 0, {}), ())
    points = find_points(none, Flight("F1", "A", 2), campaign())
    assert len(points.table) == 0
    assert tuple(points.table.columns) == POINT_COLUMNS


def test_time_that_runs_backwards_is_refused(made):
    times = made.time_s.copy()
    times[100] = times[90]
    with pytest.raises(InputError, match=r"must not run backwards; got .* at index 100"):
        found(dataclasses.replace(made, time_s=times))


def test_points_of_flights_joined(points):
    both = join_points([points, points])
    assert len(both.table) == 2 * len(points.table)
    assert both.table["used"].dtype == bool
    assert set(TAKEOFF_COLUMNS) <= set(both.segments.columns)


def test_an_hour_at_ten_samples_a_second_is_quick():
    """Common machines are slower than this one: measured 0.2 s."""
    made = make_flight(23, 10.0, Plan(stop_and_go=True, slow_flight=True))
    repeat = int(np.ceil(36_000 / len(made.time_s)))
    span = made.time_s[-1] - made.time_s[0] + 0.1
    times = np.concatenate([made.time_s + turn * span for turn in range(repeat)])
    channels = {name: np.tile(values, repeat) for name, values in made.channels.items()}
    begun = time.process_time()
    points = found(dataclasses.replace(made, time_s=times, channels=channels))
    assert time.process_time() - begun < 2.0
    assert points.table["used"].sum() >= 3 * repeat
