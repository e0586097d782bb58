"""The validation notebook: its data are the tests' own, its verdicts and reasons are earned."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from dataclasses import replace

import pytest

from stdday import validation, validation_items, validation_steps
from stdday.errors import InputError
from stdday.validation_items import Figure, figures, published
from tests.published_values import FOLDER, items

CASES = [(section, name) for section, cases in validation.SECTIONS.items() for name in cases]
REDONE = [one for section in validation.SECTIONS for one in validation._redone(section)]


def test_the_copy_in_the_library_is_that_of_the_tests():
    whole = [item for path in sorted(FOLDER.glob("*.yaml")) for item in items(path.stem)]
    copied = json.loads(validation_items.PLACE.read_text(encoding="utf-8"))
    assert copied == whole, "run python tests/published"


def test_the_program_makes_the_copy(tmp_path):
    script = "import runpy; print(runpy.run_path('tests/published/__main__.py')['text'](), end='')"
    made = subprocess.run(
        [sys.executable, "-X", "utf8", "-c", script], cwd=FOLDER.parents[1], capture_output=True,
        check=True,
    )  # fmt: skip
    assert made.stdout.decode().splitlines() == (
        validation_items.PLACE.read_text(encoding="utf-8").splitlines()
    )


def test_every_published_example_is_redone_or_said_not_to_be():
    names = [name for _, name in CASES]
    assert len(names) == len(set(names)), "an example stands in two sections"
    assert set(names) | set(validation.NOT_REDONE) == set(published())
    assert not set(names) & set(validation.NOT_REDONE)


@pytest.mark.parametrize(("section", "name"), CASES, ids=lambda one: one)
def test_what_differs_has_a_reason_and_nothing_else_has(section, name):
    found = figures(published()[name], validation.SECTIONS[section][name])
    assert found
    differs = validation._worst(found) != "yes"
    assert differs == (name in validation._WHY), [(one.name, one.shown) for one in found]


def test_every_standing_has_its_meaning():
    assert {item.standing for item in published().values()} <= set(validation._STANDINGS)


def test_what_lies_beyond_the_tolerance_is_known():
    """Rules of thumb, another formula, and roundings of the source: none of them a surprise."""
    beyond = {item.id for item, found in REDONE if validation._worst(found) == "no"}
    assert beyond == {
        "TXB-PA-01", "TXB-PA-02", "rule120_6000", "TXB-DA-02", "anderson_4_lowspeed", "TO-UK-01",
        "TO-UK-02", "TXB-CLB-03", "STA-GUM-01", "STA-N-02",
    }  # fmt: skip


def test_figures_said_in_reasons():
    """Numbers in the sentences follow from the figures."""
    by_name = {item.id: found for item, found in REDONE}
    vapour = [abs(by_name[name][0].ours / by_name[name][0].published - 1)
              for name in ("es_0", "es_15", "es_25", "es_30")]  # fmt: skip
    assert 0.0021 < max(vapour) < 0.00225
    power = by_name["TXB-PWR-01"][0]
    assert power.ours / power.published - 1 == pytest.approx(0.0014, abs=5e-5)
    slow = by_name["anderson_4_lowspeed"][0]
    assert slow.ours / slow.published - 1 == pytest.approx(-0.006, abs=5e-4)
    reset = by_name["faa_rule_2915_2985"][0]
    assert reset.ours / 0.7 == pytest.approx(935, abs=5)
    rule = by_name["TXB-DA-02"][0]
    assert rule.published - rule.ours == pytest.approx(90, abs=5)
    air = by_name["oiml_rho_20_50"][0]
    assert air.ours / air.published - 1 == pytest.approx(-0.0004, abs=5e-5)
    constant = by_name["const_58566"][0]
    apart = constant.ours / constant.published - 1
    assert 1 / apart == pytest.approx(37e3, rel=0.03)
    climb = by_name["TXB-CLB-03"][0]
    assert climb.published - climb.ours == pytest.approx(2.0)
    weight, height, heat, slope = by_name["TO-UK-01"]
    assert weight.ours > weight.published
    assert slope.ours > slope.published
    assert height.ours < height.published
    assert heat.ours < heat.published
    assert math.sqrt(103) == pytest.approx(10.149, abs=5e-4)


def figure(published_, ours, allowed):
    return Figure(published()["TXB-CLB-03"], "roc_after_m_min", published_, ours, allowed)


@pytest.mark.parametrize(("printed", "ours", "allowed", "verdict"), [
    (1702, 1702.4, 0.6, "yes"),
    (1702, 1702.55, 0.6, "in tolerance"),
    (1702, 1702.7, 0.6, "no"),
    (0.971, 0.97104, 6e-5, "yes"),
    (0.971, 0.9712, 6e-5, "no"),    # printed as 0.9710: files of numbers lose the zero
    (1.2, 1.2 + 1e-12, 1e-9, "yes"),
    (16, 16.7, math.inf, "no"),    # a tolerance in words allows nothing beyond the print
    (1.23456789012345, 1.23456789012399, 1e-14, "yes"),    # as far as computers agree
    (64, math.nan, 0.0, "no"),
])
def test_verdicts(printed, ours, allowed, verdict):
    assert figure(printed, ours, allowed).agrees == verdict


def test_differences_are_shown_with_two_digits():
    assert figure(1702, 1700.0, 0.6).shown == ("1702", "1700.0", "-2.0")
    assert figure(64, math.nan, 0.0).shown == ("64", "–", "–")
    assert figure(0.5, 0.5 + 3e-11, 1.0).shown[2] == "0"


def test_figures_that_were_not_published_are_refused():
    with pytest.raises(InputError, match="was not published"):
        figures(published()["PWR-SR-01"], lambda _: {"nm_per_litre": 1.0})
    with pytest.raises(ValueError, match="zip"):
        figures(published()["PRP-06"], lambda _: {"thrust_lbf": [1.0]})


def test_a_missing_copy_is_told(monkeypatch, tmp_path):
    monkeypatch.setattr(validation_items, "PLACE", tmp_path / "published.json")
    with pytest.raises(InputError, match="not found beside the library"):
        published.__wrapped__()


def test_a_wrong_figure_is_listed(monkeypatch):
    """A library that errs would show: nothing here is written down beforehand."""
    item, found = validation._redone("range")[1]
    wrong = (item, (replace(found[0], ours=found[0].ours * 1.001),))
    monkeypatch.setattr(validation, "_redone", lambda section: (wrong,))
    monkeypatch.setattr(validation, "SECTIONS", {"range": {}})
    assert validation.differing().parts == (
        ("Range", "Beyond it: PWR-SR-01, NM/gal 15.3094118 for 15.294118."),
    )
    assert validation.counts()["Not"].tolist() == ["1", "1"]
    with pytest.raises(KeyError):
        validation.why("range")


def test_counts_add_up():
    table = validation.counts()
    for name in table.columns[1:]:
        numbers = [int(cell) for cell in table[name]]
        assert sum(numbers[:-1]) == numbers[-1]
    named = " ".join(text for _, text in validation.differing().parts).count(" for ")
    assert named == sum(int(table[key].iloc[-1]) for key in ("In tolerance", "Not"))


def test_the_mean_of_ground_speeds_stays_wrong_around_a_whole_circle():
    table = validation.averaging()
    assert set(table["Solved [kt]"]) == {"100.00"}
    assert all(abs(float(mean) - 101.0) < 0.1 for mean in table["Mean of ground speeds [kt]"])


@pytest.mark.parametrize("name", validation_steps.__all__)
def test_steps_end_in_what_was_published(name):
    table = getattr(validation_steps, name)()
    compared = 0
    for ours, printed in zip(table["Ours"], table["Published"], strict=True):
        numbers = [float(part.strip("°,")) for part in ours.split() if part[0].isdigit()
                   or part[0] == "-"]  # fmt: skip
        wanted = [float(part.strip(",")) for part in printed.split() if part[0].isdigit()
                  or part[0] == "-"]  # fmt: skip
        assert numbers[: len(wanted)] == pytest.approx(wanted, rel=2e-3, abs=0.51)
        compared += len(wanted)
    assert compared >= 2
