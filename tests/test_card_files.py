"""Airspeed calibrations written down by hand: cards, their faults, and the points they make."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stdday.campaign import check_campaign, load_campaign
from stdday.card_files import CARD_COLUMNS, flights_on_cards, parse_duration, read_cards
from stdday.card_points import card_points, with_cards
from stdday.decisions import Decision
from stdday.errors import CampaignError
from stdday.points import POINT_COLUMNS, join_points
from stdday.segments import SEGMENT_COLUMNS
from stdday.units import UnitError
from tests.make_campaign import HEADER, ROWS, make_campaign

KT, FT = 1852 / 3600, 0.3048
HEAD = ("flight,point,kind,pattern,indicated_airspeed [kt],ground_speed [kt],track [deg],"
        "track_reference,pressure_altitude [ft],outside_air_temperature [degC],flaps,power [%]")
KIND = "airspeed calibration"
BOX = tuple(
    f"F01,1,{KIND},box,90,{speed},{track},true,3000,9.5,up,60"
    for speed, track in ((100, 2), (93, 88), (81, 181), (92, 272))
)


def cards(folder, *rows, head=HEAD, name="one.csv", encoding="utf-8"):
    (folder / "cards").mkdir(parents=True, exist_ok=True)
    (folder / "cards" / name).write_bytes("\n".join((head, *rows, "")).encode(encoding))
    return folder


def campaign(tmp_path, *rows, flights=None, **others):
    make_campaign(tmp_path, flights=flights)
    return cards(tmp_path, *rows, **others)


def made(folder, decisions=()):
    return with_cards(load_campaign(folder), join_points([]), decisions)


def only(problems):
    assert len(problems) == 1, [str(one) for one in problems]
    return problems[0]


# ---- what is read --------------------------------------------------------------------------------


def test_a_box_makes_one_point_with_a_row_for_each_leg(tmp_path):
    found = made(campaign(tmp_path, *BOX))
    assert tuple(found.table.columns) == POINT_COLUMNS
    assert tuple(found.segments.columns) == SEGMENT_COLUMNS
    row = found.table.iloc[0]
    assert (row["point"], row["kind"], bool(row["used"]), row["reason"]) == (
        f"F01-{KIND}-card 1", KIND, True, "")
    assert row["quality"] == "fair: read by hand"
    assert np.isnan(row["start_s"])
    legs = found.segments
    assert legs["condition_id"].tolist() == ["leg_1", "leg_2", "leg_3", "leg_4"]
    assert set(legs["pattern"]) == {"box"}
    assert set(legs["flaps"]) == {"up"}
    assert (legs["track_is_true"] == 1.0).all()
    assert legs["indicated_airspeed_ms"].to_numpy() == pytest.approx(90 * KT)
    assert legs["pressure_altitude_m"].to_numpy() == pytest.approx(3000 * FT)
    assert legs["outside_air_temperature_k"].to_numpy() == pytest.approx(282.65)
    assert legs["power_w"].to_numpy() == pytest.approx(0.6 * 78e3)
    angle = np.radians([2.0, 88.0, 181.0, 272.0])
    speed = np.array([100.0, 93.0, 81.0, 92.0]) * KT
    assert legs["ground_east_ms"].to_numpy() == pytest.approx(speed * np.sin(angle))
    assert legs["ground_north_ms"].to_numpy() == pytest.approx(speed * np.cos(angle))
    assert legs["ground_speed_ms"].to_numpy() == pytest.approx(speed)
    assert legs[["heading_rad", "reference_true_ms", "start_s"]].isna().all(axis=None)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_as_spreadsheets_write_it(tmp_path, separator, encoding):
    comma = "." if separator == "," else ","
    rows = [row.replace(",", separator).replace("9.5", f"9{comma}5") for row in BOX]
    folder = cards(tmp_path, *rows, head=HEAD.replace(",", separator), encoding=encoding)
    found, problems = read_cards(folder, ["F01"])
    assert problems == []
    assert [row.values["outside_air_temperature"] for row in found] == pytest.approx([282.65] * 4)


def test_other_units_in_the_header(tmp_path):
    head = HEAD.replace("ground_speed [kt]", "ground_speed [km/h]").replace("[ft]", "[m]")
    row = only(read_cards(cards(tmp_path, BOX[0], head=head))[0])
    assert row.values["ground_speed"] == pytest.approx(100 / 3.6)
    assert row.values["pressure_altitude"] == pytest.approx(3000.0)


COURSE = ("flight,point,kind,pattern,indicated_airspeed [kt],pressure_altitude [ft],"
          "outside_air_temperature [degC],course_length [km],time_out,time_back")


def test_a_speed_course_by_stopwatch(tmp_path):
    row = f"F01,2,{KIND},speed course,90,1500,12,3,1:00,1:15.0"
    found = made(campaign(tmp_path, row, head=COURSE))
    leg = found.segments.iloc[0]
    assert bool(found.table["used"].iloc[0])
    assert leg["reference_true_ms"] == pytest.approx((3000 / 60 + 3000 / 75) / 2)
    assert leg["reference_true_ms"] > 3000 / 67.5    # not that of the mean time
    assert leg["duration_s"] == 135.0
    assert np.isnan(leg["ground_east_ms"])


@pytest.mark.parametrize(("unit", "cell"), [("", "75"), (" [s]", "75"), (" [min]", "1.25"),
                                            (" [s]", "1:15"), ("", "01:15")])
def test_times_as_seconds_or_minutes_and_seconds(tmp_path, unit, cell):
    head = COURSE.replace("time_back", f"time_back{unit}")
    row = f"F01,2,{KIND},speed course,90,1500,12,3,60,{cell}"
    found, problems = read_cards(cards(tmp_path, row, head=head))
    assert problems == []
    assert found[0].values["time_back"] == 75.0


def test_pacing_another_airplane(tmp_path):
    head = "flight,point,kind,pattern,indicated_airspeed [kt],other_calibrated_airspeed [kt]"
    rows = [f"F01,3,{KIND},pacing,{own},{other}" for own, other in ((80, 82), (100, 101.5))]
    found = made(campaign(tmp_path, *rows, head=head))
    assert found.segments["reference_calibrated_ms"].to_numpy() == pytest.approx(
        [82 * KT, 101.5 * KT])
    assert len(found.table) == 1


def test_ground_speeds_on_headings(tmp_path):
    head = HEAD.replace("track [deg]", "heading [deg]")
    found = made(campaign(tmp_path, *BOX, head=head))
    assert bool(found.table["used"].iloc[0])
    assert np.degrees(found.segments["heading_rad"].to_numpy()) == pytest.approx([2, 88, 181, 272])
    assert found.segments["ground_east_ms"].isna().all()


# ---- with flights and decisions ------------------------------------------------------------------


def test_a_flight_may_have_a_card_and_no_recording(tmp_path):
    rows = (*ROWS[:2], ROWS[2].replace("f03.csv", ""))
    flights = "\n".join((HEADER, *rows, ""))
    folder = make_campaign(tmp_path, flights=flights)
    with pytest.raises(CampaignError, match="or fill in a card for the flight"):
        load_campaign(folder)
    cards(folder, *(row.replace("F01", "F03") for row in BOX))
    assert flights_on_cards(folder) == {"F03"}
    assert load_campaign(folder).flights[-1].logs == ()
    assert made(folder).table["configuration"].tolist() == ["B"]


def test_decisions_apply_to_points_of_cards(tmp_path):
    folder = campaign(tmp_path, *BOX)
    name = f"F01-{KIND}-card 1"
    out = Decision(name, "F01", KIND, 2, use=False, reason="airspeed was wandering")
    found = made(folder, [out])
    assert found.table["reason"].tolist() == ["decided: airspeed was wandering"]
    assert len(found.segments) == 0
    assert found.decided == {name: out}
    flaps = made(folder, [Decision(name, "F01", KIND, 2, flaps="20 deg")])
    assert set(flaps.segments["flaps"]) == {"20 deg"}


def test_a_decision_about_a_card_is_no_orphan(tmp_path):
    about = Decision(f"F01-{KIND}-card 1", "F01", KIND, 2, flaps="20 deg")
    other = Decision("F01-climb-100000", "F01", "climb", 3)
    empty = join_points([])
    recorded = type(empty)(empty.table, empty.segments, (about, other), {})
    found = with_cards(load_campaign(campaign(tmp_path, *BOX)), recorded, [about, other])
    assert found.orphans == (other,)


def test_without_cards_nothing_changes(tmp_path):
    found = join_points([])
    assert with_cards(load_campaign(make_campaign(tmp_path)), found) is found


def test_points_of_a_flight_that_is_not_used_say_why(tmp_path):
    rows = (ROWS[0].replace("yes,", "no,recorder of another airplane"), *ROWS[1:])
    folder = campaign(tmp_path, *BOX, flights="\n".join((HEADER, *rows, "")))
    assert made(folder).table["reason"].tolist() == [
        "flight not used: recorder of another airplane"]


@pytest.mark.parametrize(("rows", "reason"), [
    (BOX[:2], "headings span only"),
    (BOX[:1], "headings span only 0 deg"),
    ((BOX[0], BOX[1].replace(",90,", ",99,"), *BOX[2:]), "airspeed not held: 90 to 99 kt"),
])  # fmt: skip
def test_cards_that_carry_no_calibration_say_why(tmp_path, rows, reason):
    found = made(campaign(tmp_path, *rows))
    assert not found.table["used"].any()
    assert reason in found.table["reason"].iloc[0]
    assert len(found.segments) == 0


# ---- faults --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("old", "new", "where", "needed"), [
    ("F01", "F1", "line 2, flight", "a flight of flights.csv"),
    ("F01", "", "line 2, flight", "the flight"),
    (",1,airspeed", ",,airspeed", "line 2, point", "a name or number of the point"),
    (",box,", ",bocks,", "line 2, pattern", "one of box, triangle"),
    (",90,", ",ninety,", "line 2, indicated_airspeed", "a number"),
    (",90,", ",900,", "line 2, indicated_airspeed", "a value of 10 kt to 400 kt"),
    (",90,", ",,", "line 2, indicated_airspeed", "the indicated airspeed of a box"),
    (",100,", ",,", "line 2, ground_speed", "the ground speed of a box"),
    (",2,true", ",,", "line 2, track", "the track or the heading of the leg"),
    (",2,true", ",400,true", "line 2, track", "a value of 0 deg to 360 deg"),
    (",true,", ",grid,", "line 2, track_reference", "true, magnetic or nothing"),
    (",3000,", ",,", "line 2, pressure_altitude", "the pressure altitude of a box"),
    (",9.5,", ",950,", "line 2, outside_air_temperature", "a value of -70 degC to 60 degC"),
])  # fmt: skip
def test_faults_say_file_line_and_column(tmp_path, old, new, where, needed):
    row = BOX[0].replace(old, new, 1)
    assert row != BOX[0]
    rows, problems = read_cards(cards(tmp_path, row), ["F01", "F02"])
    problem = only(problems)
    assert rows == ()
    assert (problem.file, problem.where, problem.level) == ("cards/one.csv", where, "error")
    assert problem.needed.startswith(needed)
    assert problem.found
    assert problem.mend


def test_the_temperature_may_be_left_to_the_reported_one(tmp_path):
    found = made(campaign(tmp_path, *(row.replace(",9.5,", ",,") for row in BOX)))
    assert bool(found.table["used"].iloc[0])
    assert found.segments["outside_air_temperature_k"].isna().all()


def test_a_near_name_is_offered(tmp_path):
    problem = only(read_cards(cards(tmp_path, BOX[0].replace("F01", "F0l")), ["F01"])[1])
    assert problem.mend == "write F01, if that is meant"


def test_every_fault_of_every_file_at_once(tmp_path):
    folder = campaign(tmp_path, BOX[0].replace(",90,", ",x,"), BOX[1].replace(",88,", ",999,"),
                      BOX[2].replace("box", "bax"))
    cards(folder, BOX[3].replace("3000", ""), name="two.csv")
    places = [(one.file, one.where) for one in check_campaign(folder) if one.level == "error"]
    assert places == [
        ("cards/one.csv", "line 2, indicated_airspeed"), ("cards/one.csv", "line 3, track"),
        ("cards/one.csv", "line 4, pattern"), ("cards/two.csv", "line 2, pressure_altitude"),
    ]


@pytest.mark.parametrize("cell", ["1:75", "abc", "1:2:3:4", "1:", "-5", "1:75:00"])
def test_times_that_are_none(tmp_path, cell):
    row = f"F01,2,{KIND},speed course,90,1500,12,3,1:00,{cell}"
    problem = only(read_cards(cards(tmp_path, row, head=COURSE))[1])
    assert problem.where == "line 2, time_back"


def test_a_speed_course_needs_both_times(tmp_path):
    row = f"F01,2,{KIND},speed course,90,1500,12,3,1:00,"
    problem = only(read_cards(cards(tmp_path, row, head=COURSE))[1])
    assert problem.where == "line 2, time_back"


def test_a_point_is_of_one_pattern(tmp_path):
    rows = (*BOX[:3], BOX[3].replace("box", "triangle"))
    problem = only(read_cards(cards(tmp_path, *rows))[1])
    assert (problem.where, problem.found) == (
        "line 5, pattern", "'triangle', but 'box' in line 2 of cards/one.csv")


def test_a_header_without_unit_is_a_fault(tmp_path):
    problems = read_cards(cards(tmp_path, *BOX, head=HEAD.replace("track [deg]", "track")))[1]
    assert problems[0].needed.startswith("the unit of an angle")


def test_tracks_of_unknown_north_cost_something(tmp_path):
    rows = [row.replace("true", "") for row in BOX]
    problem = only(check_cards(campaign(tmp_path, *rows)))
    assert (problem.level, problem.where) == ("cost", "track_reference")
    assert (made(tmp_path).segments["track_is_true"] == 0.0).all()


def check_cards(folder):
    return [one for one in check_campaign(folder) if one.file.startswith("cards/")]


def test_other_kinds_are_kept_and_not_read_yet(tmp_path):
    head = "flight,point,kind,stall_airspeed [kt]"
    folder = campaign(tmp_path, "F01,1,stall,41", head=head, name="stalls.csv")
    problem = only(check_cards(folder))
    assert (problem.level, problem.found) == ("cost", "'stall': not read yet")
    assert "nothing is lost" in problem.mend
    assert len(made(folder).table) == 0


def test_a_misspelt_kind_is_offered_the_right_one(tmp_path):
    problem = only(read_cards(cards(tmp_path, BOX[0].replace(KIND, "airspeed calibraton")))[1])
    assert problem.mend == f"write {KIND}, if that is meant"


def test_other_kinds_in_the_same_file_do_not_disturb(tmp_path):
    rows = [f"{row}," for row in BOX] + ["F01,9,stall" + "," * 9 + ",41"]
    found, problems = read_cards(cards(tmp_path, *rows, head=f"{HEAD},stall_airspeed [kt]"))
    assert len(found) == 4
    assert only(problems).level == "cost"


@pytest.mark.parametrize("content", [b"", b"\x00\x01", b"\xff\xfe", b"flight\n"])
def test_files_that_are_no_cards(tmp_path, content):
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards" / "a.csv").write_bytes(content)
    rows, problems = read_cards(tmp_path)
    assert rows == ()
    assert problems
    assert all(one.file == "cards/a.csv" for one in problems)


# ---- round trips ---------------------------------------------------------------------------------

FIGURES = {
    "indicated_airspeed": ("kt", 10, 400), "ground_speed": ("kt", 1, 500),
    "track": ("deg", 0, 360), "heading": ("deg", 0, 360),
    "pressure_altitude": ("ft", -2000, 45000), "outside_air_temperature": ("degC", -70, 60),
    "power": ("%", 0, 110),
}


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_every_figure_comes_back_as_written(tmp_path_factory, data):
    written = {
        name: round(data.draw(st.floats(low, high, allow_nan=False)), 1)
        for name, (_, low, high) in FIGURES.items()
    }
    head = "flight,point,kind,pattern," + ",".join(
        f"{name} [{unit}]" for name, (unit, _, _) in FIGURES.items())
    row = f"F01,1,{KIND},box," + ",".join(str(value) for value in written.values())
    found, problems = read_cards(cards(tmp_path_factory.mktemp("card"), row, head=head))
    assert [one.where for one in problems] == ["track_reference"]
    scales = {"kt": KT, "deg": np.pi / 180, "ft": FT, "degC": 1.0, "%": 0.01}
    for name, (unit, _, _) in FIGURES.items():
        inside = written[name] * scales[unit] + (273.15 if unit == "degC" else 0.0)
        assert found[0].values[name] == pytest.approx(inside, abs=1e-9)


@given(st.integers(0, 59), st.integers(0, 599))
def test_times_come_back_as_written(minutes, tenths):
    for mark in (".", ","):
        text = f"{minutes}:{tenths // 10:02d}{mark}{tenths % 10}"
        assert parse_duration(text, "s") == pytest.approx(60 * minutes + tenths / 10)


def test_a_number_is_in_the_unit_of_the_header():
    assert parse_duration("2,5", "min") == 150.0
    with pytest.raises(UnitError):
        parse_duration("2:31:", "s")


def test_columns_of_the_card_are_those_of_the_format():
    assert list(CARD_COLUMNS)[:3] == ["flight", "point", "kind"]


def test_rows_of_several_flights_make_points_apart(tmp_path):
    folder = campaign(tmp_path, *BOX, *(row.replace("F01", "F02") for row in BOX))
    loaded = load_campaign(folder)
    flights = {flight.id: flight for flight in loaded.flights}
    found = card_points(loaded, flights, read_cards(folder)[0])
    assert found.table["flight"].tolist() == ["F01", "F02"]
    assert len(found.segments) == 8
