"""The time base: offsets, midnight, jumps, repeats and gaps, with the seconds checked."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stdday.columns import TimeSource
from stdday.errors import CampaignError
from stdday.recording_stamps import Stamps, continuous_utc, number_stamps, text_stamps
from stdday.recording_time import TimeBase, make_time_base, spread_repeats

DAY = datetime.date(2024, 5, 1)
# 2024-05-01 00:00 UTC: 19844 days after 1970-01-01 (54 years of 365 days, 13 leap days, 121 days)
MIDNIGHT = 19_844 * 86_400.0


def text(*columns: list[str | None]) -> list[np.ndarray]:
    return [np.array(column, dtype=object) for column in columns]


def utc(source: TimeSource, *columns: list[str | None], zone: float | None = None,
        offsets: list[str | None] | None = None, date: datetime.date | None = DAY) -> list[float]:
    cells = None if offsets is None else np.array(offsets, dtype=object)
    stamps = text_stamps(source, text(*columns), cells, date, zone, "one.csv")
    return list(stamps.utc_s - MIDNIGHT)


def base(*seconds: float, dated: bool = True) -> TimeBase:
    return make_time_base(Stamps(np.array(seconds) + MIDNIGHT, dated), "one.csv")


# ---------------------------------------------------------------- stamps


@pytest.mark.parametrize(("form", "columns"), [
    ("%Y-%m-%d %H:%M:%S", (["2024-05-01"], ["13:30:05"])),
    ("%d.%m.%Y %I:%M:%S %p", (["01.05.2024"], ["01:30:05"], ["PM"])),
    ("%m/%d/%y %H:%M:%S", (["05/01/24 13:30:05"],)),
    ("%Y %m %d %H %M %S", (["2024"], ["5"], ["1"], ["13"], ["30"], ["05"])),
    ("%Y-%m-%dT%H:%M:%S%z", (["2024-05-01T15:30:05+0200"],)),
    ("ISO 8601", (["2024-05-01T15:30:05+02:00"],)),
    ("ISO 8601", (["2024-05-01T13:30:05Z"],)),
    ("ISO 8601", (["2024-05-01"], ["13:30:05"])),
    ("%H:%M:%S", (["13:30:05"],)),
    ("%H:%M:%S", (["  13:30:05 "],)),
])
def test_a_moment_however_it_is_split(form: str, columns: tuple[list[str], ...]) -> None:
    assert utc(TimeSource(("t",), form), *columns) == [48_605.0]


def test_fractions_that_the_format_does_not_name() -> None:
    found = utc(TimeSource(("t",), "%H:%M:%S"), ["10:00:00", "10:00:00.25", "10:00:00,5", "x"])
    assert found[:3] == [36_000.0, 36_000.25, 36_000.5]
    assert np.isnan(found[3])


def test_local_time_by_each_kind_of_offset() -> None:
    fixed = TimeSource(("t",), "%H:%M:%S", None, 3_600.0)
    assert utc(fixed, ["10:00:00"]) == [32_400.0]
    field = TimeSource(("t",), "%H:%M:%S", None, None)
    assert utc(field, ["10:00:00"], zone=-18_000.0) == [54_000.0]
    column = TimeSource(("t",), "%H:%M:%S", "z")
    assert utc(column, ["10:00:00", "10:00:01"], offsets=["-05:00", "-05:00"]) == [54_000, 54_001]


def test_local_time_without_its_zone_is_refused() -> None:
    with pytest.raises(CampaignError, match="write the flight's airfield"):
        utc(TimeSource(("t",), "%H:%M:%S", None, None), ["10:00:00"])


def test_a_clock_without_date_needs_the_flights() -> None:
    with pytest.raises(CampaignError, match="write the date"):
        utc(TimeSource(("t",), "%H:%M:%S"), ["10:00:00"], date=None)


def test_cells_in_another_format_are_refused_with_the_first_of_them() -> None:
    with pytest.raises(CampaignError, match="needed times in the format '%H:%M:%S'; found 'noon'"):
        utc(TimeSource(("t",), "%H:%M:%S"), [None, "noon"])


def test_moments_that_no_flight_has_are_no_times() -> None:
    source = TimeSource(("t",), "%Y-%m-%d %H:%M:%S")
    found = utc(source, ["1970-01-01 00:00:00", "2024-05-01 00:00:00", "2150-01-01 00:00:00"])
    assert np.isnan(found[0])
    assert found[1] == 0.0
    assert np.isnan(found[2])


def test_numbers_of_seconds() -> None:
    values = np.array([0.0, 0.5, np.nan, 1e300])
    elapsed = number_stamps(TimeSource(("t",), "elapsed seconds"), values, DAY, "one.csv")
    assert list(elapsed.utc_s[:2]) == [MIDNIGHT, MIDNIGHT + 0.5]
    assert np.isnan(elapsed.utc_s[2:]).all()
    assert "no clock" in elapsed.findings[0].what
    epoch = TimeSource(("t",), "epoch milliseconds")
    found = number_stamps(epoch, np.array([MIDNIGHT * 1000.0 + 250.0]), None, "one.csv")
    assert found.utc_s[0] == pytest.approx(MIDNIGHT + 0.25, abs=1e-6)
    with pytest.raises(CampaignError, match="date"):
        number_stamps(TimeSource(("t",), "elapsed seconds"), values, None, "one.csv")


def test_an_offset_that_flips_with_local_time_keeps_its_own() -> None:
    # item 12 of real recordings: local time jumps with the offset, UTC stays right
    local = np.array([0.0, 1.0, 18_002.0, 18_003.0, 4.0])
    offset = np.array([-18_000.0, -18_000.0, 0.0, 0.0, -18_000.0])
    found, findings = continuous_utc(local, offset, "one.csv")
    assert list(found) == [18_000.0, 18_001.0, 18_002.0, 18_003.0, 18_004.0]
    assert findings[0].level == "note"


def test_an_offset_that_flips_alone_is_not_believed() -> None:
    local = np.array([0.0, 1.0, 2.0, np.nan, 3.0, 4.0, 5.0])
    offset = np.array([0.0, -18_000.0, -18_000.0, -18_000.0, np.nan, -18_000.0, 0.0])
    found, findings = continuous_utc(local, offset, "one.csv")
    assert list(found[np.isfinite(found)]) == [18_000.0, 18_001, 18_002, 18_003, 18_004, 18_005]
    assert findings[0].level == "caution"
    assert "usual offset in 2 of them" in findings[0].what
    assert "1 rows have no offset" in findings[1].what


def test_no_offset_at_all_is_refused() -> None:
    with pytest.raises(CampaignError, match="needed offsets from UTC"):
        continuous_utc(np.zeros(2), np.full(2, np.nan), "one.csv")


# ---------------------------------------------------------------- time base


def test_midnight_is_passed_where_there_is_no_date() -> None:
    found = base(86_398.0, 86_399.0, 0.0, 86_399.5, 1.0, dated=False)
    assert list(found.time_s - MIDNIGHT) == [86_398.0, 86_399.0, 86_400.0, 86_401.0]
    assert found.set_aside == {"time goes back": 1}


def test_midnight_is_not_made_where_there_is_a_date() -> None:
    found = base(*np.arange(86_390.0, 86_400.0), 0.0, 86_400.0)
    assert found.time_s[-1] == MIDNIGHT + 86_400.0
    assert found.set_aside == {"time goes back": 1}


def test_a_clock_set_after_power_up() -> None:
    # item 11: 14 rows are early, then the clock jumps by 2110 s
    early = np.arange(14.0)
    found = base(*early, *(early[-1] + 2110.0 + np.arange(200.0)))
    assert found.set_aside == {"clock not yet set at power-up": 14}
    assert found.time_s.size == 200
    assert "jumps by +2110 s after 14 rows" in found.findings[0].what


def test_a_clock_that_starts_at_midnight_keeps_the_day() -> None:
    found = base(*np.arange(5.0), *(50_400.0 + np.arange(100.0)), dated=False)
    assert found.set_aside == {"clock not yet set at power-up": 5}
    assert found.time_s[0] == MIDNIGHT + 50_400.0


def test_a_clock_set_back_costs_the_rows_before() -> None:
    found = base(*(3_600.0 + np.arange(14.0)), *np.arange(200.0))
    assert found.set_aside == {"clock not yet set at power-up": 14}
    assert list(found.keep) == list(range(14, 214))


def test_a_gap_later_is_kept_as_a_gap() -> None:
    found = base(*np.arange(100.0), *(325.0 + np.arange(100.0)))
    assert found.set_aside == {}
    assert np.diff(found.time_s).max() == 226.0
    assert "1 gaps between samples, the longest 226.0 s from 2024-05-01T00:01:39 UTC" in (
        found.findings[0].what)


def test_time_that_goes_back_costs_the_fewer_rows() -> None:
    found = base(10.0, 11.0, 12.0, 11.0, 12.0, 13.0, 14.0)
    assert list(found.time_s - MIDNIGHT) == [10.0, 11.0, 12.0, 13.0, 14.0]
    assert list(found.keep) == [0, 1, 2, 5, 6]
    spike = base(10.0, 11.0, 500.0, 12.0, 13.0, 14.0)
    assert list(spike.keep) == [0, 1, 3, 4, 5]
    low = base(10.0, 11.0, 3.0, 12.0, 13.0, 14.0)
    assert list(low.keep) == [0, 1, 3, 4, 5]


def test_a_later_session_that_starts_its_clock_again_is_told() -> None:
    found = base(*np.arange(5_000.0, 5_100.0), *np.arange(4_000.0, 5_050.0, 10.0))
    assert found.set_aside == {"time goes back": 100}
    caution = next(item for item in found.findings if item.level == "caution")
    assert "several power-ups" in caution.spoils


def test_a_recording_that_runs_backwards_is_turned() -> None:
    found = base(*np.arange(50.0)[::-1])
    assert list(found.time_s - MIDNIGHT) == list(range(50))
    assert list(found.keep) == list(range(50))[::-1]


def test_rows_without_time_are_set_aside() -> None:
    found = base(1.0, np.nan, 3.0)
    assert found.set_aside == {"time missing or unreadable": 1}
    with pytest.raises(CampaignError, match="needed a row with a time"):
        base(np.nan, np.nan)


def test_a_single_row() -> None:
    found = base(5.0)
    assert list(found.time_s - MIDNIGHT) == [5.0]
    assert np.isnan(found.interval_s)


def test_repeats_and_missed_seconds() -> None:
    # item 14: rows every 1.02 s or so, stamped to the second: repeats and 2-s steps
    spread, usual, repeats = spread_repeats(
        np.array([0.0, 1.0, 1.0, 3.0, 4.0, 6.0, 6.0, 7.0]), "one.csv")
    assert list(spread) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    assert (usual, repeats) == (1.0, 2)


def test_three_rows_a_stamp_are_spread_over_it_and_not_into_a_gap() -> None:
    # item 16: 3.3 Hz
    stamps = np.repeat([0.0, 1.0, 2.0, 228.0], 3)
    spread, usual, repeats = spread_repeats(stamps, "one.csv")
    third = np.array([0.0, 1.0 / 3.0, 2.0 / 3.0])
    np.testing.assert_allclose(spread, np.concatenate([third + start for start in (0, 1, 2, 228)]),
                               rtol=0, atol=1e-12)
    assert usual == pytest.approx(1.0 / 3.0)
    assert repeats == 8


def test_a_run_before_and_a_run_behind_share_a_gap() -> None:
    spread, _, _ = spread_repeats(np.array([0.0, 1, 2, 3, 4, 5, 5, 7, 7, 8, 9, 10]), "one.csv")
    assert list(spread[5:9]) == [5.0, 6.0, 6.5, 7.0]


def test_one_stamp_for_all_rows_is_refused() -> None:
    with pytest.raises(CampaignError, match="one and the same time in all 3 rows"):
        spread_repeats(np.full(3, 7.0), "one.csv")
    with pytest.raises(CampaignError, match="times that tell rows apart"):
        spread_repeats(np.repeat([MIDNIGHT, MIDNIGHT + 1e-6], 100), "one.csv")


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.one_of(st.integers(0, 90_000), st.integers(40_000, 40_050), st.just(None)),
             min_size=1, max_size=60),
    st.booleans(),
)
def test_any_stamps_give_a_strict_time_base_and_every_row_is_counted(
    stamps: list[int | None], dated: bool
) -> None:
    seconds = np.array([np.nan if stamp is None else float(stamp) for stamp in stamps]) + MIDNIGHT
    try:
        found = make_time_base(Stamps(seconds, dated), "one.csv")
    except CampaignError:
        known = seconds[np.isfinite(seconds)]
        assert known.size == 0 or np.unique(known).size < known.size
        return
    assert (np.diff(found.time_s) > 0.0).all()
    assert found.time_s.size + sum(found.set_aside.values()) == seconds.size
    assert np.unique(found.keep).size == found.keep.size == found.time_s.size
    assert np.isfinite(seconds[found.keep]).all()
    # a stamp that no other row has stays as it is, but for whole days where there is no date
    _, where, count = np.unique(seconds[found.keep], return_inverse=True, return_counts=True)
    alone = count[where] == 1
    moved = (found.time_s - seconds[found.keep])[alone]
    days = np.zeros_like(moved) if dated else np.round(moved / 86_400.0) * 86_400.0
    assert np.array_equal(moved, days)
