"""Two recorders of one flight: their clocks, what is joined, and what is left out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from stdday.campaign import load_campaign
from stdday.columns import load_columns
from stdday.errors import CampaignError, InputError
from stdday.log_entry import parse_log
from stdday.points import find_points
from stdday.recording import Recording, flight_source, read_source
from stdday.recording_offset import Series, clock_offset
from stdday.recording_part import FlightSource
from stdday.recording_twice import recorded_twice
from tests.make_campaign import HEADER, make_campaign
from tests.make_tracks import CALM, PANEL, Way, gpx, igc, make_way, nmea, panel

SPEED = (4.0, 2.0)    # as for ground speed


def moments(way: Way, start: float = 5.0, before_end: float = 5.0, step_s: float = 1.0
            ) -> np.ndarray:
    return np.arange(np.ceil(way.time_s[0]) + start, way.time_s[-1] - before_end, step_s)


def read(folder: Path, files: dict[str, bytes], offsets: tuple[float | None, ...] = ()
         ) -> Recording:
    """Read files as one flight; those that end in csv are panel recordings."""
    (folder / "panel.toml").write_text(PANEL)
    columns = load_columns(folder / "panel.toml")
    logs = []
    for name, data in files.items():
        (folder / name).write_bytes(data)
        logs.append((f"logs/{name}", folder / name))
    kinds = tuple(columns if name.endswith("csv") else None for name in files)
    return read_source(FlightSource("F1", tuple(logs), kinds, offsets_s=offsets))


def said(recording: Recording) -> str:
    return "\n".join(str(finding) for finding in recording.findings)


def speed_error(recording: Recording, way: Way, name: str = "latitude") -> float:
    """How far a channel is from the truth at the panel's own times, in seconds of flight."""
    truth = way.at(recording.time_s)
    fast = (truth["speed"] > 20) & np.isfinite(recording.channels[name])
    scale = 1 / 111_000.0
    north = np.gradient(truth["latitude"], recording.time_s)
    moving = fast & (np.abs(north) > 15 * scale)
    return float(np.median((recording.channels[name] - truth[name])[moving] / north[moving]))


# ---------------------------------------------------------------- a track beside a panel


@pytest.mark.parametrize("write", [gpx, igc, nmea], ids=["gpx", "igc", "nmea"])
@pytest.mark.parametrize("offset_s", [37.0, -3600.0])
def test_a_track_whose_clock_is_wrong_is_shifted(
    tmp_path: Path, write: object, offset_s: float
) -> None:
    way = make_way(1, CALM)
    own, beside = moments(way), moments(way, 20, 30)
    data = write(way, beside, beside - offset_s)  # type: ignore[operator]
    recording = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": data})
    word = "behind" if offset_s > 0 else "ahead of"
    assert f"logs/t.x: its clock is {abs(offset_s):.1f} s (± 0.02 s, by ground speed) {word} " \
        "that of logs/a.csv: shifted" in said(recording)
    assert abs(speed_error(recording, way)) < 0.1
    assert recording.time_s.size == own.size           # no row twice
    assert recording.rows.in_file == recording.rows.used + sum(recording.rows.set_aside.values())
    assert "indicated_airspeed" in recording.channels
    assert "gps_altitude" in recording.channels


def test_the_offset_is_told_finer_than_the_samples(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    own, beside = moments(way), moments(way, 20.4, 30)
    data = gpx(way, beside, beside - 3.24)
    recording = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": data})
    assert '"logs/t.x @ +3.2' in said(recording)
    assert abs(speed_error(recording, way)) < 0.05


def test_clocks_that_agree_are_left_alone(tmp_path: Path) -> None:
    way = make_way(2, CALM)
    own, beside = moments(way), moments(way, 20, 30)
    recording = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": gpx(way, beside, beside)})
    assert "its clock agrees with that of logs/a.csv" in said(recording)
    assert "shifted" not in said(recording)


def test_one_flight_from_two_recorders_has_its_points_once(tmp_path: Path) -> None:
    way = make_way(3, CALM)
    own, beside = moments(way), moments(way, 2, 2)
    campaign = load_campaign(make_campaign(tmp_path / "campaign"))
    alone = read(tmp_path, {"a.csv": panel(way, own, own)})
    both = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": gpx(way, beside, beside - 41.0)})
    kinds = []
    for recording in (alone, both):
        table = find_points(recording, campaign.flights[0], campaign).table
        kinds.append((table["kind"] == "take-off").sum())
    assert kinds[0] == kinds[1] == 1


def test_what_a_person_wrote_comes_first(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    own, beside = moments(way), moments(way, 20, 30)
    files = {"a.csv": panel(way, own, own), "t.x": gpx(way, beside, beside - 37.0)}
    left = read(tmp_path, files, (None, 0.0))
    assert "logs/t.x: +0 s were added to its times, as flights.csv says" in said(left)
    assert abs(speed_error(left, way)) == pytest.approx(37.0, abs=0.5)
    given = read(tmp_path, files, (None, 37.0))
    assert abs(speed_error(given, way)) < 0.05
    assert "shifted" not in said(given)
    first = read(tmp_path, files, (100.0, 137.0))
    assert first.time_s[0] == pytest.approx(own[0] + 100.0)


def test_a_track_of_another_flight_is_left_out(tmp_path: Path) -> None:
    way, other = make_way(1, CALM), make_way(8)
    own, beside = moments(way), moments(other)
    recording = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": gpx(other, beside, beside)})
    assert "it is a recording of another flight" in said(recording)
    assert "latitude" not in recording.channels
    assert recording.rows.set_aside["recording of another flight"] == beside.size
    assert recording.time_s.size == own.size
    joined = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": gpx(other, beside, beside)},
                  (None, 0.0))
    assert "latitude" in joined.channels


def test_too_little_in_common_is_said_and_left(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    own, beside = moments(way), moments(way, 20, way.time_s[-1] - way.time_s[0] - 200)
    data = gpx(way, beside, beside - 9.0)
    recording = read(tmp_path, {"a.csv": panel(way, own, own), "t.x": data})
    assert "could not be compared" in said(recording)
    assert "each goes by its own clock" in said(recording)


def test_files_that_do_not_overlap_are_appended(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    time = moments(way)
    half = time.size // 2
    files = {"a.csv": panel(way, time[:half], time[:half]),
             "b.csv": panel(way, time[half + 60:], time[half + 60:])}
    recording = read(tmp_path, files)
    assert "they do not overlap" in said(recording)
    assert recording.time_s.size == time.size - 60
    tracks = read(tmp_path, {"a.x": gpx(way, time[:half], time[:half]),
                             "b.x": gpx(way, time[half + 60:], time[half + 60:])})
    assert tracks.time_s.size == time.size - 60
    assert "shifted" not in said(tracks)


def test_altitude_serves_where_there_is_no_ground_speed(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    own, beside = moments(way), moments(way, 20, 30)
    rng = np.random.default_rng(3)
    height = way.at(own)["altitude"] + 35.0 + rng.normal(scale=0.3, size=own.size)
    rows = [f"{stamp},{value:.1f}" for stamp, value in zip(own, height, strict=True)]
    (tmp_path / "alt.toml").write_text(PANEL.split("[channels]")[0] + '[channels]\n'
                                       'pressure_altitude = { column = "ALT", unit = "m" }\n')
    (tmp_path / "a.csv").write_text("\n".join(["t,ALT", *rows, ""]))
    (tmp_path / "t.x").write_bytes(gpx(way, beside, beside + 12.0))
    logs = (("logs/a.csv", tmp_path / "a.csv"), ("logs/t.x", tmp_path / "t.x"))
    recording = read_source(FlightSource("F1", logs, (load_columns(tmp_path / "alt.toml"), None)))
    assert "its clock is 12." in said(recording) or "its clock is 11.9" in said(recording)
    assert "by gps altitude) ahead of that of logs/a.csv: shifted" in said(recording)
    assert abs(speed_error(recording, way)) < 0.5


def test_clocks_that_run_apart_are_told() -> None:
    way = make_way(1, CALM)
    time = moments(way)
    truth = way.at(time)["speed"]
    slow = time[0] + (time - time[0]) * 1.002     # 7.2 s an hour
    found = clock_offset(Series(time, truth), Series(slow, truth), *SPEED)
    assert found.verdict == "same"
    assert found.drift == pytest.approx(-0.002, abs=0.0006)


# ---------------------------------------------------------------- how good


def test_offsets_of_made_pairs() -> None:
    """Mean and scatter of the error at 1 Hz; sigma is honest."""
    errors, sigmas = [], []
    for seed in range(15):
        way = make_way(seed)
        rng = np.random.default_rng([seed, 99])
        truth_s = float(rng.uniform(-3000, 3000))
        one, two = moments(way, rng.uniform(1, 2)), moments(way, rng.uniform(1, 60))
        noise = rng.normal(scale=0.15, size=one.size)
        found = clock_offset(Series(one, way.at(one)["speed"] + noise),
                             Series(two - truth_s, way.at(two)["speed"]), *SPEED)
        assert found.verdict == "same", seed
        errors.append(found.offset_s - truth_s)
        sigmas.append(found.sigma_s)
    assert abs(np.mean(errors)) < 0.01
    assert np.std(errors) < 0.03
    assert (np.abs(errors) < 4 * np.array(sigmas)).all()


@pytest.mark.parametrize("plan", [None, CALM], ids=["random", "the same plan"])
def test_different_flights_are_never_taken_for_one(plan: object) -> None:
    series = []
    for seed in range(8):
        way = make_way(seed, plan)  # type: ignore[arg-type]
        time = moments(way)
        series.append(Series(time, way.at(time)["speed"]))
    verdicts = [clock_offset(one, two, *SPEED).verdict
                for one in series for two in series if one is not two]
    assert "same" not in verdicts
    assert verdicts.count("other") > 0.8 * len(verdicts)


def test_what_says_nothing_is_unsure() -> None:
    time = np.arange(2000.0)
    still = Series(time, np.zeros(2000))
    assert clock_offset(still, still, *SPEED).verdict == "unsure"
    circles = Series(time, 30.0 + 10.0 * np.sin(time / 20.0))    # agrees with itself ever again
    found = clock_offset(circles, circles, *SPEED)
    assert (found.verdict, found.why) == ("unsure", "several offsets make them agree as well")
    few = Series(time[:5], time[:5])
    assert clock_offset(few, few, *SPEED).verdict == "unsure"


# ---------------------------------------------------------------- flights.csv


def flights(*rows: str) -> str:
    return "\n".join((HEADER, *rows, ""))


def test_the_log_cell_takes_an_offset_and_tracks_need_no_columns(tmp_path: Path) -> None:
    way = make_way(1, CALM)
    own = moments(way)
    content = flights(
        "F01,A,2025-06-15,f01.csv | f01.gpx @ +3.2 s,panel,576,home,08,1021,9,3,60,5,yes,",
        "F02,A,2025-06-15,f02.igc,,576,home,08,1021,9,3,60,5,yes,")
    folder = make_campaign(tmp_path, flights=content)
    (folder / "columns" / "panel.toml").write_text(PANEL)
    (folder / "columns" / "another.toml").write_text(PANEL)
    (folder / "logs" / "f01.csv").write_bytes(panel(way, own, own))
    (folder / "logs" / "f01.gpx").write_bytes(gpx(way, own, own - 3.2))
    (folder / "logs" / "f02.igc").write_bytes(igc(way, own, own + 7200.0))
    campaign = load_campaign(folder)
    first, second = campaign.flights
    assert first.log_names == ("logs/f01.csv", "logs/f01.gpx")
    assert first.log_offsets_s == (None, 3.2)
    assert (second.columns, second.log_offsets_s) == (None, (None,))
    columns = load_columns(folder / "columns" / "panel.toml")
    recording = read_source(flight_source(first, columns, campaign))
    assert "+3.2 s were added to its times, as flights.csv says" in said(recording)
    assert abs(speed_error(recording, way)) < 0.05
    alone = read_source(flight_source(second, None, campaign))
    assert alone.time_s[0] == own[0] + 7200.0


@pytest.mark.parametrize("entry", ["f01.csv @ soon", "f01.csv @ 3.2", "f01.csv @", "f01.csv @ 3 kg",
                                   "f01.csv @ +-3 s", "f01.csv @ 1000000 d", "f01.csv @ nan s"])
def test_an_offset_that_is_none_is_told(tmp_path: Path, entry: str) -> None:
    row = f"F01,A,2025-06-15,{entry},panel,576,home,08,1021,9,3,60,5,yes,"
    with pytest.raises(CampaignError) as caught:
        load_campaign(make_campaign(tmp_path, flights=flights(row)))
    assert "flights.csv: line 2, log: needed a time to add to those of the recording, with its " \
        "unit; found" in str(caught.value)
    assert "write such as f01.csv @ +3.2 s" in str(caught.value)


@pytest.mark.parametrize(("entry", "found"), [
    ("logs/a.gpx", ("logs/a.gpx", None)), (" a@b.gpx ", ("a@b.gpx", None)),
    ("a.gpx @ 3.2 s", ("a.gpx", 3.2)), ("a.gpx @+3.2s", ("a.gpx", 3.2)),
    ("a.gpx @ - 90 min", ("a.gpx", -5400.0)), ("a.gpx @ −1 h", ("a.gpx", -3600.0)),
    ("a.gpx @ +7168 d", ("a.gpx", 7168 * 86400.0)), ("a @ b.gpx @ 1 s", ("a @ b.gpx", 1.0)),
    ("a.gpx @ 0 s", ("a.gpx", 0.0)),
])
def test_entries_of_the_log_cell(entry: str, found: tuple[str, float | None]) -> None:
    assert parse_log(entry) == found


def test_entries_that_are_none() -> None:
    for entry in ("a @ b.gpx", "a.gpx @ ++1 s"):
        with pytest.raises(InputError):
            parse_log(entry)


# ---------------------------------------------------------------- one flight in two rows


def test_one_airplane_is_on_one_flight_at_a_time() -> None:
    spans = {"F1": (0.0, 3600.0), "F2": (3550.0, 7000.0), "F3": (100.0, 200.0), "F4": (1.0, 3601.0)}
    airplanes = {"F1": "one", "F2": "one", "F3": "two", "F4": "one"}
    told = [str(problem) for problem in recorded_twice(spans, airplanes)]
    assert len(told) == 1
    assert "flight 'F4'" in told[0]
    assert "that of 'F1'" in told[0]
    assert recorded_twice({}, {}) == []
