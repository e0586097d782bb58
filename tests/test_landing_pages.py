"""Pages of the newer kinds of test points: landings, airspeed patterns, level accelerations."""

from __future__ import annotations

import re
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from stdday import cards, extract, plots, plots_flights, tables
from stdday.calibrate import Calibration
from stdday.look import _find
from stdday.pipeline import NEEDED_CHANNELS
from stdday.report import report_html
from stdday.results_points import POINT_STATES, SHOWN_ONLY, points_table
from stdday.tables_points import decision_rows, flown, points_found, reasons
from tests import make_patterns
from tests.made_landings import made_landings
from tests.made_results import made

NEWER = ("landing", "airspeed calibration", "acceleration")


# ---- pictures and tables -------------------------------------------------------------------------


def test_every_kind_has_a_letter_of_its_own_that_is_no_configuration():
    letters = list(extract.LETTERS.values())
    assert len(set(letters)) == len(letters) == 6
    assert not set(letters) & set(made().meta["configurations"])
    for kind, letter in extract.LETTERS.items():
        assert re.search(rf"\b{letter} ", extract.LEGEND), kind
    assert set(NEEDED_CHANNELS) == set(extract.LETTERS)


def test_points_of_a_flight_carry_their_letters_and_those_of_cards_no_time():
    found = extract.spans(made_landings(), "F1").set_index("label")
    assert {"D1", "D2", "P1", "P2", "V1"} <= set(found.index)
    assert found.loc["P2", ["start", "end"]].isna().all()
    assert found.loc["P1", "start"] == 40.0


def test_a_point_without_times_is_told_and_not_drawn():
    drawn = plots.flight_trace(made_landings(), "F1")
    labels = [item.text for item in drawn.layout.annotations]
    assert {"P1", "V1", "D1", "(D2)"} <= set(labels)
    assert "P2" not in labels
    assert "1 point written on cards, without times" in drawn.layout.meta["summary"]
    ends = [shape.x0 for shape in drawn.layout.shapes]
    assert np.isfinite(ends).all()


def test_labels_in_one_row_never_touch():
    found = extract.spans(made_landings(), "F1")
    labels = plots_flights._point_marks(found, 10.0)[1]
    for row in {item["yshift"] for item in labels}:
        own = sorted((item["x"] * 10.0, len(item["text"])) for item in labels
                     if item["yshift"] == row)  # fmt: skip
        for (left, size), (right, other) in pairwise(own):
            assert right - left >= 3.4 * (size + other)


def test_landings_are_drawn_from_the_roll_not_from_the_headwind():
    results = made_landings()
    table = results.corrections
    wind = table[table["metric"] == "landing_ground_roll"].groupby("point").head(1).assign(
        quantity="headwind", unit="kt", before=4.0, after=5.0, change=1.0)  # fmt: skip
    results.__dict__["corrections"] = pd.concat([wind, table], ignore_index=True)
    ends = extract.chain_ends(results, "landing_ground_roll", "landing")
    assert ends["as_flown"].to_list() == [153.0, 156.0, 159.0, 162.0, 165.0, 168.0]
    assert ends["corrected"].iloc[0] == 174.0 + 1.0
    drawn = plots.landings(results)
    assert drawn.layout.yaxis.title.text == "Landing ground roll [m]"
    assert drawn.layout.meta["summary"].endswith("As these pilots touched down and braked.")


def test_a_landing_distance_that_nobody_has_says_so():
    drawn = plots.landings(made_landings(), "landing_distance_50ft")
    assert drawn.layout.meta["summary"] == "Landing distance from 50 ft: no corrected point."


def test_tables_of_landings():
    results = made_landings()
    table = tables.points(results, "landing")
    assert table["Landing roll [m]"].to_list()[:2] == ["153", "156"]
    assert "Airspeed at touchdown [kt]" in table
    assert flown(results, "landing")["Mean deceleration [m/s^2]"].iloc[0] == "1.62"
    assert reasons(results, "landing")["Reason"].to_list() == ["rolled out without hard braking"]
    assert set(points_found(results)["Kind"]) >= {"Landing", "Acceleration", "Airspeed calibration"}
    assert set(points_found(made())["Kind"]) == {"Take-off", "Climb", "Level run"}
    assert "F1-airspeed calibration-card-1,F1,airspeed calibration,,,," in decision_rows(
        results, "F1"
    )


# ---- cards ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(extract.LETTERS))
def test_every_kind_has_a_card_that_says_what_to_fly_and_when_to_stop(kind):
    rows = dict(cards.card(made_landings(), kind).to_numpy().tolist())
    assert {"Purpose", "Before", "Target", "Data band", "Steps", "Repeat", "Stop when"} <= set(rows)
    assert rows["Steps"].startswith("1 ")
    assert "handbook" in rows["Stop when"]
    if kind in ("landing", "acceleration"):
        assert "Caution" in rows


def test_the_landing_card_asks_for_repeats_and_no_shortest_landing():
    rows = dict(cards.card(made_landings(), "landing").to_numpy().tolist())
    assert "Six or more" in rows["Repeat"]
    assert "not a shortest landing" in rows["Purpose"]
    assert "1.2 m/s²" in rows["Data band"]
    assert rows["Reference day"].startswith("pressure altitude 0 ft")


# ---- report --------------------------------------------------------------------------------------


def test_the_report_shows_landings_with_their_caution():
    page = report_html(made_landings())
    assert extract.LEGEND in page
    assert "Landings." in page
    assert "neither a shortest landing nor a runway length needed" in page
    assert "Landing ground roll" in page
    assert "Landings." not in report_html(made())


# ---- which points are used -----------------------------------------------------------------------


def _found(kinds):
    names = [f"F1-{kind}-{place}" for place, kind in enumerate(kinds)]
    table = pd.DataFrame({
        "point": names, "flight": "F1", "configuration": "A", "block": "A1", "kind": kinds,
        "start_s": 0.0, "end_s": 60.0, "used": True, "reason": "", "quality": "good",
    })  # fmt: skip
    segments = pd.DataFrame({"point": names}).assign(
        **{column: 1.0 for column, *_ in POINT_STATES})  # fmt: skip
    return SimpleNamespace(table=table, segments=segments)


def _analysis(used, asked=True):
    patterns = pd.DataFrame({
        "point": [f"F1-airspeed calibration-{place}" for place in range(len(used))], "used": used,
        "reason": ["" if one else "headings span only 20 deg" for one in used],
    })  # fmt: skip
    one = Calibration("panel", "", "one", {}, used=asked, patterns=patterns)
    return SimpleNamespace(reduced=(), calibrations={("panel", ""): one})


NO_REFUSAL = pd.DataFrame(columns=["point", "metric", "condition_id", "reason"])


def test_patterns_that_serve_the_calibration_are_used():
    kinds = ["airspeed calibration", "airspeed calibration", "acceleration", "climb"]
    table = points_table(_found(kinds), NO_REFUSAL, _analysis([True, False]))
    assert table["used"].to_list() == [True, False, True, False]
    assert table["reason"].to_list() == [
        "", "headings span only 20 deg", "", "carries no metric"
    ]


def test_a_calibration_that_nobody_asked_for_is_shown_only():
    table = points_table(
        _found(["airspeed calibration"]), NO_REFUSAL, _analysis([True], asked=False)
    )
    assert table["used"].to_list() == [False]
    assert table["reason"].to_list() == [SHOWN_ONLY]


# ---- look ----------------------------------------------------------------------------------------


def test_a_look_finds_patterns_and_no_acceleration_in_a_take_off_roll():
    flown_ = make_patterns.make_flight(3, 4.0)
    found = _find(flown_.time_s, flown_.channels)
    assert any(one.kind == "airspeed calibration" and one.used for one in found)
    takeoffs = [one for one in found if one.kind == "take-off"]
    for one in found:
        if one.kind == "acceleration":
            assert not any(one.start_s < up.end_s and one.end_s > up.start_s for up in takeoffs)
