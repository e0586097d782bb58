"""Pictures: what they hold, that plotly takes them, and that the still drawing shows the same."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import plotly.graph_objects as go
import pytest

from stdday import captions, picture, plots
from stdday.errors import InputError
from stdday.picture_svg import svg
from tests.made_results import HOSTILE, made, made_empty, made_hostile, made_single

POINT = "F1-take-off-080400"
RUN = "F1-level run-082000"
PICTURES = {
    "flight": lambda results: plots.flight_trace(results, "F1"),
    "takeoffs": plots.takeoffs,
    "climbs": plots.climbs,
    "level curve": plots.level_curve,
    "fuel curve": plots.fuel_curve,
    "cruise": plots.cruise,
    "differences": plots.differences,
    "balance": lambda results: plots.balance(results, "takeoff_ground_roll"),
    "flight values": lambda results: plots.flight_values(results, "climb_rate", "climb_1"),
    "steps": lambda results: plots.ledger_steps(results, POINT, "takeoff_ground_roll"),
    "steps of two quantities": lambda results: plots.ledger_steps(
        results, RUN, "cruise_true_airspeed"
    ),
}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("draw", PICTURES.values(), ids=PICTURES)
@pytest.mark.parametrize("results", [made(), made_single(), made_hostile()],
                         ids=["two", "one", "hostile"])  # fmt: skip
class TestEveryPicture:
    def test_plotly_takes_it_and_it_is_as_wide_as_a_page(self, draw, results):
        drawn = draw(results)
        assert isinstance(drawn, go.Figure)    # plotly refuses unknown attributes
        assert drawn.layout.width == 700
        assert drawn.layout.template.layout.to_plotly_json() == {}

    def test_numbers_are_plain_rounded_and_few(self, draw, results):
        text = json.dumps(plots.bundle(draw(results))["application/vnd.plotly.v1+json"])
        assert "bdata" not in text    # an array would be stored as base64
        assert not re.search(r"\d\.\d{7}", text)
        assert len(text) < 25_000

    def test_its_axes_say_their_unit(self, draw, results):
        drawn = draw(results)
        if drawn.layout.height < 100:    # nothing to draw, and it says why
            return
        titles = [axis["title"]["text"] for key, axis in drawn.layout.to_plotly_json().items()
                  if re.fullmatch(r"[xy]axis\d*", key)]  # fmt: skip
        named = [title for title in titles if title and title != "Flight"]
        assert named
        assert all(re.search(r"\[.+\]|units of", title) for title in named)

    def test_the_still_drawing_is_xml_within_its_frame(self, draw, results):
        drawn = draw(results)
        root = ET.fromstring(svg(drawn, "picture-1"))
        assert root.tag == f"{SVG}svg"
        width, height = (float(root.get(key)) for key in ("width", "height"))
        for circle in root.iter(f"{SVG}circle"):
            assert -1 <= float(circle.get("cx")) <= width + 1
            assert -1 <= float(circle.get("cy")) <= height + 1
        for text in root.iter(f"{SVG}text"):
            assert 0 <= float(text.get("x")) <= width
            assert 0 <= float(text.get("y")) <= height

    def test_the_drawing_is_the_same_twice(self, draw, results):
        assert svg(draw(results), "a") == svg(draw(results), "a")

    def test_its_sentence_is_what_a_screen_reader_reads(self, draw, results):
        drawn = draw(results)
        root = ET.fromstring(svg(drawn, "picture-1"))
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text == drawn.layout.meta["summary"]
        assert root.get("aria-labelledby") == root.find(f"{SVG}title").get("id")


@pytest.mark.parametrize(
    "name", ["takeoffs", "climbs", "level curve", "fuel curve", "cruise", "differences", "balance"]
)
def test_results_without_rows_give_a_picture_that_says_so(name):
    drawn = PICTURES[name](made_empty())
    assert not drawn.data
    assert drawn.layout.annotations[0].text == picture.plain(drawn.layout.meta["summary"])


# ---- what they hold ------------------------------------------------------------------------------


def test_takeoffs_hold_every_point_as_flown_and_corrected():
    drawn = plots.takeoffs(made())
    hollow = [y for item in drawn.data if item.text and "open" in item.marker.symbol
              for y in item.y]  # fmt: skip
    filled = [y for item in drawn.data if item.text and "open" not in item.marker.symbol
              for y in item.y]  # fmt: skip
    assert hollow == [203.0, 206.0, 209.0, 192.0, 195.0, 198.0]
    assert filled == [214.5, 216.5, 218.5, 200.5, 202.5, 204.5]


def test_configurations_differ_in_mark_line_and_lightness():
    """Grey print and colour-blind readers must tell them apart."""
    looks = [picture.Look(place) for place in range(4)]
    assert len({look.mark for look in looks}) == len({look.dash for look in looks}) == 4
    first, second = (_lightness(look.colour) for look in looks[:2])
    assert abs(first - second) > 0.12


def _lightness(colour):
    """Relative luminance, WCAG 2.1 definition."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("name", ["first", "second", "third", "fourth", "ink", "soft"])
def test_colours_stand_out_from_paper(name):
    """At least 3 to 1 for marks and lines (WCAG 2.1, 1.4.11)."""
    assert 1.05 / (_lightness(picture.COLOURS[name]) + 0.05) >= 3


def test_points_not_used_are_told_apart_from_used_ones():
    drawn = plots.flight_trace(made(), "F4")
    labels = [item.text for item in drawn.layout.annotations]
    assert labels == ["T1", "C1", "L1", "L2", "(T2)"]


def test_differences_are_drawn_in_units_of_what_matters():
    drawn = plots.differences(made())
    roll = next(item for item in drawn.data if item.error_x.array is not None)
    # -21 m with 25 m that matters; interval -28 to -14 m
    assert roll.x[0] == pytest.approx(-21 / 25, abs=5e-4)
    assert roll.error_x.arrayminus[0] == pytest.approx(7 / 25, abs=5e-4)
    assert any("-21 m (-28 to -14)" in item.text for item in drawn.layout.annotations)


def test_a_difference_without_one_that_matters_stands_in_a_panel_of_its_own():
    drawn = plots.differences(made())
    assert drawn.layout.xaxis2.title.text == "Difference [% of A]; no size that matters was named"
    assert list(drawn.layout.yaxis2.ticktext) == ["Time to lift-off", "Climb gradient at 1000 ft"]


def test_a_power_that_is_not_reachable_is_named_in_words():
    texts = [item.text for item in plots.cruise(made()).layout.annotations]
    assert "B: no value" in texts


def test_steps_run_from_the_value_as_flown_to_the_corrected_one():
    drawn = plots.ledger_steps(made(), POINT, "takeoff_ground_roll")
    assert list(drawn.data[0].x) == [203.0, 214.5]
    bars = [(item.x0, item.x1) for item in drawn.layout.shapes if item.type == "rect"]
    assert bars == [(203, 226), (224, 226), (224, 230.5), (214.5, 230.5)]


def test_display_units_reach_pictures():
    results = made()
    results.meta["display"] |= {"distance": "ft"}
    drawn = plots.takeoffs(results)
    assert drawn.layout.yaxis.title.text == "Take-off ground roll [ft]"
    low, high = drawn.layout.yaxis.range
    assert low < 191 / 0.3048 < 221 / 0.3048 < high


# ---- showing and drawing -------------------------------------------------------------------------


def test_the_bundle_holds_the_drawing_and_the_computed_sentence():
    found = plots.bundle(plots.cruise(made()))
    assert set(found) == {"application/vnd.plotly.v1+json", "image/svg+xml", "text/plain"}
    assert captions.cruise(made()) in found["image/svg+xml"]
    assert found["text/plain"] == captions.cruise(made())
    assert plots.bundle(plots.cruise(made()), "other words")["text/plain"] == "other words"


def test_show_displays_one_bundle(monkeypatch):
    shown = []
    monkeypatch.setattr("IPython.display.display", lambda data, raw: shown.append((data, raw)))
    plots.show(plots.fuel_curve(made()))
    assert len(shown) == 1
    data, raw = shown[0]
    assert raw is True
    assert data["text/plain"] == captions.fuel_curve(made())


def test_a_still_that_stands_by_itself_holds_no_style():
    """Viewers that take styles away must show the same."""
    alone = svg(plots.cruise(made()), "a")
    assert "style=" not in alone
    assert "var(" not in alone
    assert picture.COLOURS["first"] in alone
    themed = svg(plots.cruise(made()), "a", themed=True)
    assert f"var(--first,{picture.COLOURS['first']})" in themed


def test_text_of_a_campaign_is_not_read_as_mark_up():
    drawn = plots.takeoffs(made_hostile())
    assert HOSTILE not in json.dumps(drawn.to_plotly_json()["layout"]["annotations"])
    root = ET.fromstring(svg(drawn, "a"))
    assert not list(root.iter(f"{SVG}script"))
    assert any(HOSTILE in (text.text or "") for text in root.iter(f"{SVG}text"))


@pytest.mark.parametrize(
    ("low", "high", "most", "wanted"),
    [(0, 62, 7, [0, 10, 20, 30, 40, 50, 60]), (0.12, 0.19, 5, [0.12, 0.14, 0.16, 0.18]),
     (-1.3, 1.3, 7, [-1, -0.5, 0, 0.5, 1]), (9500, 10400, 7, [9600, 9800, 10000, 10200, 10400])],
)  # fmt: skip
def test_ticks_are_round_numbers(low, high, most, wanted):
    assert picture.ticks(low, high, most) == pytest.approx(wanted)


def test_what_the_still_drawing_does_not_know_is_refused():
    axes = {"xaxis": picture.axis("x [m]", (0, 1)), "yaxis": picture.axis("y [m]", (0, 1))}
    star = picture.series([0.5], [0.5], marker={"symbol": "star", "size": 8, "color": "#000000"})
    with pytest.raises(InputError, match=r"mark must be circle, x-thin or one of .*; got 'star'"):
        svg(picture.figure([star], axes, "A star."), "a")
