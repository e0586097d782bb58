"""Tables: what is in them, in which unit, and that they print whole, aligned and without noise."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser

import pandas as pd
import pytest

from stdday import display, tables
from stdday.errors import InputError
from stdday.layout import Table, as_html, as_text
from tests.made_results import HOSTILE, NAN, made, made_empty, made_hostile, made_single

EVERY = {
    "answer": tables.answer,
    "effects": tables.effects,
    "values": tables.values,
    "one metric": lambda results: tables.values(results, "climb_rate"),
    "flights": tables.flights,
    "rows": tables.rows_accounted,
    "points": tables.points,
    "take-offs": lambda results: tables.points(results, "take-off"),
    "climbs": lambda results: tables.points(results, "climb"),
    "level runs": lambda results: tables.points(results, "level run"),
    "mean steps": lambda results: tables.ledger_mean(results, "climb_rate"),
    "left out": tables.left_out,
    "balance": lambda results: tables.balance(results, "takeoff_ground_roll"),
    "costs": tables.costs,
    "uncertainties": tables.uncertainties,
    "configurations": tables.configurations,
    "fingerprints": tables.fingerprints,
}


@pytest.mark.parametrize("make", EVERY.values(), ids=EVERY)
@pytest.mark.parametrize("results", [made(), made_single(), made_hostile()],
                         ids=["two", "one", "hostile"])  # fmt: skip
def test_every_table_prints_without_noise(make, results):
    table = make(results)
    assert isinstance(table, Table)
    for text in (repr(table), table._repr_html_()):
        assert not re.search(r"\b(nan|NaN|None)\b|np\.float", text)
        assert not re.search(r"\d\.\d{5}", text)
    for cell in table.to_numpy().ravel():
        assert isinstance(cell, str)


@pytest.mark.parametrize("name", [name for name in EVERY if name != "one metric"])
def test_every_table_bears_results_without_rows(name):
    table = EVERY[name](made_empty())
    assert len(table) in {0, 2}    # configurations are known even so
    assert repr(table) is not None


# ---- the answer ----------------------------------------------------------------------------------


def test_answer_holds_the_primary_metrics_with_difference_interval_and_verdict():
    table = tables.answer(made())
    assert len(table) == int(made().effects["primary"].sum())
    roll = table.iloc[0]
    assert roll["B minus A"] == "-21"
    assert roll["95 % interval"] == "-28 to -14"
    assert roll["Verdict"] == "shown"


def test_a_difference_that_cannot_be_stated_is_a_dash():
    row = tables.answer(made()).iloc[-1]
    assert (row["B"], row["B minus A"], row["95 % interval"]) == ("–", "–", "–")


def test_with_three_configurations_each_row_says_which_pair():
    results = made()
    third = results.effects.assign(configuration_b="C")
    results.meta["configurations"]["C"] = {"label": "other", "airplane": "one", "blocks": ["C1"]}
    both = dataclasses.replace(results, effects=pd.concat([results.effects, third]))
    compared = set(tables.answer(both)["Compared"])
    assert compared == {"B minus A", "C minus A"}


def test_headline_says_what_differs_by_how_much_interval_and_verdict():
    text = tables.headline(made())
    line = next(line for line in text.splitlines() if line.startswith("Take-off ground roll"))
    assert line.split() == ["Take-off", "ground", "roll", "m", "212", "191", "-21", "-28", "to",
                            "-14", "shown"]  # fmt: skip
    assert text.index("Asked beforehand") < text.index("Exploratory")
    assert max(map(len, text.splitlines())) <= 100


def test_headline_of_one_configuration_holds_values_and_no_verdict():
    text = tables.headline(made_single())
    assert "203 to 221" in text
    assert "minus" not in text
    assert "Verdict" not in text


def test_display_units_reach_the_table():
    results = made()
    results.meta["display"] |= {"distance": "ft", "vertical_speed": "m/s", "speed": "km/h"}
    table = tables.answer(results)
    # 212 m = 695.5 ft; 760 ft/min = 3.861 m/s; 98.2 kt = 181.9 km/h (exact definitions)
    assert list(table["Unit"])[:2] == ["ft", "m/s"]
    assert table.iloc[0]["A"] == "696"
    assert table.iloc[1]["A"] == "3.86"
    assert table.iloc[3]["A"] == "181.9"


def test_a_display_unit_of_the_wrong_kind_is_refused_by_its_key():
    results = made()
    results.meta["display"] |= {"distance": "kg"}
    with pytest.raises(InputError, match=r"\[display\] in campaign\.toml"):
        tables.answer(results)


def test_specific_range_follows_the_units_of_speed_and_fuel():
    scale = display.metric_scale({"display": {"speed": "km/h", "fuel_flow": "L/h"}},
                                 "specific_range")  # fmt: skip
    assert scale.unit == "km/L"
    assert scale.value(1.0) == pytest.approx(1.852)    # km in a nautical mile, by definition


# ---- the other tables ----------------------------------------------------------------------------


def test_values_say_why_there_is_none():
    table = tables.values(made(), "static_engine_speed")
    assert list(table["Value [rpm]"]) == ["4820", "–"]
    assert table["Why not"].iloc[1] == "refused: no engine speed before the roll"


def test_an_unknown_metric_or_kind_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match=r"these results .*takeoff_ground_roll.*got 'ground'"):
        tables.values(made(), "ground")
    with pytest.raises(InputError, match=r"take-off, climb, level run, .*; got 'glide'"):
        tables.points(made(), "glide")


def test_points_leave_out_states_that_nobody_recorded():
    assert "Ground roll [m]" in tables.points(made(), "take-off")
    results = made()
    bare = dataclasses.replace(results, points=results.points.assign(**{"power [kW]": NAN}))
    assert "Power [kW]" not in tables.points(bare, "take-off")


def test_ledger_adds_up():
    table = tables.ledger(made(), "F1-take-off-080400", "takeoff_ground_roll")
    assert table["Before"].iloc[0] == "203"
    assert table["After"].iloc[-1] == "214"
    assert list(table["Before"].iloc[1:]) == list(table["After"].iloc[:-1])


def test_mean_steps_are_means_by_configuration():
    results, metric = made(), "takeoff_ground_roll"
    rows = results.corrections
    rows = rows[(rows["metric"] == metric) & (rows["step"] == "no wind")]
    mean = rows[rows["point"].str.startswith(("F1", "F2", "F3"))]["change"].mean()
    table = tables.ledger_mean(results, metric).set_index("Step")
    assert table["A"]["no wind"] == f"{mean:+.0f}"


def test_every_row_of_a_recording_is_accounted_for():
    table = tables.rows_accounted(made())
    assert set(table["Rows in file"]) == {"3600"}
    assert set(table["Used"]) == {"3590"}
    assert set(table["Set aside"]) == {"10 repeated time stamps"}


def test_left_out_names_metric_and_condition():
    table = tables.left_out(made())
    assert list(table["For"]) == ["everything", "Rate of climb at 4000 ft"]


def test_balance_says_where_ranges_do_not_overlap():
    table = tables.balance(made(), "takeoff_ground_roll").set_index("Condition")
    assert table["Ranges overlap"].to_dict() == {"weight": "yes", "temperature": "no",
                                                 "headwind": "yes"}  # fmt: skip


def test_an_uncertainty_of_the_campaign_is_not_printed_as_the_default():
    table = tables.uncertainties(made()).set_index("Uncertainty")
    assert table["One sigma"]["weight"] == "4 kg"
    assert table["One sigma"]["power"] == "own; default 2 %"


# ---- laying out ----------------------------------------------------------------------------------


def test_text_wraps_and_numbers_line_up():
    frame = pd.DataFrame({"N": ["9", "-10.5", "–"], "Why": ["word " * 30, "", "short"]})
    lines = as_text(frame, 60).splitlines()
    assert max(map(len, lines)) <= 60
    assert lines[0].startswith("    N  Why")
    assert lines[1].startswith("    9  word")
    assert "".join(lines).count("word") == 30


def test_a_selection_of_rows_still_prints_whole():
    table = tables.effects(made()).head(2)
    assert "..." not in repr(table)
    assert repr(table).splitlines()[0].startswith("What")


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.text = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def test_html_is_escaped_and_its_headers_have_a_scope():
    reader = _Reader()
    reader.feed(as_html(pd.DataFrame({HOSTILE: [HOSTILE]}), caption=HOSTILE))
    assert "script" not in {tag for tag, _ in reader.tags}
    assert reader.text.count(HOSTILE) == 3
    heads = [attributes for tag, attributes in reader.tags if tag == "th"]
    assert [head["scope"] for head in heads] == ["col"]


@pytest.mark.parametrize(
    ("value", "decimals", "plus", "wanted"),
    [(-0.04, 1, False, "0.0"), (-0.04, 1, True, "0.0"), (0.06, 1, True, "+0.1"),
     (NAN, 1, True, "–"), (float("inf"), 0, False, "–"), (1234.5, 0, False, "1234")],
)  # fmt: skip
def test_numbers_print_with_fixed_decimals(value, decimals, plus, wanted):
    assert display.number(value, decimals, plus) == wanted
