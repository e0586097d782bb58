"""The airplane model in the results and on its pages: tables, pictures, words, or their absence."""

from __future__ import annotations

import dataclasses
import json
import re
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from stdday import (
    airplane_tables,
    captions,
    cards,
    notebook_airplane,
    plots,
    plots_airplane,
    results_airplane,
    tables_airplane,
    words,
)
from stdday.airplane_answers import Answer
from stdday.errors import InputError
from stdday.outcome import analyse
from stdday.picture_svg import svg
from stdday.report import report_html
from stdday.results import VALUE_COLUMNS, _curves, _value_row
from stdday.uncertainty import Draws
from tests.benchmarks import airplane_model as bench
from tests.made_airplane import made_airplane
from tests.made_results import HOSTILE, made, made_empty

KT = 1852 / 3600


@pytest.fixture(scope="module")
def flown():
    """Campaign, segments and analysis of generated flights, with values as a table."""
    campaign, segments = bench.made(bench.load(), 12, 1.0)
    analysis = analyse(campaign, segments, Draws(40, seed=3))
    rows = [_value_row(outcome) for outcome in analysis.outcomes]
    return campaign, segments, analysis, pd.DataFrame(rows, columns=list(VALUE_COLUMNS))


@pytest.fixture(scope="module")
def made_tables(flown):
    return results_airplane.airplane_tables(*flown)


# ---- tables of the results -----------------------------------------------------------------------


def test_the_curve_passes_the_values_stated_at_its_top(flown, made_tables):
    """Under few draws the band is another, the curve is not."""
    curve, values = made_tables["climb_curve"], flown[3]
    best = values[(values["metric"] == "climb_rate") & (values["condition_id"] == "bestrate_1")
                  & (values["status"] == "ok")]  # fmt: skip
    assert len(best) == 2
    for row in best.to_dict("records"):
        own = curve[(curve["configuration"] == row["configuration"])
                    & (curve["pressure_altitude [ft]"] == 1000)]  # fmt: skip
        top = own.loc[own["rate [ft/min]"].idxmax()]
        assert top["rate [ft/min]"] == pytest.approx(row["estimate"], abs=2)
        wide, told = top["high [ft/min]"] - top["low [ft/min]"], row["high"] - row["low"]
        assert wide == pytest.approx(told, rel=0.2)
        assert (own["low [ft/min]"] < own["rate [ft/min]"]).all()


def test_every_climb_of_the_fit_stands_once(flown, made_tables):
    points = made_tables["climb_points"]
    assert not points.duplicated(["point", "pressure_altitude [ft]"]).any()
    climbs = flown[1][flown[1]["kind"] == "climb"]
    assert set(points["point"]) <= set(climbs["point"])
    assert len(points) > 20


def test_ratios_are_those_of_the_values(flown, made_tables):
    values = flown[3]
    stated = values[(values["metric"] == "installed_efficiency_ratio") & (values["status"] == "ok")]
    table = made_tables["efficiency_ratio"]
    assert table["ratio [-]"].to_list() == stated["estimate"].to_list()
    assert {f"efficiency_{speed:.0f}" for speed in table["true_airspeed [kt]"]} == set(
        stated["condition_id"])  # fmt: skip


def test_the_propeller_ends_where_the_throttle_does(made_tables):
    """A run at a light weight reduces to more than the engine gives at the reference weight."""
    table = made_tables["propeller"]
    assert (table["power [kW]"] <= 78 * 0.9).all(), "4000 ft leave less than nine tenths of 78 kW"
    assert (table["ideal_efficiency [-]"] < 1).all()


def test_performance_is_refused_above_full_throttle(flown):
    campaign, _, analysis, _ = flown
    table = airplane_tables.performance_table(
        campaign, analysis.fits["A"], (0.6, 0.75), 600.0, 4000.0
    )
    assert table["reason"].iloc[0] == ""
    assert table["reason"].iloc[1].startswith("full throttle gives 6")
    assert np.isnan(table["true_airspeed [kt]"].iloc[1])


def test_curves_come_back_from_the_results_as_they_were(flown, made_tables):
    campaign, _, analysis, _ = flown
    points, _ = _curves(analysis)
    fits = results_airplane.level_fits(made_tables["level_model"], points)
    day = ((0.55, 0.65), 560.0, 1500.0, 8.0)
    for name, found in analysis.fits.items():
        again = airplane_tables.performance_table(campaign, fits[name], *day)
        first = airplane_tables.performance_table(campaign, found, *day)
        assert again.equals(first)


def test_a_campaign_without_such_tests_has_no_such_tables(flown):
    campaign, segments, _, values = flown
    none = segments.iloc[:0]
    empty = analyse(campaign, none, Draws(2))
    assert results_airplane.airplane_tables(campaign, none, empty, values.iloc[:0]) == {}
    meta = results_airplane.airplane_meta(campaign, empty)
    assert all(one["polar"] == "" for one in meta["airplane_model"].values())


def test_a_best_airspeed_whose_interval_leaves_the_climbs_is_refused(flown):
    answer = Answer("best_rate_airspeed", "bestrate_1", "A", within=(52 * KT, 80 * KT))
    assert answer.leaves((55 * KT, 75 * KT)) == ""
    assert answer.leaves((47 * KT, 75 * KT)).startswith("its interval, 47 to 75 kt, leaves")
    for outcome in flown[2].outcomes:
        if outcome.metric.startswith("best_") and outcome.estimate is not None:
            low, high = outcome.estimate.interval()
            assert 50 * KT < low < high < 82 * KT


# ---- words and tables of the pages ---------------------------------------------------------------


def test_conditions_read_as_a_pilot_says_them():
    found = made_airplane()
    rows = {row["metric"]: row for row in found.values.to_dict("records")
            if row["condition_id"] in ("efficiency_110", "toclimb", "bestrate_1")}  # fmt: skip
    said = {name: words.value_sentence(found.meta, row) for name, row in rows.items()}
    assert said["installed_efficiency_ratio"].startswith(
        "Installed efficiency ratio at 110 kt true airspeed with B: 1.020 (95 % interval 0.980 to "
        "1.060), from"
    )  # fmt: skip
    assert "from 1000 ft to 4000 ft with A: 4.0 min (95 % interval 3.5 to 4.5 min)" in said[
        "time_to_climb"]  # fmt: skip
    assert "4.0 nmi" in said["distance_to_climb"]
    assert said["climb_rate"].startswith("Rate of climb at 1000 ft and best-rate airspeed with A")
    assert not any("  " in text or " )" in text for text in said.values())


def test_display_units_reach_ranges_of_altitude_and_distances():
    found = made_airplane()
    found.meta["display"] |= {"speed": "km/h", "altitude": "m"}
    row = found.values[found.values["metric"] == "distance_to_climb"].iloc[0].to_dict()
    said = words.value_sentence(found.meta, row)
    assert "from 304.8 m to 1219.2 m" in said
    assert "7.4 km" in said


def test_a_value_by_definition_has_no_interval_in_words():
    row = made_airplane().values.iloc[-1].to_dict() | {"basis": "by definition", "estimate": 1.0}
    assert words.value_sentence(made().meta, row).endswith("with B: 1.000, by definition.")


def test_rates_at_best_airspeeds_are_no_points_of_the_climbs():
    assert "no corrected point" not in captions.climbs(made_airplane())
    card = cards.card(made_airplane(), "climb").set_index("Card")["Climb"]
    assert "airspeed 62 kt, best rate" in card["Reference day"]


def test_gradients_are_given_as_angles_too():
    table = tables_airplane.gradients(made_airplane())
    assert table["Gradient [%]"].iloc[0] == "11.9"
    assert float(table["Angle [deg]"].iloc[0]) == pytest.approx(
        np.degrees(np.arctan(0.119)), abs=0.05)  # fmt: skip


def test_a_contradiction_comes_first_and_is_named():
    found = tables_airplane.agreement_words(made_airplane())
    assert found[0] == (
        "Contradicts",
        "Accelerations, B: accelerations give +100 ft/min beside the climbs: airspeed delay.",
    )
    assert [verdict for verdict, _ in found] == ["Contradicts", "No contradiction"]
    assert len(tables_airplane.agreement_words(made_airplane(), "level runs")) == 1
    assert tables_airplane.agreement(made_airplane())["Off by (± 1 sigma)"].to_list() == [
        "+3.8 ± 1.2 % of power", "+100 ± 10 ft/min"]  # fmt: skip


def test_accelerations_list_what_can_be_compared():
    table = tables_airplane.accelerations(made_airplane(), compared=True)
    assert table["Beside them [ft/min]"].to_list() == ["+40", "+100"]
    assert len(tables_airplane.accelerations(made_airplane())) == 3
    assert tables_airplane.not_compared(made_airplane()).iloc[0].to_list() == [
        "A", "1", "not flown there"]  # fmt: skip


def test_an_engine_speed_that_nobody_recorded_is_a_dash():
    table = tables_airplane.propeller(made_airplane())
    assert table["Engine [rpm]"].to_list() == ["–", "4500"]
    assert table["Advance ratio"].to_list() == ["–", "0.87"]


def test_performance_is_that_of_one_altitude():
    assert tables_airplane.performance(made_airplane(), 4000)["True airspeed [kt]"].to_list() == [
        "104.0"]  # fmt: skip
    assert len(tables_airplane.performance(made_airplane())) == 2


def test_a_common_polar_is_said_once():
    assert [head for head, _ in notebook_airplane.polar(made_airplane()).parts] == ["A (two-blade)"]
    assert len(notebook_airplane.model_choice(made_airplane()).parts) == 2
    assert len(notebook_airplane.booked(made_airplane()).parts) == 3


def test_level_flight_on_any_day_from_the_results_alone(flown, made_tables, monkeypatch):
    campaign, _, analysis, _ = flown
    points, curves = _curves(analysis)
    results = dataclasses.replace(made(), tables=made_tables, curve_points=points, curves=curves)
    monkeypatch.setattr(notebook_airplane, "load_campaign", lambda folder: campaign)
    table = notebook_airplane.level_flight(
        results, "B", "60 %", "95 %", weight="1235 lb", altitude="5000 ft", warmer="10 K"
    )
    direct = airplane_tables.performance_table(
        campaign, analysis.fits["B"], (0.6,), 1235 * 0.45359237, 1524.0, 10.0
    )
    shown = float(table["True airspeed [kt]"].iloc[0])
    assert shown == pytest.approx(direct["true_airspeed [kt]"].iloc[0], abs=0.06)
    assert table["True airspeed [kt]"].iloc[1] == "–"
    assert table["Why not"].iloc[1]
    with pytest.raises(InputError, match="10 K"):
        notebook_airplane.level_flight(results, "B", "60 %", warmer="10")


# ---- pictures ------------------------------------------------------------------------------------

PICTURES = {
    "ratio": plots_airplane.efficiency_ratio,
    "climb curve": plots_airplane.climb_curve,
    "accelerations": plots_airplane.accelerations,
}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("draw", PICTURES.values(), ids=PICTURES)
def test_pictures_are_small_say_their_units_and_stay_in_their_frame(draw):
    drawn = draw(made_airplane())
    text = json.dumps(plots.bundle(drawn)["application/vnd.plotly.v1+json"])
    assert len(text) < 25_000
    assert not re.search(r"\d\.\d{7}", text)
    titles = [axis["title"]["text"] for key, axis in drawn.layout.to_plotly_json().items()
              if re.fullmatch(r"[xy]axis\d*", key)]  # fmt: skip
    assert all(re.search(r"\[.+\]", title) for title in titles if title)
    root = ET.fromstring(svg(drawn, "picture-1"))
    width, height = (float(root.get(key)) for key in ("width", "height"))
    for item in root.iter(f"{SVG}text"):
        assert 0 <= float(item.get("x")) <= width
        assert 0 <= float(item.get("y")) <= height
    assert root.find(f"{SVG}title").text == drawn.layout.meta["summary"]


@pytest.mark.parametrize("draw", PICTURES.values(), ids=PICTURES)
@pytest.mark.parametrize("results", [made(), made_empty()], ids=["none", "empty"])
def test_without_such_tests_a_picture_says_so(draw, results):
    drawn = draw(results)
    assert not drawn.data
    assert "no" in drawn.layout.meta["summary"]


def test_a_best_airspeed_stands_with_its_interval_where_it_is_stated():
    drawn = plots_airplane.climb_curve(made_airplane())
    marked = [item for item in drawn.data if item.error_x.array]
    assert [(item.x[0], item.error_x.array[0], item.error_x.arrayminus[0]) for item in marked] == [
        (64.0, 4.0, 4.0)]  # fmt: skip
    said = {note.text for note in drawn.layout.annotations}
    assert "<b>Vy A</b>" in said
    assert not any("Vx" in text for text in said), "refused"
    assert "Vy 64.0 (60.0 to 68.0) kt" in drawn.layout.meta["summary"]


def test_names_of_a_campaign_are_not_read_as_mark_up():
    found = made_airplane()
    found.meta["configurations"]["B"]["label"] = HOSTILE
    for draw in PICTURES.values():
        assert "<script" not in json.dumps(plots.bundle(draw(found)))


# ---- the report ----------------------------------------------------------------------------------


def test_the_report_draws_the_curves_and_says_who_contradicts():
    page = report_html(made_airplane())
    assert "Rate of climb against airspeed." in page
    assert "Ratio of installed efficiencies." in page
    assert "<strong>Contradicts.</strong> Accelerations, B" in page
    assert "Do the tests agree?" not in report_html(made())
