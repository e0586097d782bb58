"""The report: whole without a network, the same bytes twice, readable by people and machines."""

from __future__ import annotations

import dataclasses
import functools
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from stdday import words
from stdday.report import report_html
from tests.made_results import HOSTILE, made, made_empty, made_hostile, made_single

CASES = {"two": made, "one": made_single, "hostile": made_hostile, "empty": made_empty}
VOID = {"meta", "br", "hr", "img", "link", "input", "line", "rect", "circle", "path", "polygon",
        "polyline"}  # fmt: skip


class Page(HTMLParser):
    """Tags, headings, identifiers and text of a page; refuses tags that do not nest."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.headings, self.identifiers, self.links = [], [], [], []
        self.words, self._open = [], []
        self.feed(text)
        assert not self._open, self._open

    def handle_starttag(self, tag, attrs):
        attributes = dict(attrs)
        self.tags.append((tag, attributes))
        if "id" in attributes:
            self.identifiers.append(attributes["id"])
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "a":
            self.links.append(attributes["href"])
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag, (tag, self.getpos())

    def handle_data(self, data):
        if self._open and self._open[-1] not in {"style", "title"}:
            self.words.append(data)

    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@functools.cache
def page_of(case):
    return report_html(CASES[case]())


@pytest.mark.parametrize("case", CASES)
class TestEveryReport:
    def test_needs_nothing_but_itself(self, case):
        page = page_of(case)
        addresses = set(re.findall(r"https?://[^\"'\s<]+", page)) - {"http://www.w3.org/2000/svg"}
        assert addresses == set()
        found = Page(page)
        assert not {tag for tag, _ in found.tags} & {"script", "link", "iframe", "img", "object"}
        assert not re.search(r"url\(|@import|\son\w+=", re.sub(r"&[^;]+;", "", page))

    def test_is_the_same_twice(self, case):
        assert report_html(CASES[case]()) == page_of(case)

    def test_headings_descend_one_at_a_time(self, case):
        headings = Page(page_of(case)).headings
        assert headings[0] == 1
        assert headings.count(1) == 1
        assert all(after - before <= 1 for before, after in pairwise(headings))

    def test_links_lead_somewhere_and_identifiers_are_unique(self, case):
        page = Page(page_of(case))
        assert len(page.identifiers) == len(set(page.identifiers))
        assert {link.removeprefix("#") for link in page.links} <= set(page.identifiers)
        assert all(link.startswith("#") for link in page.links)

    def test_table_headers_have_a_scope(self, case):
        heads = [attributes for tag, attributes in Page(page_of(case)).tags if tag == "th"]
        assert heads
        assert {head.get("scope") for head in heads} == {"col"}

    def test_prints_no_missing_number(self, case):
        assert not re.search(r"\b(nan|NaN|None)\b", Page(page_of(case)).text())


def test_answer_comes_first_and_holds_every_sentence_asked_for():
    results = made()
    text = Page(report_html(results)).text()
    assert results.meta["question"] in text
    spots = []
    for answer in words.answers(results):
        if answer.primary:
            assert answer.sentence in text
            spots.append(text.index(answer.sentence))
    assert spots == sorted(spots)
    assert spots[-1] < text.index("Figure 1") < text.index("Mean size of every step")


def test_hostile_text_is_shown_and_not_run():
    page = report_html(made_hostile())
    assert "<script" not in page
    assert HOSTILE in Page(page).text()


def test_cautions_and_banner():
    results = made()
    text = Page(report_html(results)).text()
    assert "Not approved data." in text
    assert "The approved handbook, local rules and licensed people decide" in text
    assert "The airspeed of airplane one was not calibrated" in text
    assert "Invented example." not in text
    results.meta["invented"] = True
    assert "Invented example." in Page(report_html(results)).text()


def test_every_picture_has_its_computed_sentence():
    page = report_html(made())
    assert page.count("<figure") == page.count("<figcaption") == page.count('role="img"')
    numbers = [int(number) for number in re.findall(r"Figure (\d+):", page)]
    assert sorted(numbers) == list(range(1, len(numbers) + 1))


def test_what_was_left_out_and_what_is_absent_is_said():
    text = Page(report_html(made())).text()
    assert "touch-and-go" in text
    assert "write the dew point; drawn from a range until then" in text


def test_inputs_and_versions_are_fingerprinted():
    results = made()
    text = Page(report_html(results)).text()
    assert "a" * 64 in text
    assert "numpy 2.4.6" in text
    assert "seed 20261125" in text
    bare = dataclasses.replace(results, meta={k: v for k, v in results.meta.items()
                                              if k != "provenance"})  # fmt: skip
    assert "No fingerprints were given" in Page(report_html(bare)).text()


def test_pilots_are_not_named():
    results = made()
    flights = results.flights.assign(pilot="Pilot Someone")
    named = dataclasses.replace(results, flights=flights)
    assert "Someone" not in report_html(named)


def test_a_campaign_without_any_number_says_so():
    assert "No number came out of these flights." in Page(page_of("empty")).text()
    assert "No number came out of these flights." not in Page(page_of("two")).text()


def test_one_configuration_has_no_differences():
    text = Page(report_html(made_single())).text()
    assert "states values and claims no difference" in text
    assert "All differences" not in text


def test_paper_dark_screen_and_size():
    page = report_html(made())
    assert "@page" in page
    assert "prefers-color-scheme: dark" in page
    assert "break-inside: avoid" in page
    assert not re.search(r"@page\s*{[^}]*size", page)    # A4 or Letter: the reader's choice
    assert len(page) < 400_000


def test_a_question_that_changed_after_the_first_result_is_told() -> None:
    """The words stand above everything else; without a change nothing is said."""
    words = "question, reference conditions or what matters changed after the first result"
    results = made()
    meta = results.meta | {"changed_after_first_result": {"words": words}}
    told = dataclasses.replace(results, meta=meta)
    page = report_html(told)
    assert page.index(words) < page.index('id="answer"')
    assert "Changed after the first result" not in report_html(results)
