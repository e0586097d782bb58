"""Checks of recordings in words: each oddity of position, air data and engine, invented and found.

The numbers in the names are those of the list of oddities counted in real recordings. A made flight
in which nothing is wrong is the other half: it must pass without a caution.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from stdday.channels import CHANNELS, find_channel
from stdday.columns import ChannelSource
from stdday.recording_channels import drop_spikes, to_channel
from stdday.recording_checks import CHECKS, FlightFacts, check_recording
from stdday.recording_checks_lags import estimate_lag
from stdday.recording_checks_north import magnetic_variation
from stdday.recording_checks_rows import spike_rows
from stdday.recording_checks_units import speed_factor
from stdday.recording_types import Finding, FloatArray
from tests.make_recording import ELEVATION_M, Channels, N, flight
from tests.read_invented import FT, KT, TEN, read, said

FACTS = FlightFacts(ELEVATION_M, 101_325.0, 78_000.0, 720.0)


def found(channels: Channels, time_s: FloatArray | None = None, *, track: str | None = "true",
          heading: str | None = "magnetic", facts: FlightFacts = FACTS) -> list[Finding]:
    time_s = flight()[0] if time_s is None else time_s
    return check_recording(time_s, channels, track, heading, facts)


def one(findings: list[Finding], words: str) -> Finding:
    """The one finding with these words; it says what it spoils."""
    chosen = [finding for finding in findings if words in finding.what]
    assert len(chosen) == 1, [str(finding) for finding in findings]
    assert chosen[0].spoils
    assert chosen[0].sure in ("sure", "likely", "possible")
    return chosen[0]


@pytest.mark.parametrize("seed", range(12))
def test_a_flight_in_which_nothing_is_wrong_has_no_caution(seed: int) -> None:
    time_s, channels = flight(seed)
    findings = found(channels, time_s)
    assert [str(finding) for finding in findings if finding.level == "caution"] == []


def test_no_check_changes_a_sample_or_needs_a_channel() -> None:
    time_s, channels = flight()
    before = {name: samples.copy() for name, samples in channels.items()}
    found(channels)
    assert all(np.array_equal(before[name], samples) for name, samples in channels.items())
    for missing in channels:
        found({name: samples for name, samples in channels.items() if name != missing})
    for alone in itertools.combinations(channels, 2):
        found({name: channels[name] for name in alone})
    assert check_recording(np.empty(0), {}) == []
    assert check_recording(time_s[:5], {name: samples[:5] for name, samples in channels.items()}
                           ) == []
    empty = {name: np.full(N, np.nan) for name in channels}
    assert found(empty) == []
    constant = {name: np.full(N, 1.0) for name in channels}
    assert all(finding.spoils for finding in found(constant))


def test_every_check_is_in_the_list_once() -> None:
    names = [check.__name__ for check in CHECKS]
    assert len(names) == len(set(names)) == 21


# ---------------------------------------------------------------- satellite


def test_20_power_up_rows_without_a_position_are_missing_and_no_fault() -> None:
    _, channels = flight()
    for name in ("latitude", "longitude", "ground_speed", "track", "gps_altitude"):
        channels[name][:23] = np.nan
        channels[name][1000:1018] = np.nan
    assert not [item for item in found(channels) if item.level == "caution"]


def test_21_a_position_of_zero(tmp_path: Path) -> None:
    columns = ('delimiter = ","\nheader_rows = [1]\ntime = { columns = ["t"], format = "epoch '
               'seconds" }\n[channels]\nlatitude = { column = "lat", unit = "deg" }\n'
               'longitude = { column = "lon", unit = "deg" }\n'
               'ground_speed = { column = "gs", unit = "kt" }\n'
               'gps_altitude = { column = "alt", unit = "ft" }\n')
    text = (f"t,lat,lon,gs,alt\n{TEN},0,0,36,-33\n{TEN + 1},50,8,20,400\n"
            f"{TEN + 2},50,8,20,401\n")
    recording = read(tmp_path, text, columns)
    for name in ("latitude", "longitude", "ground_speed", "gps_altitude"):
        assert np.isnan(recording.channels[name]).tolist() == [True, False, False]
    assert "the position is 0, 0 in 1 rows" in said(recording)


def test_22_ground_speed_spikes_and_wrong_satellite_altitude() -> None:
    _, channels = flight()
    speed = channels["ground_speed"].copy()
    speed[1000:1010] = np.nan
    speed[1010:1013] = 563.0 * KT
    kept, dropped = drop_spikes(np.arange(float(N)), speed)
    assert dropped == 3
    assert np.isnan(kept[1010:1013]).all()
    channels["gps_altitude"][1010:1020] += 800.0 * FT
    finding = one(found(channels), "gps_altitude part")
    assert "in 10 rows" in finding.what


def test_23_a_track_of_minus_one_is_told() -> None:
    values = np.array([-1.0] * 30 + [10.0, 350.0, 7.0])
    _, findings = to_channel(ChannelSource(CHANNELS["track"], "Trk", "deg", "true"), values,
                             (math.pi / 180.0, 0.0), None, "one.csv")
    assert "track is -1 in 30 rows and never otherwise below 0" in findings[0].what
    assert 'missing = ["-1"]' in findings[0].spoils


def test_23_which_north_heading_and_track_are_counted_from() -> None:
    # the world magnetic model at 38 N 122 W in May 2024, by the model's own calculator: 12.9 deg
    assert math.degrees(magnetic_variation(38.0, -122.0, 500.0, 2024.3)) == pytest.approx(12.9,
                                                                                          abs=0.3)
    _, channels = flight()
    assert not [item for item in found(channels) if "heading" in item.what and "said" in item.what]
    wrong = one(found(channels, heading="true"), "heading is said to be true")
    assert wrong.sure == "likely"
    assert "-13 deg from the course of track" in wrong.what
    open_ = one(found(channels, heading=None), "heading fits magnetic north")
    assert (open_.level, open_.sure) == ("note", "possible")
    track = one(found(channels, track="magnetic"), "track is said to be magnetic")
    assert "+0 deg from the course of the positions" in track.what
    fits = one(found(channels, track=None), "track fits true north")
    assert 'write reference = "true"' in fits.spoils
    channels["track"] = np.mod(channels["track"] - math.radians(13.0), 2 * math.pi)
    assert one(found(channels), "track is said to be true").sure == "likely"
    assert not [item for item in found(channels, track="magnetic") if "track is said" in item.what]


def test_23_directions_that_wrap_at_north_are_no_jump() -> None:
    _, channels = flight()
    channels["track"] = np.mod(channels["track"] + 0.0, 2 * math.pi)
    assert not [item for item in found(channels) if item.what.startswith("track leaves")]


@pytest.mark.parametrize("offset_ft", [-64.0, 0.0, 136.0])
def test_24_satellite_altitude_off_by_what_is_usual_is_no_fault(offset_ft: float) -> None:
    _, channels = flight()
    channels["gps_altitude"] += offset_ft * FT
    assert not [item for item in found(channels) if item.level == "caution"]


def test_25_ellipsoid_altitude_and_a_floor_mark() -> None:
    _, channels = flight()
    channels["gps_altitude"] += 88.0 * FT
    assert not [item for item in found(channels) if item.level == "caution"]
    channels["gps_altitude"] = np.full(N, -9999.0)
    samples, findings = to_channel(ChannelSource(CHANNELS["gps_altitude"], "alt", "m"),
                                   channels["gps_altitude"], (1.0, 0.0), None, "one.csv")
    assert np.isnan(samples).all()
    assert "-9999 in the file" in findings[0].what


def test_26_altitude_in_steps_and_filled_speeds_are_no_fault() -> None:
    _, channels = flight()
    for name in ("gps_altitude", "pressure_altitude", "indicated_altitude"):
        channels[name] = np.round(channels[name] / (100 * FT)) * 100 * FT
    assert not [item for item in found(channels) if item.level == "caution"]


# ---------------------------------------------------------------- air data


@pytest.mark.parametrize(("jump_ft", "level"), [(7.0, "note"), (47.0, "caution")])
def test_27_static_pressure_jumps_when_power_is_applied(jump_ft: float, level: str) -> None:
    time_s, channels = flight()
    rolling = (time_s - TEN > 201) & (time_s - TEN < 220)
    for name in ("pressure_altitude", "indicated_altitude"):
        channels[name] = np.round(channels[name] + rolling * jump_ft * FT, 1)
    finding = one(found(channels), "when power is applied with the wheels on the ground")
    assert finding.level == level
    reads = float(finding.what.split("moves by +")[1].split(" ft")[0])
    assert reads == pytest.approx(jump_ft, abs=5.0)
    assert "cannot tell lift-off" in finding.spoils


def test_28_airspeed_that_rests_at_zero_or_at_25_kt_is_no_fault() -> None:
    _, channels = flight()
    slow = channels["ground_speed"] < 10.0
    for rest in (0.0, -0.5, 12.0):
        channels["indicated_airspeed"][slow] = rest
        channels["true_airspeed"][slow] = -1.0 * KT
        assert not [item for item in found(channels) if "airspeed" in item.what
                    and item.level == "caution"]


def test_29_an_altimeter_turned_on_the_ground_without_its_setting() -> None:
    _, channels = flight()
    channels["indicated_altitude"] = channels.pop("pressure_altitude")
    del channels["altimeter_setting"]
    channels["indicated_altitude"][:80] -= 197.0 * FT
    finding = one(found(channels), "as where the altimeter is turned")
    assert "197 ft" in finding.what or "196 ft" in finding.what or "199 ft" in finding.what
    assert "10:01:20 UTC" in finding.what


def test_29_an_altimeter_turned_in_flight() -> None:
    _, channels = flight()
    channels["pressure_altitude"][1000:] += 60.0
    finding = one(found(channels), "and stays there")
    assert "10:16:40 UTC" in finding.what
    assert finding.sure == "possible"


def test_30_a_setting_that_is_wrong_on_the_ground() -> None:
    _, channels = flight()
    low = {**channels, "indicated_altitude": channels["indicated_altitude"] - 200.0 * FT}
    finding = one(found(low), "below the field's elevation")
    assert "200 ft" in finding.what
    # without the elevation satellite altitude must do
    del low["pressure_altitude"]
    unknown = found(low, facts=FlightFacts())
    assert one(unknown, "below gps_altitude").sure == "possible"
    # pressure altitude by elevation and the flight's setting: 1 hPa is about 27 ft near the ground
    off = FlightFacts(ELEVATION_M, 102_325.0)
    only = {name: channels[name] for name in ("ground_speed", "pressure_altitude")}
    assert one(found(only, facts=off), "what the field's elevation and altimeter setting give")
    recorded = one(found(channels, facts=off), "that of flights.csv 1023.2 hPa")
    assert "1013.2 hPa" in recorded.what


def test_31_a_heat_soaked_probe() -> None:
    time_s, channels = flight()
    soaked = np.interp(time_s - TEN, [0, 225, 300], [2.6, 2.6, 0.0])
    channels["outside_air_temperature"] += soaked
    finding = one(found(channels), "above what the air climbed through gives")
    reads = float(finding.what.split("take-off, ")[1].split(" K")[0])
    assert reads == pytest.approx(2.6, abs=0.4)


def test_31_a_disconnected_probe_at_46_below_zero() -> None:
    _, channels = flight()
    channels["outside_air_temperature"] = np.full(N, 227.15)
    findings = found(channels)
    assert one(findings, "outside_air_temperature stands at -46.0 degC").level == "caution"
    assert one(findings, "K from the standard atmosphere").sure == "likely"
    partly = flight()[1]
    partly["outside_air_temperature"][1000:1100] = 227.15
    assert "in 100 rows" in one(found(partly), "exactly -46.0 degC").what


@pytest.mark.parametrize(("late", "early", "lag"), [
    ("pressure_altitude", "gps_altitude", 1.0), ("fuel_flow", "engine_speed", 2.0),
    ("indicated_airspeed", "ground_speed", 1.5)])
def test_32_lags_are_estimated_with_their_uncertainty(late: str, early: str, lag: float) -> None:
    rng = np.random.default_rng(5)
    time_s = np.arange(7200.0)
    walk = np.convolve(rng.standard_normal(7300), np.hanning(31), "same")
    early_signal = 50.0 + np.interp(time_s, np.arange(7300.0), walk)
    late_signal = 50.0 + np.interp(time_s - lag, np.arange(7300.0), walk)
    late_signal += 0.02 * walk.std() * rng.standard_normal(7200)
    estimate = estimate_lag(time_s, late_signal, early_signal, 1.0)
    assert estimate is not None
    assert estimate.late_s == pytest.approx(lag, abs=0.1)
    assert abs(estimate.late_s - lag) < 4.0 * estimate.sigma_s + 0.02
    notes = check_recording(TEN + time_s, {late: late_signal, early: early_signal})
    finding = one(notes, "comes")
    assert (finding.level, finding.sure) == ("note", "likely")
    assert "(sigma 0.3 s)" in finding.what  # filters and wind shift all pieces alike


def test_32_signals_that_have_nothing_to_do_with_each_other_have_no_lag() -> None:
    rng = np.random.default_rng(5)
    assert estimate_lag(np.arange(3000.0), *rng.standard_normal((2, 3000)), 1.0) is None


def test_33_airspeed_through_zero_is_no_spike() -> None:
    _, channels = flight()
    for name in ("indicated_airspeed", "true_airspeed", "ground_speed"):
        channels[name][1000:1013] = np.abs(np.linspace(-1.0, 1.0, 13)) * channels[name][1000]
    assert not [item for item in found(channels) if "leaves its neighbours" in item.what]


def test_34_acceleration_of_either_convention_is_told(tmp_path: Path) -> None:
    columns = ('delimiter = ","\nheader_rows = [1]\ntime = { columns = ["t"], format = "epoch '
               'seconds" }\n[channels]\nnormal_acceleration = { column = "G", unit = "g" }\n')
    text = "t,G\n" + "".join(f"{TEN + row},0.01\n" for row in range(4))
    assert "where level flight is 1 g" in said(read(tmp_path, text, columns))


def test_35_directions_of_either_convention_come_to_one_circle(tmp_path: Path) -> None:
    columns = ('delimiter = ","\nheader_rows = [1]\ntime = { columns = ["t"], format = "epoch '
               'seconds" }\n[channels]\n'
               'heading = { column = "H", unit = "deg", reference = "magnetic" }\n')
    text = "t,H\n" + "".join(f"{TEN + row},{value}\n" for row, value in
                             enumerate((-90, 270, "", 180, -180)))
    heading = np.degrees(read(tmp_path, text, columns).channels["heading"])
    np.testing.assert_allclose(heading, [270.0, 270.0, np.nan, 180.0, 180.0])


def test_36_coarse_steps_are_no_fault() -> None:
    _, channels = flight()
    for name, step in (("true_airspeed", KT), ("track", math.radians(1.0)), ("engine_speed", 1 / 6),
                       ("fuel_quantity", 3.785e-3)):
        channels[name] = np.round(channels[name] / step) * step
    assert not [item for item in found(channels) if item.level == "caution"]


# ---------------------------------------------------------------- engine


def test_37_absent_channels_are_no_fault() -> None:
    _, channels = flight()
    for name in ("manifold_pressure", "power", "cylinder_head_temperature"):
        del channels[name]
    assert not [item for item in found(channels) if item.level == "caution"]


def test_38_disconnected_probes() -> None:
    _, channels = flight()
    f_to_k = (2034.0 - 32.0) / 1.8 + 273.15
    channels["exhaust_gas_temperature_4"] = np.full(N, f_to_k)
    channels["exhaust_gas_temperature_5"] = 800.0 + 0.5 * np.sin(np.arange(N))
    channels["cylinder_head_temperature_5"] = (1410.0 - 32.0) / 1.8 + 273.15 + np.arange(N) % 3
    findings = found(channels)
    assert "hotter than an engine can be" in one(findings, "exhaust_gas_temperature_4 reads").what
    assert "hotter than an engine can be" in one(findings, "cylinder_head_temperature_5 reads").what
    assert one(findings, "exhaust_gas_temperature_5 hardly moves").sure == "likely"


@pytest.mark.parametrize("mark", [-1777.0, 2055.0, 359_940.0, -2040.0])
def test_38_marks_out_of_bounds_are_missing_and_counted(mark: float) -> None:
    channel = find_channel("cylinder_head_temperature_5")
    assert channel is not None
    values = np.array([180.0, mark, mark])
    samples, findings = to_channel(ChannelSource(channel, "CHT5", "degC"), values, (1.0, 273.15),
                                   None, "one.csv")
    assert np.isnan(samples).tolist() == [False, True, True]
    assert "2 of 3 samples" in findings[0].what


def test_38_fuel_flow_with_the_engine_standing() -> None:
    _, channels = flight()
    channels["engine_speed"][:3] = 0.0
    channels["fuel_flow"][:3] = 40.0 / 3.6e6
    assert "in 3 rows" in one(found(channels), "with engine_speed 0").what


def test_39_text_in_numeric_columns_is_missing_and_told(tmp_path: Path) -> None:
    columns = ('delimiter = ","\nheader_rows = [1]\ntime = { columns = ["t"], format = "epoch '
               'seconds" }\n[channels]\nfuel_flow = { column = "F", unit = "L/h" }\n')
    cells = ("18.5", "118.500 RX", "0x1F", "*", "TOTAL   : 18.49", "99:59", "-0.0")
    text = "t,F\n" + "".join(f"{TEN + row},{cell}\n" for row, cell in enumerate(cells))
    recording = read(tmp_path, text, columns)
    assert np.isnan(recording.channels["fuel_flow"]).tolist() == [False, *[True] * 5, False]
    assert "5 cells of fuel_flow hold no number ('118.500 RX' in line 3" in said(recording)


def test_40_short_frozen_runs_are_normal_and_long_ones_are_told() -> None:
    _, channels = flight()
    normal = {**channels, "indicated_airspeed": np.repeat(channels["indicated_airspeed"][::3], 3),
              "heading": np.repeat(channels["heading"][::10], 10)}
    assert not [item for item in found(normal) if "stands at" in item.what]
    channels["indicated_airspeed"][1000:1200] = channels["indicated_airspeed"][1000]
    finding = one(found(channels), "indicated_airspeed stands at")
    assert "for 199 s from 10:16:40 UTC" in finding.what
    assert finding.sure == "likely"


def test_40_a_temperature_of_84_in_all_rows_is_told_and_a_frequency_is_not() -> None:
    _, channels = flight()
    channels["oil_temperature"] = np.full(N, 357.15)
    assert one(found(channels), "oil_temperature stands at 84.0 degC for 2399 s")
    assert not [item for item in found(channels) if "altimeter_setting stands" in item.what]


# ---------------------------------------------------------------- units


SPEED_SLIPS = [(1.852, "km/h taken for kt"), (1 / 1.852, "km/h taken for kt"),
               (1.1508, "kt taken for mph"), (1 / 1.1508, "kt taken for mph"),
               (1.9438, "m/s taken for kt")]


@pytest.mark.parametrize(("factor", "words"), SPEED_SLIPS)
@pytest.mark.parametrize("name", ["indicated_airspeed", "ground_speed"])
def test_a_speed_in_another_unit(factor: float, words: str, name: str) -> None:
    _, channels = flight()
    channels[name] = channels[name] * factor
    findings = found(channels)
    finding = one(findings, "ground_speed in flight")
    assert words in finding.what or factor > 1.9
    assert finding.sure == "likely"
    if name == "ground_speed":
        assert one(findings, "as fast as ground_speed says").sure == "likely"


def test_the_wind_does_not_look_like_a_unit() -> None:
    # 25 m/s of wind on a 50 m/s airplane, flown round the compass, and one way only
    heading = np.linspace(0.0, 6.0, 500)
    east, north = 50.0 * np.sin(heading) + 25.0, 50.0 * np.cos(heading)
    factor, sigma = speed_factor(np.full(500, 50.0), np.hypot(east, north),
                                 np.arctan2(east, north))
    assert factor == pytest.approx(1.0, abs=0.01)
    assert sigma < 0.01
    one_way = speed_factor(np.full(500, 50.0), np.full(500, 62.0), np.full(500, 1.0))
    assert np.isnan(one_way).all()


@pytest.mark.parametrize("factor", [3.2808, 1 / 3.2808])
@pytest.mark.parametrize("name", ["gps_altitude", "pressure_altitude"])
def test_an_altitude_in_another_unit(factor: float, name: str) -> None:
    _, channels = flight()
    channels[name] = channels[name] * factor
    channels.pop("indicated_altitude")
    assert "ft and m exchanged" in one(found(channels), "times as much as gps_altitude").what


@pytest.mark.parametrize(("factor", "words"), [
    (196.85, "ft/min"), (1 / 196.85, "ft/min"), (3.2808, "ft and m"), (60.0, "per minute")])
def test_a_vertical_speed_in_another_unit(factor: float, words: str) -> None:
    _, channels = flight()
    channels["vertical_speed"] = channels["vertical_speed"] * factor
    assert words in one(found(channels), "times the slope of").what


def test_a_temperature_in_another_unit() -> None:
    _, channels = flight()
    celsius = channels["outside_air_temperature"] - 273.15
    as_celsius = {**channels, "outside_air_temperature": celsius * 1.8 + 32.0 + 273.15}
    assert "degF taken for degC" in one(found(as_celsius), "from the standard atmosphere").spoils
    as_fahrenheit = {**channels, "outside_air_temperature": (celsius - 32.0) / 1.8 + 273.15}
    assert "degC taken for degF" in one(found(as_fahrenheit), "from the standard atmosphere").spoils


@pytest.mark.parametrize("off", [-15.0, 20.0])
def test_a_cold_or_hot_day_is_no_unit(off: float) -> None:
    _, channels = flight()
    channels["outside_air_temperature"] += off
    assert not [item for item in found(channels) if "standard atmosphere" in item.what]


@pytest.mark.parametrize(("factor", "words"), [
    (3.7854, "US gal and L"), (1 / 3.7854, "US gal and L"), (2.2046, "lb and kg"),
    (1 / 2.2046, "lb and kg")])
def test_a_fuel_flow_in_another_unit(factor: float, words: str) -> None:
    _, channels = flight()
    channels["fuel_flow"] = channels["fuel_flow"] * factor
    assert words in one(found(channels), "specific consumption").what
    if factor > 3.0:  # without power, the rated power tells
        del channels["power"]
        assert one(found(channels), "at rated power")


def test_fuel_flow_against_the_quantity_that_goes_down() -> None:
    _, channels = flight()
    channels["fuel_flow"] = channels["fuel_flow"] * 3.7854
    del channels["power"]
    finding = one(found(channels, facts=FlightFacts()), "fuel_quantity goes down by")
    assert "US gal and L exchanged" in finding.what


def test_a_manifold_pressure_in_another_unit() -> None:
    _, channels = flight()
    channels["manifold_pressure"] = channels["manifold_pressure"] / 3.3864  # inHg read as kPa
    assert one(found(channels), "times the pressure of the air outside").sure == "likely"


def test_the_true_airspeed_of_the_panel_in_another_unit() -> None:
    _, channels = flight()
    channels["true_airspeed"] = channels["true_airspeed"] * 1.1508
    assert "kt taken for mph" in one(found(channels), "what indicated_airspeed gives").what


# ---------------------------------------------------------------- spikes and jumps


def test_spikes_of_one_to_three_rows_are_counted() -> None:
    _, channels = flight()
    channels["pressure_altitude"][[900, 1500]] += 600.0
    channels["pressure_altitude"][1700:1703] -= 500.0
    finding = one(found(channels), "pressure_altitude leaves its neighbours")
    assert "3 times" in finding.what
    assert "10:15:00 UTC" in finding.what
    assert list(spike_rows(np.arange(20.0), np.array([1.0, 1, 9, 1, 1, 9, 9] + [1] * 13), 5.0)
                ) == [2, 5]
    step = np.repeat([1.0, 9.0], 10)
    assert spike_rows(np.arange(20.0), step, 5.0).size == 0


def test_a_position_that_jumps() -> None:
    _, channels = flight()
    channels["latitude"][1000] += 0.3
    assert "jumps 2 times" in one(found(channels), "the position jumps").what
    swapped = flight()[1]
    swapped["latitude"], swapped["longitude"] = swapped["longitude"] / 2, swapped["latitude"]
    assert one(found(swapped), "as fast as ground_speed says")


def test_the_magnetic_model_knows_its_years() -> None:
    # test values published with the model: 2020.0, 80 N 0 E: -1.28 deg; 0 N 120 E: 0.16 deg
    assert math.degrees(magnetic_variation(80.0, 0.0, 0.0, 2020.0)) == pytest.approx(-1.28, abs=.01)
    assert math.degrees(magnetic_variation(0.0, 120.0, 0.0, 2020.0)) == pytest.approx(.16, abs=.01)
    assert magnetic_variation(50.0, 8.0, 0.0, 2009.9) is None
    assert magnetic_variation(50.0, 8.0, 0.0, 2030.0) is None
    assert magnetic_variation(89.9, 8.0, 0.0, 2024.0) is None


# ---------------------------------------------------------------- flight content


def cut(rows: slice) -> list[Finding]:
    time_s, channels = flight()
    return found({name: samples[rows] for name, samples in channels.items()}, time_s[rows])


@pytest.mark.parametrize("rows", [slice(400, None), slice(None, 1500), slice(700, 1500)])
def test_46_recordings_that_start_or_end_in_flight_are_no_fault(rows: slice) -> None:
    assert not [str(item) for item in cut(rows) if item.level == "caution"]


def test_47_a_landing_at_a_lower_field_is_no_fault() -> None:
    _, channels = flight()
    ramp = np.interp(np.arange(N), [1000, 1600], [0.0, -52.0 * FT])
    for name in ("gps_altitude", "pressure_altitude", "indicated_altitude"):
        channels[name] = channels[name] + ramp
    assert not [str(item) for item in found(channels) if item.level == "caution"]


def test_43_slow_flight_into_the_wind_is_no_fault() -> None:
    _, channels = flight()
    channels["ground_speed"][1000:1060] = 15.0
    words = [item.what for item in found(channels) if item.level == "caution"]
    # the wind would have to change by 35 m/s: what is told is that ground speed is not what it was
    assert not [text for text in words if "altitude" in text or "temperature" in text]
