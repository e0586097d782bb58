"""Columns proposals on invented recordings of many shapes, and what they must never claim."""

from __future__ import annotations

import dataclasses
import gzip
import tomllib

import numpy as np
import pytest

from stdday.channels import CHANNELS
from stdday.columns import load_columns
from stdday.errors import CampaignError, StddayError
from stdday.propose import propose, propose_bytes
from stdday.propose_layout import read_sheet
from stdday.propose_toml import columns_toml
from stdday.propose_units import header_unit, split_unit
from stdday.propose_words import north_of, word_scores
from stdday.recording import FlightSource, read_source
from tests.recordings.mixed import random_shape
from tests.recordings.scored import score, scored
from tests.recordings.shapes import HELD_OUT, SHAPES, Col, make

ALL = (*SHAPES, *HELD_OUT)
BY_KEY = {shape.key: shape for shape in ALL}


@pytest.fixture(scope="module")
def results():
    made = {shape.key: make(shape) for shape in ALL}
    return {key: (one, propose_bytes(one.content, "recording.csv")) for key, one in made.items()}


def test_there_are_twenty_shapes_and_half_of_them_were_held_out():
    assert len(SHAPES) + len(HELD_OUT) >= 20
    assert len(HELD_OUT) >= 0.45 * len(ALL)


@pytest.mark.parametrize("shapes", [SHAPES, HELD_OUT], ids=["developed with", "held out"])
def test_at_least_95_percent_of_the_channels_that_matter_are_right(results, shapes):
    scores = [scored(*results[shape.key]) for shape in shapes]
    right, every = sum(one.right for one in scores), sum(one.channels for one in scores)
    assert right >= 0.95 * every, [one.failures for one in scores]


@pytest.mark.parametrize("key", BY_KEY)
def test_nothing_is_wrong_and_sure(results, key):
    assert scored(*results[key]).sure_wrong == ()


@pytest.mark.parametrize("key", BY_KEY)
def test_it_is_read_as_it_was_flown(results, key, tmp_path):
    """The file that is saved reads the recording: every row, the right seconds."""
    made, proposal = results[key]
    log, columns = tmp_path / "one.csv", tmp_path / "recorder.toml"
    log.write_bytes(made.content)
    columns.write_text(columns_toml(proposal), encoding="utf-8")
    read = load_columns(columns)
    assert not read.confirmed
    recording = read_source(FlightSource("F", (("one.csv", log),), (read,),
                                         made.flight.start.date(), None, 0.0, 85_000.0, 720.0))
    assert recording.rows.used == recording.rows.in_file == made.time_s.size
    elapsed = recording.time_s - recording.time_s[0]
    assert elapsed == pytest.approx(made.time_s - made.time_s[0], abs=0.5)
    if proposal.time.dated and proposal.time.confidence != "ask":
        assert recording.time_s[0] == pytest.approx(made.time_s[0], abs=0.5)


@pytest.mark.parametrize("seed", range(40_000, 40_040))
def test_words_and_layouts_mixed_at_random_are_never_wrong_and_sure(seed):
    result = score(make(random_shape(seed)))
    assert result.sure_wrong == ()
    assert result.likely_wrong == ()


# ---- what makes it doubt ------------------------------------------------------------------------


def changed(key, place, **change):
    """A shape with one column changed."""
    shape = BY_KEY[key]
    columns = list(shape.columns)
    columns[place] = dataclasses.replace(columns[place], **change)
    return dataclasses.replace(shape, columns=tuple(columns))


def confidence_of(shape, channel):
    proposal = propose_bytes(make(shape).content, "recording.csv")
    item = next((one for one in proposal.channels if one.channel == channel), None)
    return item.confidence if item is not None else "none"


ENGLISH = "english, one row, units in brackets"
ENGLISH_SHAPE = BY_KEY[ENGLISH]


@pytest.mark.parametrize(("place", "channel", "unit", "said"), [
    (5, "ground_speed", "km/h", "kt"),
    (5, "ground_speed", "mph", "kt"),
    (7, "indicated_airspeed", "km/h", "kt"),
    (7, "indicated_airspeed", "mph", "kt"),
    (8, "true_airspeed", "km/h", "kt"),
    (9, "pressure_altitude", "m", "ft"),
    (10, "vertical_speed", "m/s", "fpm"),
    (13, "manifold_pressure", "kPa", "inHg"),
])
def test_a_unit_that_the_numbers_contradict_is_not_sure(place, channel, unit, said):
    """The header says one unit, the numbers are in another."""
    assert confidence_of(changed(ENGLISH, place, unit=unit, said=said), channel) in ("ask", "none")


def test_airspeeds_with_their_names_exchanged_are_asked_about():
    shape = changed(ENGLISH, 7, holds="true_airspeed")
    columns = list(shape.columns)
    columns[8] = dataclasses.replace(columns[8], holds="indicated_airspeed")
    shape = dataclasses.replace(shape, columns=tuple(columns))
    assert confidence_of(shape, "indicated_airspeed") == "ask"
    assert confidence_of(shape, "true_airspeed") == "ask"


@pytest.mark.parametrize("value", ["1013.2", "29.92"])
def test_a_column_that_reads_a_pressure_is_no_airspeed(value):
    rows = "".join(f"10:{n // 60:02d}:{n % 60:02d},{value},{n % 90}\n" for n in range(300))
    proposal = propose_bytes(f"UTC,Airspeed [kt],Baro\n{rows}".encode(), "one.csv")
    assert all(item.channel != "indicated_airspeed" or item.confidence == "ask"
               for item in proposal.channels)


def test_true_or_magnetic_is_asked_where_the_words_do_not_say():
    proposal = propose_bytes(make(BY_KEY[ENGLISH]).content, "one.csv")
    track = next(item for item in proposal.channels if item.channel == "track")
    assert track.reference is None
    assert "true or magnetic" in track.question


def test_a_bare_gallon_is_asked_about():
    shape = changed(ENGLISH, 14, said="gal/hr")
    assert confidence_of(shape, "fuel_flow") == "ask"


def test_one_tank_of_two_is_not_the_fuel_quantity():
    proposal = propose_bytes(make(SHAPES[1]).content, "one.csv")
    fuel = [item for item in proposal.channels if item.channel == "fuel_quantity"]
    assert [item.confidence for item in fuel] in ([], ["ask"])


def test_without_a_time_column_the_interval_is_asked_for():
    proposal = propose_bytes(make(BY_KEY["no time column; UTF-16 without a mark"]).content, "a.csv")
    assert proposal.time.columns == ()
    assert proposal.time.confidence == "ask"
    assert "from one row to the next" in proposal.time.question


def test_day_and_month_that_could_be_exchanged_are_asked_about():
    rows = "".join(f"03/04/2025,10:{n // 60:02d}:{n % 60:02d},{n}\n" for n in range(100))
    time = propose_bytes(f"Date,UTC,IAS [kt]\n{rows}".encode(), "one.csv").time
    assert time.confidence == "ask"
    assert "swapped" in time.question


def test_where_nothing_has_a_name_nothing_but_the_position_is_sure():
    proposal = propose_bytes(make(BY_KEY["no header at all"]).content, "one.csv")
    assert not [item for item in proposal.channels if item.confidence == "sure"]
    assert {"latitude", "longitude", "ground_speed"} <= {item.channel for item in proposal.channels}


def test_an_acceleration_of_zero_in_level_flight_gets_its_offset():
    proposal = propose_bytes(make(SHAPES[1]).content, "one.csv")
    load = next(item for item in proposal.channels if item.channel == "normal_acceleration")
    assert load.offset == "1 g"


def test_minus_one_is_a_missing_track():
    proposal = propose_bytes(make(SHAPES[11]).content, "one.csv")
    track = next(item for item in proposal.channels if item.channel == "track")
    assert track.missing == ("-1",)


# ---- layout -------------------------------------------------------------------------------------

BODY = [f"{n},{60 + n % 50},{1000 + n}" for n in range(60)]


@pytest.mark.parametrize(("header", "names", "unit_row", "depth"), [
    ([], (), None, 0),
    (["time s,IAS,Alt"], (1,), None, 1),
    (["IAS test", "time,IAS,Altitude", "s,kt,ft"], (2,), 3, 3),
    (["#s,kt,ft", "#time,IAS,Altitude"], (2,), 1, 2),
    (["Recorder: one", "Flight: 2", "", "time,IAS,Altitude"], (4,), None, 4),
    (["time,IAS,Altitude", "", ""], (1, 3), None, 3),
    ([f"key {n}: value" for n in range(9)] + ["", "time,IAS,Altitude"], (11,), None, 11),
])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_header_is_found(header, names, unit_row, depth, end, encoding):
    text = end.join([*header, *BODY]) + end
    layout = read_sheet(text.encode(encoding), "one.csv").layout
    assert (layout.header_rows, layout.unit_row, layout.depth) == (names, unit_row, depth)


@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", ","), (";", "."),
                                                    ("\t", ","), ("|", ".")])
def test_delimiter_and_decimal_mark_are_found(delimiter, decimal):
    rows = [[f"{n / 3:.2f}".replace(".", decimal), f"{n * 1.5:.1f}".replace(".", decimal)]
            for n in range(50)]
    text = "\n".join(delimiter.join(row) for row in [["t", "IAS"], *rows]) + "\n"
    layout = read_sheet(text.encode(), "one.csv").layout
    assert (layout.delimiter, layout.decimal) == (delimiter, decimal)


@pytest.mark.parametrize("content", [b"", b"\n\n\n", b"\x00\x01\x02" * 900, b"one line",
                                     b"only\nwords\nhere\n", b"PK\x03\x04 broken",
                                     gzip.compress(b"a,b\n1,2\n")[:-6]])
def test_what_is_no_table_is_refused_in_words(content):
    with pytest.raises(CampaignError, match="Mend:"):
        propose_bytes(content, "one.csv")


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(CampaignError, match="no such file"):
        propose(tmp_path / "none.csv")


# ---- words and units ----------------------------------------------------------------------------


@pytest.mark.parametrize(("words", "channel"), [
    ("Indicated Airspeed", "indicated_airspeed"), ("Fahrtmesser", "indicated_airspeed"),
    ("Vitesse indiquée", "indicated_airspeed"), ("GndSpd", "ground_speed"),
    ("Geschwindigkeit über Grund", "ground_speed"), ("Vitesse sol", "ground_speed"),
    ("Druckhöhe", "pressure_altitude"), ("Öltemperatur", "oil_temperature"),
    ("Außentemperatur", "outside_air_temperature"), ("Régime moteur", "engine_speed"),
    ("Régime hélice", "propeller_speed"), ("E1 CHT3", "cylinder_head_temperature"),
    ("fuelFlow", "fuel_flow"), ("Steuerkurs", "heading"), ("course over ground", "track"),
])
def test_words_of_three_languages(words, channel):
    scores = word_scores(words)
    assert max(scores, key=scores.__getitem__) == channel


@pytest.mark.parametrize("words", ["Wind Speed", "Selected Altitude", "Density Altitude", "AGL",
                                   "Windgeschwindigkeit", "Heading Bug", "AltSel", "LatAcc",
                                   "Crosswind", "GPS Satellites"])
def test_words_of_something_else(words):
    assert all(score < 2.0 for score in word_scores(words).values())


@pytest.mark.parametrize(("text", "unit"), [
    ("KIAS", "kt"), ("°C", "°C"), ("U/min", "rpm"), ("tr/min", "rpm"), ("l/std", "L/h"),
    ("in-Hg", "in-Hg"), ("noeuds", "kt"), ("deg mag", "deg"), ("ft MSL", "ft"),
])
def test_units_as_recorders_write_them(text, unit):
    assert header_unit(text).unit == unit


@pytest.mark.parametrize(("name", "words", "unit"), [
    ("IAS [kt]", "IAS", "kt"), ("Alt;ft", "Alt", "ft"), ("vs_fpm", "vs", "fpm"),
    ("Temp (°C) left", "Temp left", "°C"), ("oilTempC", "oilTemp", "C"), ("Fuel / L/h", "Fuel",
                                                                        "L/h"),
    ("Track (true)", "Track (true)", ""),
])
def test_units_in_names(name, words, unit):
    assert split_unit(name)[:2] == (words, unit)


def test_north_is_taken_from_words_only():
    assert [north_of(text) for text in ("Hdg mag", "rw Kurs", "Track", "cap magnétique")] == [
        "magnetic", "true", None, "magnetic"]


# ---- the file written ---------------------------------------------------------------------------


def test_the_columns_file_is_toml_with_reasons_and_not_confirmed(results):
    _, proposal = results[ENGLISH]
    text = columns_toml(proposal)
    tree = tomllib.loads(text)
    assert tree["confirmed"] is False
    assert tree["channels"]["ground_speed"] == {"column": "Groundspeed (kt)", "unit": "kt"}
    assert "# sure: the words 'Groundspeed'" in text
    assert "# QUESTION: Is track" in text


def test_where_no_channel_is_found_nothing_is_written():
    rows = "".join(f"2025-01-01T10:00:{n:02d}Z,{n % 3},x\n" for n in range(60))
    proposal = propose_bytes(f"UTC,Squawk,Mode\n{rows}".encode(), "one.csv")
    assert proposal.channels == ()
    with pytest.raises(StddayError, match="Mend:"):
        columns_toml(proposal)


HOSTILE = ("<script>alert(1)</script>", "=cmd|' /C calc'!A0", "../../etc/passwd", "\x1b[2J\x07bell",
           '"] \nconfirmed = true\n[x', "a\u202eb", "'; drop table", "\\u0000", "IAS\x7f [kt]")


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_do_no_harm_in_the_columns_file(name, tmp_path):
    quoted = '"' + name.replace('"', '""').replace("\n", " ") + '"'
    rows = "".join(f"10:{n // 60:02d}:{n % 60:02d},{40 + n % 60},{n}\n" for n in range(200))
    proposal = propose_bytes(f"UTC,{quoted} IAS [kt],GS [kt]\n{rows}".encode(), name)
    text = columns_toml(proposal)
    tree = tomllib.loads(text)
    assert tree["confirmed"] is False
    assert set(tree) <= {"confirmed", "delimiter", "decimal", "header_rows", "unit_row", "comment",
                         "encoding", "header", "missing", "time", "channels"}
    assert all(sign.isprintable() or sign == "\n" for sign in text)
    place = tmp_path / "one.toml"
    place.write_text(text, encoding="utf-8")
    load_columns(place)


def test_a_header_line_of_ten_megabytes_is_refused_in_words():
    line = b"x" * 10_000_000
    with pytest.raises(CampaignError, match="header line") as caught:
        propose_bytes(line + b"\nUTC,IAS\n" + b"10:00:00,5\n" * 50, "one.csv")
    assert len(str(caught.value)) < 1000


def test_a_cell_of_ten_megabytes_does_no_harm():
    rows = [f"10:00:{n:02d},{60 + n % 30}" for n in range(60)]
    rows[30] = "10:00:30," + "9" * 10_000_000
    proposal = propose_bytes(("UTC,IAS [kt]\n" + "\n".join(rows) + "\n").encode(), "one.csv")
    assert [item.channel for item in proposal.channels] == ["indicated_airspeed"]


def test_a_long_recording_is_sampled():
    shape = dataclasses.replace(BY_KEY[ENGLISH], key="long")
    head, _, body = make(shape).content.partition(b"\n")
    sheet = read_sheet(head + b"\n" + body * 8, "one.csv")
    assert sheet.stride > 1
    assert sheet.columns[2].text.size <= 12_001


@pytest.mark.parametrize("channel", ["ground_speed", "indicated_airspeed", "pressure_altitude"])
def test_every_reason_is_in_words(results, channel):
    for _, proposal in results.values():
        for item in proposal.channels:
            if item.channel == channel:
                assert item.reason
                assert item.confidence in ("sure", "likely", "ask")
                assert item.confidence != "ask" or item.question
                assert item.channel in CHANNELS


def test_columns_that_hold_something_else_are_not_used():
    shape = dataclasses.replace(BY_KEY[ENGLISH], columns=(
        *BY_KEY[ENGLISH].columns, Col("Sel Alt", "altitude_selected", "ft", 0),
        Col("Density Alt", "density_altitude", "ft", 0)))
    proposal = propose_bytes(make(shape).content, "one.csv")
    used = {item.column for item in proposal.channels}
    assert not {name for name in used if "Sel" in name or "Density" in name or "Wind" in name}


def test_numbers_of_a_sample_are_those_of_the_file():
    made = make(BY_KEY[ENGLISH])
    sheet = read_sheet(made.content, "one.csv")
    speed = sheet.columns[5].values
    flown = made.flight.channels["ground_speed"][: speed.size] * 3600 / 1852
    assert np.abs(speed - flown).max() <= 0.051


# ---- traps that were found by looking for them ---------------------------------------------------


@pytest.mark.parametrize("words", ["Pitch Rate", "Roll Rate", "Track Rate", "Yaw rate",
                                   "gyro pitch", "WndSpd", "static pressure", "dynamic pressure"])
def test_rates_of_angles_and_other_pressures_are_no_channels(words):
    strong = {name for name, score in word_scores(words).items() if score >= 2.0}
    assert strong <= {"vertical_speed", "heading"}
    assert "pitch" not in strong


def test_a_barometric_altitude_without_a_setting_may_be_pressure_altitude():
    columns = (*ENGLISH_SHAPE.columns[:8], Col("Baro Alt", "pressure_altitude", "ft", 0))
    shape = dataclasses.replace(ENGLISH_SHAPE, columns=columns)
    assert confidence_of(shape, "indicated_altitude") in ("ask", "none")


def test_a_heading_that_follows_the_positions_may_be_the_track():
    columns = (*ENGLISH_SHAPE.columns[:6], Col("Heading", "track", "deg", 0))
    assert confidence_of(dataclasses.replace(ENGLISH_SHAPE, columns=columns), "heading") == "ask"


def test_a_track_that_does_not_follow_the_positions_may_be_the_heading():
    columns = (*ENGLISH_SHAPE.columns[:6], Col("Track", "heading", "deg", 0))
    assert confidence_of(dataclasses.replace(ENGLISH_SHAPE, columns=columns, seed=6),
                         "track") != "sure"


@pytest.mark.parametrize(("name", "channel"), [("RPM L", "engine_speed"), ("Left FF", "fuel_flow"),
                                               ("MAP right", "manifold_pressure")])
def test_one_engine_of_two_is_asked_about(name, channel):
    unit = {"engine_speed": "rpm", "fuel_flow": "L/h", "manifold_pressure": "inHg"}[channel]
    columns = (*ENGLISH_SHAPE.columns[:8], Col(name, channel, unit, 1))
    shape = dataclasses.replace(ENGLISH_SHAPE, columns=columns)
    assert confidence_of(shape, channel) in ("ask", "none")


def test_litres_in_brackets_are_no_left_tank():
    columns = (*ENGLISH_SHAPE.columns[:8], Col("Fuel total", "fuel_quantity", "L", 1),
               Col("Fuel flow", "fuel_flow", "L/h", 1))
    shape = dataclasses.replace(ENGLISH_SHAPE, columns=columns)
    assert confidence_of(shape, "fuel_quantity") == "sure"
    assert confidence_of(shape, "fuel_flow") == "sure"


def test_a_lateral_acceleration_is_no_latitude():
    columns = (*ENGLISH_SHAPE.columns[:2], *ENGLISH_SHAPE.columns[5:8],
               Col("LatAcc", "lateral_acceleration", "g", 4))
    assert confidence_of(dataclasses.replace(ENGLISH_SHAPE, columns=columns), "latitude") == "none"


def test_a_probe_that_never_moves_is_not_sure():
    rows = "".join(f"10:{n // 60:02d}:{n % 60:02d},-46,{40 + n % 60}\n" for n in range(300))
    proposal = propose_bytes(f"UTC,OAT [degC],IAS [kt]\n{rows}".encode(), "one.csv")
    probe = next(item for item in proposal.channels if item.channel == "outside_air_temperature")
    assert probe.confidence == "ask"


def test_a_pressure_that_moves_is_no_setting_for_sure():
    pressure = 1013.0 - np.arange(600) / 60.0
    rows = "".join(f"10:{n // 60:02d}:{n % 60:02d},{value:.2f},{40 + n % 60}\n"
                   for n, value in enumerate(pressure))
    proposal = propose_bytes(f"UTC,Baro [hPa],IAS [kt]\n{rows}".encode(), "one.csv")
    assert all(item.confidence == "ask" for item in proposal.channels
               if item.channel == "altimeter_setting")


def test_text_in_a_column_of_numbers_is_noted():
    rows = [f"10:{n // 60:02d}:{n % 60:02d},{40 + n % 60}" for n in range(300)]
    rows[100] = "10:01:40,TOTAL   : 18.49"
    text = "UTC,IAS [kt]\n" + "\n".join(rows) + "\n"
    proposal = propose_bytes(text.encode(), "one.csv")
    assert any("no numbers" in note for note in proposal.notes)


def test_a_descending_file_and_several_sessions_are_proposed_for_too():
    made = make(ENGLISH_SHAPE)
    head, *body = made.content.decode().splitlines()
    back = "\n".join([head, *reversed(body)]) + "\n"
    proposal = propose_bytes(back.encode(), "one.csv")
    assert proposal.time.columns == ("UTC Date", "UTC Time")
    again = "\n".join([head, *body, *body[:500]]) + "\n"
    assert propose_bytes(again.encode(), "one.csv").time.columns == ("UTC Date", "UTC Time")


@pytest.mark.parametrize("seed", range(60))
def test_damaged_bytes_are_read_or_refused_in_words(seed):
    rng = np.random.default_rng(seed)
    shape = ALL[int(rng.integers(len(ALL)))]
    content = bytearray(make(dataclasses.replace(shape, packed="")).content[:40_000])
    for _ in range(int(rng.integers(1, 8))):
        place = int(rng.integers(max(len(content) - 300, 1)))
        change = int(rng.integers(4))
        if change == 0:
            content[place] = int(rng.integers(256))
        elif change == 1:
            del content[place:place + int(rng.integers(1, 200))]
        elif change == 2:
            content[place:place] = [b"\r\n", b",", b'"', b"\x00", b"1e400", b"="][
                int(rng.integers(6))]
        else:
            del content[max(place, 400):]
    try:
        proposal = propose_bytes(bytes(content), "one.csv")
    except CampaignError:
        return
    if proposal.channels:
        tomllib.loads(columns_toml(proposal))
