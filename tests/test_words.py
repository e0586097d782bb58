"""Sentences never say more than the verdict: every verdict, sign, edge and kind of value."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from stdday import captions, words
from stdday.compare import verdict
from stdday.errors import InputError
from stdday.metrics import METRICS
from tests.made_results import FLIGHTS, NAN, effect, made, made_empty, made_single

CLAIMS = ("shorter", "longer", "faster", "slower", "more with", "less with", "steeper", "higher")


def say(**changes):
    return words.effect_sentence({}, effect(**changes))


def interval(low, high, wide=0.0):
    """Difference in the middle of a 95 % interval, its 90 % interval narrower by `wide`."""
    return {"difference": (low + high) / 2, "difference_low": low, "difference_high": high,
            "low_90": low + wide, "high_90": high - wide}  # fmt: skip


# ---- shown ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metric", "condition_id", "low", "high", "wanted"),
    [
        ("takeoff_ground_roll", "takeoff", -28.0, -14.0, "21 m shorter with B than with A"),
        ("takeoff_ground_roll", "takeoff", 14.0, 28.0, "21 m longer with B than with A"),
        ("takeoff_time_to_liftoff", "takeoff", -2.0, -1.0, "1.5 s shorter"),
        ("climb_rate", "climb_1", 50.0, 150.0, "100 ft/min more with B than with A"),
        ("climb_rate", "climb_1", -150.0, -50.0, "100 ft/min less with B than with A"),
        ("climb_gradient", "climb_1", 1.0, 3.0, "2.0 percentage points steeper"),
        ("climb_gradient", "climb_1", -3.0, -1.0, "2.0 percentage points shallower"),
        ("cruise_true_airspeed", "cruise_65", 1.0, 3.0, "2.0 kt faster"),
        ("cruise_true_airspeed", "cruise_65", -3.0, -1.0, "2.0 kt slower"),
        ("fuel_flow", "cruise_65", -3.0, -1.0, "2.0 L/h less"),
        ("specific_range", "cruise_65", 0.2, 0.4, "0.30 nmi/L more"),
        ("stall_airspeed", "stall", -3.0, -1.0, "2.0 kt lower"),
    ],
)
def test_shown_says_size_and_direction(metric, condition_id, low, high, wanted):
    sentence = say(metric=metric, condition_id=condition_id, matters=NAN, reason="",
                   condition="power=65 %; pressure_altitude=4000 ft",
                   **interval(low, high))  # fmt: skip
    assert wanted in sentence
    assert sentence.startswith(METRICS[metric].title)


@pytest.mark.parametrize(
    ("low", "high", "surely"),
    [
        (-40.0, -25.0, True),      # the interval ends on what matters: at least as large
        (-40.0, -24.9, False),
        (25.0, 40.0, True),
        (24.9, 40.0, False),
        (1.0, 40.0, False),
    ],
)  # fmt: skip
def test_shown_says_whether_it_surely_is_as_large_as_what_matters(low, high, surely):
    sentence = say(**interval(low, high), reason="")
    assert ("surely at least what matters (25 m)" in sentence) is surely
    assert ("not sure that this is as much as what matters (25 m)" in sentence) is not surely


def test_rounded_edges_never_say_more_than_the_comparison_did():
    """An edge of 24.96 m is stored as 25.0: the comparison's own words hold."""
    sentence = say(**interval(-40.0, -25.0), reason="not surely as large as what matters")
    assert "surely at least" not in sentence


def test_nothing_is_said_of_what_matters_where_none_was_named():
    assert "matters" not in say(matters=NAN, reason="")


def test_interval_of_a_shown_difference_has_its_near_end_first():
    assert "(95 % interval 14 to 28 m shorter)" in say(**interval(-28.0, -14.0))
    assert "(95 % interval 14 to 28 m longer)" in say(**interval(14.0, 28.0))


def test_an_edge_beside_zero_is_not_printed_as_zero():
    assert "(95 % interval 0.3 to 28.0 m shorter)" in say(**interval(-28.0, -0.3))


# ---- no difference larger than what matters ------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "wanted", "small"),
    [
        (-20.0, 10.0, "18 m shorter to 8 m longer", False),
        (2.0, 20.0, "4 to 18 m longer", True),
        (-20.0, -2.0, "4 to 18 m shorter", True),
        (0.0, 20.0, "2 to 18 m longer", False),       # zero on the edge is not left out
    ],
)  # fmt: skip
def test_no_difference_goes_by_the_90_percent_interval(low, high, wanted, small):
    sentence = say(verdict=words.NO_DIFFERENCE, reason="", **interval(low, high, 2.0))
    assert "no difference larger than what matters (25 m)" in sentence
    assert f"{wanted} (90 % interval, by which this is judged)" in sentence
    assert ("A small difference is there" in sentence) is small
    assert "shown" not in sentence


# ---- not resolved --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "reason",
    [
        "scatter: the interval holds zero",
        "excludes zero alone, but not with the other claims counted",
        "one flight: B flew once; its scatter is assumed, so nothing is claimed",
        "one change-over: periods are not separated",
        "confounded: conditions do not overlap: weight 500 to 520 kg with A, 580 to 600 kg with B",
    ],
)
@pytest.mark.parametrize(("low", "high"), [(-28.0, -1.0), (1.0, 28.0), (-10.0, 12.0)])
def test_not_resolved_gives_the_reason_and_claims_no_direction(reason, low, high):
    sentence = say(verdict=words.NOT_RESOLVED, reason=reason, **interval(low, high))
    assert "neither a difference nor its absence is claimed" in sentence
    assert words.capital(reason) in sentence
    assert not [word for word in CLAIMS if word in sentence]
    assert f"B minus A is {low:+.0f} to {high:+.0f} m" in sentence


def test_without_a_value_on_one_side_nothing_is_compared():
    sentence = say(verdict=words.NOT_RESOLVED, reason="B: full throttle gives 72 %",
                   **interval(NAN, NAN))  # fmt: skip
    assert sentence == "Take-off ground roll: not compared. B: full throttle gives 72 %."
    assert "nan" not in sentence.lower()


def test_an_unknown_verdict_is_refused():
    with pytest.raises(InputError, match=r"verdict must be one of shown, .*; got 'perhaps'"):
        say(verdict="perhaps")


@pytest.mark.parametrize("place", range(-3, 4))
@pytest.mark.parametrize("half", [0.5, 1.0, 2.0])
def test_sentences_follow_the_verdict_at_every_position_of_the_interval(place, half):
    """Over a grid of intervals, the sentence of the verdict that the comparison itself gives."""
    low, high = 10.0 * (place - half), 10.0 * (place + half)
    found = verdict(low, high, low + 1, high - 1, 15.0, 0.01, primary=True)
    sentence = say(verdict=found, reason="reason", matters=15.0, **interval(low, high, 1.0))
    directed = "than with A" in sentence
    assert directed is (found == words.SHOWN)
    assert ("no difference larger" in sentence) is (found == words.NO_DIFFERENCE)
    assert ("not resolved" in sentence) is (found == words.NOT_RESOLVED)


@pytest.mark.parametrize(
    ("found", "labelled"),
    [(words.SHOWN, True), (words.NO_DIFFERENCE, True), (words.NOT_RESOLVED, False)],
)
def test_exploratory_claims_are_labelled(found, labelled):
    reason = "exploratory: not one of the primary metrics"
    sentence = say(verdict=found, primary=False, reason=reason)
    assert ("Exploratory: not one of the questions asked beforehand." in sentence) is labelled


# ---- display units, values, answers --------------------------------------------------------------


def test_display_units_change_every_number_of_a_sentence():
    # 21 m = 68.9 ft, 14 m = 45.9 ft, 28 m = 91.9 ft, 25 m = 82.0 ft (1 ft = 0.3048 m)
    sentence = words.effect_sentence({"display": {"distance": "ft"}}, effect())
    assert "69 ft shorter" in sentence
    assert "46 to 92 ft shorter" in sentence
    assert "(82 ft)" in sentence
    assert " m " not in sentence


def test_value_of_a_single_flight_says_what_its_interval_rests_on():
    rows = made().values
    row = rows[rows["basis"].str.startswith("assumed")].iloc[0]
    sentence = words.value_sentence(made().meta, row)
    assert "from 1 flight and 2 points" in sentence
    assert "The interval rests on an assumed day-to-day scatter." in sentence


@pytest.mark.parametrize(
    ("status", "wanted"),
    [
        ("refused", "no value. No engine speed before the roll."),
        ("not reachable", "not reachable. Full throttle"),
    ],
)  # fmt: skip
def test_a_value_that_is_not_there_says_why(status, wanted):
    rows = made().values
    sentence = words.value_sentence(made().meta, rows[rows["status"] == status].iloc[-1])
    assert wanted in sentence
    assert "nan" not in sentence.lower()


def test_answers_put_the_questions_asked_first():
    found = words.answers(made())
    assert [answer.primary for answer in found] == sorted(
        (answer.primary for answer in found), reverse=True
    )
    assert len(found) == len(made().effects)


def test_one_configuration_is_answered_with_values_and_no_difference():
    found = words.answers(made_single())
    assert found
    for answer in found:
        assert answer.verdict in {"ok", "refused", "not reachable"}
        assert " than " not in answer.sentence
        assert "with A" not in answer.sentence


def test_nothing_at_all_is_answered_with_nothing():
    assert words.answers(made_empty()) == []


# ---- one sentence a picture ----------------------------------------------------------------------

ALONE = ("takeoffs", "climbs", "level_curve", "fuel_curve", "cruise", "differences")


@pytest.mark.parametrize("name", ALONE)
@pytest.mark.parametrize("results", [made(), made_single(), made_empty()])
def test_every_picture_has_a_sentence_whatever_there_is(name, results):
    sentence = getattr(captions, name)(results)
    assert sentence.endswith(".")
    assert "nan" not in sentence.lower()


@pytest.mark.parametrize("flight", FLIGHTS)
def test_flight_sentence_counts_its_points(flight):
    results = made()
    own = results.points[results.points["flight"] == flight]
    sentence = captions.flight_trace(results, flight)
    assert f"{len(own)} test points found, {int(own['used'].sum())} used" in sentence


def test_flight_sentence_says_why_a_point_is_not_used():
    assert "Not used: T2 (touch-and-go)." in captions.flight_trace(made(), "F4")


def test_an_unknown_flight_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match=r"got 'F9' \(known: F1, F2"):
        captions.flight_trace(made(), "F9")


def test_a_chain_that_is_not_there_is_refused_with_points_that_are():
    with pytest.raises(InputError, match=r"Points with this metric: F1-take-off-080400, "):
        captions.ledger_steps(made(), "F9-take-off-080400", "takeoff_ground_roll")


def test_balance_names_the_conditions_that_do_not_overlap():
    sentence = captions.balance(made(), "takeoff_ground_roll")
    assert sentence.endswith("they do not overlap in temperature.")
    alone = captions.balance(made_single(), "takeoff_ground_roll")
    assert alone.endswith("flown with A only, so there is nothing to balance.")


def test_the_sentence_of_a_picture_changes_with_the_results():
    """It is computed: another number gives another sentence."""
    results = made()
    values = results.values.copy()
    values.loc[values["condition_id"] == "cruise_55", "estimate"] += 1
    other = dataclasses.replace(results, values=pd.DataFrame(values))
    assert captions.cruise(results) != captions.cruise(other)
