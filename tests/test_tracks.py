"""Tracks: each format to the last digit, rows accounted for, speed from positions."""

from __future__ import annotations

import datetime
import gzip
import io
import re
import zipfile
from pathlib import Path

import numpy as np
import pytest

from stdday.campaign import load_campaign
from stdday.delays import RECEIVER_S
from stdday.errors import CampaignError
from stdday.points import find_points
from stdday.recording import Recording, read_source
from stdday.recording_part import FlightSource
from stdday.tracks_kind import GPX, IGC, NMEA, track_kind
from stdday.tracks_speed import derive_speed, displacements, find_jumps, position_step
from tests.make_campaign import make_campaign
from tests.make_flights import EPOCH_S
from tests.make_tracks import (
    CALM,
    KNOT,
    gpx,
    igc,
    make_way,
    meridian_degree_m,
    nmea,
    parallel_degree_m,
    sentence,
)

# 2024-05-01 10:00 UTC: 19844 days after 1970-01-01 (54 years of 365 days, 13 leap days, 121 days)
TEN = 19_844 * 86_400.0 + 36_000.0
MAY = datetime.date(2024, 5, 1)


def read(folder: Path, data: bytes | str, name: str = "track.csv", **facts: object) -> Recording:
    """Read one track as a flight; its name is deliberately no help."""
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    logs = ((f"logs/{name}", path),)
    return read_source(FlightSource("F1", logs, (None,), **facts))  # type: ignore[arg-type]


def said(recording: Recording) -> str:
    return "\n".join(str(finding) for finding in recording.findings)


def refusal(folder: Path, data: bytes | str, **facts: object) -> str:
    with pytest.raises(CampaignError) as caught:
        read(folder, data, **facts)
    text = str(caught.value)
    assert text.startswith("logs/track.csv: ")
    assert "Mend: " in text
    return text


def seconds(recording: Recording) -> list[float]:
    return (recording.time_s - TEN).tolist()


# ---------------------------------------------------------------- GPX

POINTS = """\
<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1" xmlns:e="urn:e">
<wpt lat="1" lon="1"><time>2024-05-01T09:00:00Z</time></wpt>
<trk><name>a &lt;b&gt;</name><trkseg>
<trkpt lat="50.100000" lon="-8.200000"><ele>101.5</ele><time>2024-05-01T10:00:00Z</time>
 <extensions><e:x><e:speed>30.5</e:speed><e:course>90</e:course></e:x></extensions></trkpt>
<trkpt lat="50.100000" lon="-8.199572"><ele>102.5</ele><time>2024-05-01T12:00:01+02:00</time>
 <extensions><e:x><e:speed>30.6</e:speed><e:course>91</e:course></e:x></extensions></trkpt>
</trkseg><trkseg>
<trkpt lat="50.100000" lon="-8.199144"><time>2024-05-01T10:00:02.250Z</time>
 <extensions><e:x><e:speed>30.7</e:speed><e:course>-1</e:course></e:x></extensions></trkpt>
</trkseg></trk></gpx>
"""


def test_gpx_to_the_last_digit(tmp_path: Path) -> None:
    recording = read(tmp_path, POINTS)
    assert seconds(recording) == [0.0, 1.0, 2.25]
    np.testing.assert_array_equal(recording.channels["latitude"], [50.1] * 3)
    np.testing.assert_array_equal(recording.channels["longitude"], [-8.2, -8.199572, -8.199144])
    np.testing.assert_array_equal(recording.channels["gps_altitude"], [101.5, 102.5, np.nan])
    np.testing.assert_array_equal(recording.channels["ground_speed"], [30.5, 30.6, 30.7])
    np.testing.assert_allclose(recording.channels["track"], np.radians([90, 91, np.nan]))
    assert (recording.track_reference, recording.heading_reference) == ("true", None)
    assert str(recording.rows) == "3 rows = 3 used"
    assert "is a track (GPX); it needs no columns file" in said(recording)


@pytest.mark.parametrize("data", [
    POINTS.replace("\n", "\r\n").encode(),
    POINTS.encode("utf-8-sig"),
    POINTS.encode("utf-16"),
    POINTS.replace("UTF-8", "ISO-8859-1").replace('"x"', '"é"').encode("latin-1"),
    POINTS.replace("<gpx", "<!-- <gpx> -->\n<gpx").encode(),
    POINTS.replace("version=\"1.1\"", "version=\"1.0\"").encode(),
    re.sub(r"<(/?)([a-z]+)(?=[ >/])", r"<\1g:\2", POINTS).replace("xmlns=", "xmlns:g=").encode(),
    re.sub("</?(extensions|e:x)>", "", POINTS).replace("e:", "").encode(),
    gzip.compress(POINTS.encode()),
], ids=["crlf", "bom", "utf-16", "latin-1", "comment", "1.0", "prefixed", "direct", "gzip"])
def test_the_same_gpx_in_other_clothes(tmp_path: Path, data: bytes) -> None:
    recording = read(tmp_path, data)
    assert seconds(recording) == [0.0, 1.0, 2.25]
    np.testing.assert_array_equal(recording.channels["ground_speed"], [30.5, 30.6, 30.7])
    assert str(recording.rows) == "3 rows = 3 used"


def test_a_zip_of_one_gpx(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("a/b.gpx", POINTS)
    assert seconds(read(tmp_path, packed.getvalue())) == [0.0, 1.0, 2.25]


def test_gpx_points_that_cannot_be_read_cost_only_themselves(tmp_path: Path) -> None:
    bad = ['lat="fifty" lon="8"', 'lon="8"', 'lat="50" lon="8"', 'lat="50" lon="8"']
    body = "".join(f"<trkpt {place}><time>2024-05-01T10:00:0{n}Z</time><fix>3d</fix></trkpt>"
                   for n, place in enumerate(bad))
    body = body.replace("10:00:02Z</time><fix>3d", "10:00:02Z</time><fix>none").replace(
        "10:00:03Z", "25:00:03Z")
    recording = read(tmp_path, POINTS.replace("</trkseg></trk>", body + "</trkseg></trk>"))
    assert seconds(recording) == [0.0, 1.0, 2.25]
    assert str(recording.rows) == "7 rows = 3 used + 2 damaged fix + 1 fix marked as not valid" \
        " + 1 time missing or unreadable"


def test_gpx_cut_off_keeps_what_was_written(tmp_path: Path) -> None:
    recording = read(tmp_path, POINTS[:POINTS.index("10:00:02.2")])
    assert seconds(recording) == [0.0, 1.0]
    assert str(recording.rows) == "3 rows = 2 used + 1 point cut off by the end of the file"
    assert "its XML is damaged or cut off in line 10" in said(recording)


def test_gpx_without_times_is_a_route(tmp_path: Path) -> None:
    text = refusal(tmp_path, re.sub("<time>.*?</time>", "", POINTS))
    assert "needed a track with a time at each fix, of at least two times; found none" in text
    text = refusal(tmp_path, POINTS.replace("trkpt", "rtept"))
    assert "needed a track with points (trkpt); found none" in text


def test_gpx_points_without_time_among_others(tmp_path: Path) -> None:
    recording = read(tmp_path, POINTS.replace("<time>2024-05-01T12:00:01+02:00</time>", ""))
    assert str(recording.rows) == "3 rows = 2 used + 1 time missing or unreadable"


# ---------------------------------------------------------------- IGC

RECORD = """\
AXXX001 made
HFDTE010524
HFALGALTGPS:GEO
I073638FXA3940SIU4142LAD4344LOD4545TDS4648GSP4951TRT
B1000005006000N00812000WA00050001500350812347108090
B1000015006000N00811974WA00051001510350812347108091
B1000025006000N00811949WV00052001520350812347108092
LXXX a remark
G0123456789
"""


def test_igc_to_the_last_digit(tmp_path: Path) -> None:
    recording = read(tmp_path, RECORD)
    # 12.000 and two more digits of latitude minutes: 06.00012; longitude 12.00034; + 0.7 s
    np.testing.assert_allclose(seconds(recording), [0.7, 1.7, 2.7], atol=1e-6)
    latitude, longitude = 50 + 6.00012 / 60, -8 - 12.00034 / 60
    np.testing.assert_allclose(recording.channels["latitude"], [latitude, latitude, np.nan],
                               rtol=1e-14)
    np.testing.assert_allclose(recording.channels["longitude"][0], longitude, rtol=1e-14)
    np.testing.assert_array_equal(recording.channels["pressure_altitude"], [50, 51, 52])
    np.testing.assert_array_equal(recording.channels["gps_altitude"], [150, 151, np.nan])
    np.testing.assert_allclose(recording.channels["ground_speed"], [30, 30, np.nan], rtol=1e-14)
    np.testing.assert_allclose(recording.channels["track"], np.radians([90, 91, np.nan]))
    assert str(recording.rows) == "9 rows = 3 used + 6 record of another kind"
    assert "1 fixes are marked V, not valid" in said(recording)
    assert "satellite altitude is above mean sea level" in said(recording)


def fix(clock: str, east: int = 0, valid: str = "A", pressure: int = 100, gps: int = 150) -> str:
    return f"B{clock}5000000N008{east:05d}E{valid}{pressure:05d}{gps:05d}"


def record(*lines: str, date: str = "HFDTE010524") -> str:
    return "\n".join(["AXXX001", date, *lines, ""])


def test_igc_over_midnight(tmp_path: Path) -> None:
    # item 18: -86 397 s within a track
    recording = read(tmp_path, record(fix("235958"), fix("235959"), fix("000002"), fix("000003")))
    assert seconds(recording) == [50398.0, 50399.0, 50402.0, 50403.0]


def test_igc_over_midnight_with_a_new_date_record(tmp_path: Path) -> None:
    recording = read(tmp_path, record(fix("235959"), fix("000000"), "HFDTE020524", fix("000001")))
    assert seconds(recording) == [50399.0, 50400.0, 50401.0]


@pytest.mark.parametrize("date", ["HFDTE010524", "HFDTEDATE:010524,01", "HFDTEDATE010524",
                                  "HFDTE: 010524"])
def test_igc_spellings_of_the_date(tmp_path: Path, date: str) -> None:
    assert seconds(read(tmp_path, record(fix("100000"), fix("100001"), date=date))) == [0.0, 1.0]


def test_igc_without_a_date_takes_the_flights(tmp_path: Path) -> None:
    data = record(fix("100000"), fix("100001"), date="HFPLT")
    assert seconds(read(tmp_path, data, date=MAY)) == [0.0, 1.0]
    assert "HFDTE: needed the date of the flight" in refusal(tmp_path, data)


def test_igc_of_another_day_is_told(tmp_path: Path) -> None:
    recording = read(tmp_path, record(fix("100000"), fix("100001")), date=datetime.date(2024, 6, 1))
    assert "begins on 2024-05-01 UTC, and flights.csv says 2024-06-01" in said(recording)


def test_igc_without_a_pressure_sensor(tmp_path: Path) -> None:
    recording = read(tmp_path, record(*(fix(f"1000{n:02d}", n, "V" if n == 1 else "A", 0)
                                        for n in range(4))))
    assert "pressure_altitude" not in recording.channels
    assert str(recording.rows) == "6 rows = 3 used + 2 record of another kind + 1 fix marked as " \
        "not valid"
    assert "the recorder has no pressure sensor" in said(recording)
    assert "does not say which" in said(recording)


def test_igc_negative_altitude_and_damage(tmp_path: Path) -> None:
    good = fix("100000").replace("A00100", "A-0012")
    lines = [good, "B1000", fix("106000"), fix("100001").replace("5000000N", "5061000N"),
             fix("100001").replace("E", "X"), fix("100002").replace("00150", "001x0"),
             fix("100003")]
    recording = read(tmp_path, record(*lines))
    np.testing.assert_array_equal(recording.channels["pressure_altitude"], [-12, 100])
    assert str(recording.rows) == "9 rows = 2 used + 2 record of another kind + 5 damaged fix"


def test_igc_last_line_cut_in_mid_record(tmp_path: Path) -> None:
    data = record(fix("100000"), fix("100001"), fix("100002"))
    recording = read(tmp_path, data.removesuffix("\n"))
    assert seconds(recording) == [0.0, 1.0]
    assert recording.rows.set_aside["last line without a line end"] == 1


# ---------------------------------------------------------------- NMEA 0183

LOG = "\r\n".join([
    # the standard's own way of writing: 50 deg 06.00012 min
    sentence("GNGGA,100000.00,5006.00012,N,00812.00034,W,1,09,0.9,101.5,M,47.6,M,,"),
    sentence("GNRMC,100000.00,A,5006.00012,N,00812.00034,W,060.0,90.0,010524,,,A,V"),
    sentence("GPGSV,1,1,01,02,45,120,40"),
    sentence("GNGGA,100001.00,5006.00012,N,00811.97434,W,1,09,0.9,102.5,M,47.6,M,,"),
    sentence("GNRMC,100001.00,A,5006.00012,N,00811.97434,W,060.2,91.0,010524,,,D,V"),
    sentence("GNRMC,100002.00,V,,,,,,,010524,,,N,V"),
    sentence("GNRMC,100003.00,A,5006.00012,N,00811.92234,W,060.4,92.0,010524,,,A,V"),
    sentence("GNRMC,100004.00,A,5006.00012,N,00811.89634,W,060.4,92.0,010524,,,A,V").replace(
        "60.4", "61.4"),
    "$GNRMC,100005.00,A,5006.000", ""])


def test_nmea_to_the_last_digit(tmp_path: Path) -> None:
    recording = read(tmp_path, LOG)
    assert seconds(recording) == [0.0, 1.0, 3.0]
    np.testing.assert_allclose(recording.channels["latitude"], [50 + 6.00012 / 60] * 3, rtol=1e-14)
    np.testing.assert_allclose(recording.channels["longitude"][0], -8 - 12.00034 / 60, rtol=1e-14)
    np.testing.assert_array_equal(recording.channels["gps_altitude"], [101.5, 102.5, np.nan])
    np.testing.assert_allclose(recording.channels["ground_speed"],
                               np.array([60, 60.2, 60.4]) * KNOT)
    np.testing.assert_allclose(recording.channels["track"], np.radians([90, 91, 92]))
    assert recording.track_reference == "true"
    assert recording.rows.in_file == 9
    assert recording.rows.used == 3
    assert dict(recording.rows.set_aside) == {
        "record of another kind": 1, "wrong checksum": 1, "checksum missing": 1,
        "fix marked as not valid": 1, "part of the fix in another line": 2}
    assert "1 sentences have a wrong checksum" in said(recording)


def test_nmea_without_checksums_is_said(tmp_path: Path) -> None:
    recording = read(tmp_path, re.sub(r"\*..", "", LOG))
    assert seconds(recording) == [0.0, 1.0, 3.0, 4.0]
    assert "have no checksums: a damaged number in it cannot be told" in said(recording)
    assert recording.rows.set_aside["damaged fix"] == 1


def rmc(clock: str, date: str = "010524", east: float = 12.0, rest: str = "") -> str:
    return sentence(f"GPRMC,{clock},A,5006.0000,N,008{east:07.4f},E,60.0,90.0,{date},,,A{rest}")


def gga(clock: str, east: float = 12.0, quality: int = 1) -> str:
    return sentence(f"GPGGA,{clock},5006.0000,N,008{east:07.4f},E,{quality},08,1.0,100.0,M,47,M,,")


def test_nmea_over_midnight(tmp_path: Path) -> None:
    # the date comes with RMC alone; GGA stands before it, and once without it
    lines = [gga("235958"), gga("235959"), rmc("235959"), gga("000000"), gga("000001"),
             rmc("000001", "020524"), ""]
    assert seconds(read(tmp_path, "\n".join(lines))) == [50398.0, 50399.0, 50400.0, 50401.0]


def test_nmea_of_gga_and_vtg_alone(tmp_path: Path) -> None:
    vtg = sentence("GPVTG,90.0,T,,M,60.0,N,111.1,K,A")
    lines = [vtg, gga("100000", 12.0), vtg, gga("100001", 12.026), vtg, gga("100002", 12.052), ""]
    recording = read(tmp_path, "\n".join(lines), date=MAY)
    assert seconds(recording) == [0.0, 1.0, 2.0]
    np.testing.assert_allclose(recording.channels["ground_speed"],
                               np.array([60, 60, np.nan]) * KNOT)
    assert "RMC: needed the date of the flight" in refusal(tmp_path, "\n".join(lines))


@pytest.mark.parametrize("line", [
    rmc("100001").replace(",A,5006", ",A,500x"), gga("100001", quality=0), gga("100001", quality=6),
    sentence("GPRMC,100001,A,5006.0000,X,00812.0000,E,60.0,90.0,010524,,,A"),
    sentence("GPRMC,100001,A,9106.0000,N,00812.0000,E,60.0,90.0,010524,,,A"),
    sentence("GPRMC,240001,A,5006.0000,N,00812.0000,E,60.0,90.0,010524,,,A"),
    sentence("GPRMC,100001,A,5006.0000,N,00812.0000,E,6_0,90.0,310224,,,A"),
    sentence("GPRMC,100001,A,5006.0000,N,00812.0000,E,60.0,90.0,010524,,,E"),
    sentence("GPRMC,100001"), sentence("GPGGA,,,,,,0,,,,,,,,"), "$GPRMC", "garbage \x00", "",
], ids=range(13))
def test_nmea_lines_that_are_no_fix(tmp_path: Path, line: str) -> None:
    recording = read(tmp_path, "\n".join([rmc("100000"), line, rmc("100002"), ""]))
    assert seconds(recording) == [0.0, 2.0]
    assert (recording.rows.in_file, recording.rows.used) == (3, 2)


# ---------------------------------------------------------------- what kind it is


def test_kinds_are_told_by_content() -> None:
    assert track_kind(POINTS.encode()) == GPX
    assert track_kind(RECORD.encode()) == IGC
    assert track_kind(LOG.encode()) == NMEA
    assert track_kind(("garbage\n" + RECORD).encode()) == IGC
    assert track_kind(("\x00\xffhalf a line\n" + LOG).encode("latin-1")) == NMEA
    for other in (b"", b"\x00" * 5000, b"<html><body>gpx</body></html>",
                  b"<?xml version='1.0'?><kml>",
                  b"Date,Time,GS\n2024-05-01,10:00:00,50\n", b"B,C\n1,2\n", b"$1,234\n$2,345\n",
                  b"# $GPRMC,100000 among other columns\nt,a\n1,2\n3,4\n"):
        assert track_kind(other) == ""


def test_what_is_no_track_needs_a_columns_file(tmp_path: Path) -> None:
    assert "needed a columns file, as it is no track" in refusal(tmp_path, "t,a\n1,2\n")


# ---------------------------------------------------------------- times


def test_duplicate_and_backward_times(tmp_path: Path) -> None:
    clocks = ["100000", "100001", "100001", "100002", "100001", "100003"]
    recording = read(tmp_path, record(*(fix(c, 18 * n) for n, c in enumerate(clocks))))
    assert (np.diff(recording.time_s) > 0.0).all()
    assert recording.rows.in_file == 8
    assert recording.rows.set_aside["time goes back"] == 1


def test_a_fix_written_twice_is_not_two(tmp_path: Path) -> None:
    # item 18: zero time increment, the same position
    lines = [fix("100000", 0), fix("100001", 25), fix("100001", 25), fix("100002", 50),
             fix("100003", 75)]
    recording = read(tmp_path, record(*lines))
    assert seconds(recording) == [0.0, 1.0, 2.0, 3.0]
    assert recording.rows.set_aside["same time as the fix before"] == 1


def test_at_long_intervals_a_repeated_time_is_not_spread(tmp_path: Path) -> None:
    lines = [fix(f"1000{n:02d}", 10 * n) for n in (0, 10, 20, 30)]
    lines.insert(2, fix("100010", 103))
    recording = read(tmp_path, record(*lines))
    assert seconds(recording) == [0.0, 10.0, 20.0, 30.0]


def test_a_track_that_runs_backwards(tmp_path: Path) -> None:
    lines = [fix(f"1000{n:02d}", 25 * n) for n in range(30, 0, -1)]
    recording = read(tmp_path, record(*lines))
    assert seconds(recording) == list(range(1, 31))
    assert "runs backwards in time" in said(recording)


@pytest.mark.parametrize("step_s", [10, 30])
def test_long_intervals_and_gaps(tmp_path: Path, step_s: int) -> None:
    way = make_way(5, CALM)
    time = np.arange(way.time_s[0] + 100, way.time_s[-1], step_s)
    gap = (time > time[0] + 400) & (time < time[0] + 626)   # item 15: 226 s
    time = time[~gap]
    recording = read(tmp_path, gpx(way, time, time))
    speed = recording.channels["ground_speed"]
    assert np.isnan(speed[[0, -1]]).all()
    edge = int(np.argmax(np.diff(time)))
    assert np.isnan(speed[[edge, edge + 1]]).all()   # beside the gap nothing is known
    assert np.isfinite(speed).sum() == time.size - 4
    assert "1 gaps between samples" in said(recording)
    assert f"as the mean over {2 * step_s} s" in said(recording)
    assert np.nanmax(speed) < way.speed.max() + 0.5


# ---------------------------------------------------------------- positions, speed and track


def test_position_zero_is_dropped(tmp_path: Path) -> None:
    # item 21
    zero = fix("100003").replace("5000000N", "0000000N").replace("00800000E", "00000000E")
    lines = [fix(f"1000{n:02d}", 25 * n) for n in range(3)]
    later = [fix(f"1000{n:02d}", 25 * n) for n in range(4, 9)]
    recording = read(tmp_path, record(*lines, zero.replace("00800000E", "00000000E"), *later))
    assert "the position is 0, 0 in 1 rows" in said(recording)
    assert np.isnan(recording.channels["latitude"][3])
    assert np.nanmax(recording.channels["ground_speed"]) < 31.0


def test_jumps_of_the_position_make_no_speed(tmp_path: Path) -> None:
    lines = [fix(f"1000{n:02d}", 25 * n + (3000 if n in (20, 21) else 0)) for n in range(50)]
    recording = read(tmp_path, record(*lines))
    assert "2 fixes are where no airplane can have flown to" in said(recording)
    np.testing.assert_allclose(recording.channels["ground_speed"][5:18], 29.87, rtol=0.001)
    assert np.nanmax(recording.channels["ground_speed"]) < 31.0


def test_sentinel_altitude(tmp_path: Path) -> None:
    # item 25: 'floor' sentinel -9999 in all rows
    recording = read(tmp_path, POINTS.replace("101.5", "-9999").replace("102.5", "-9999"))
    assert "gps_altitude" not in recording.channels
    assert "2 of 3 samples of gps_altitude are outside -600 to 15000 m" in said(recording)


def test_displacements_against_the_tables_of_the_ellipsoid() -> None:
    # series of the tables, from memory, good to a metre a degree
    for latitude in (0.0, 30.0, 60.0, 85.0):
        steps = np.array([latitude, latitude + 0.001])
        north, _ = displacements(steps, np.zeros(2))
        assert north[0] == pytest.approx(0.001 * meridian_degree_m(latitude), rel=2e-5)
        _, east = displacements(np.full(2, latitude), np.array([179.9995, -179.9995]))
        assert east[0] == pytest.approx(0.001 * parallel_degree_m(latitude), rel=2e-5)


def test_position_steps() -> None:
    rng = np.random.default_rng(1)
    raw = rng.uniform(-60, 60, 500)
    for digits in (4, 5, 6, 7):
        assert position_step(np.round(raw, digits)) == pytest.approx(10.0**-digits)
    for digits in (2, 3, 4):
        minutes = np.round(raw * 60, digits)
        assert position_step(minutes / 60) == pytest.approx(10.0**-digits / 60)
    assert position_step(raw) < 2e-8


def test_speed_is_no_finer_than_the_positions() -> None:
    """Constant speed, positions in steps of 1.85 m: what is left is what was promised."""
    time = np.arange(600.0)
    truth = 25.0 + 0.02 * time
    latitude = 44.0 + (25.0 * time + 0.01 * time**2) / meridian_degree_m(44.09)
    rounded = np.round(latitude * 60, 3) / 60
    made = derive_speed(time, rounded, np.full(600, -30.0))
    assert made.step_m == pytest.approx(1.85, abs=0.01)
    assert made.window_s == 4.0
    left = (made.ground_speed - truth)[10:-10]
    assert abs(left.mean()) < 0.02
    assert left.std() < 1.2 * made.sigma_ms
    assert made.sigma_ms < 0.25
    fine = derive_speed(time, latitude, np.full(600, -30.0))
    assert fine.window_s == 2.0


def test_uneven_times_do_not_bend_a_straight_acceleration() -> None:
    rng = np.random.default_rng(2)
    time = np.sort(rng.uniform(0, 100, 150))
    way = 0.5 * 0.3 * time**2
    made = derive_speed(time, np.full(150, 0.0), way / parallel_degree_m(0.0))
    known = np.isfinite(made.ground_speed)
    assert known.sum() > 100
    # the rest is the series of the tables and the step of 1 m / 1e8
    np.testing.assert_allclose(made.ground_speed[known], 0.3 * time[known], rtol=2e-5, atol=1e-3)


def test_repeated_fixes_are_no_standstill() -> None:
    # item 16: the log rate is not the sensor rate
    time = np.arange(100.0)
    latitude = 44.0 + 30.0 * np.floor(time / 2) * 2 / meridian_degree_m(44.0)
    made = derive_speed(time, latitude, np.full(100, -30.0))
    assert made.repeated == 49 or made.repeated == 50
    known = made.ground_speed[np.isfinite(made.ground_speed)]
    np.testing.assert_allclose(known, 30.0, rtol=1e-3)
    still = derive_speed(time, np.full(100, 44.0), np.full(100, -30.0))
    assert (still.ground_speed[5:-5] == 0.0).all()
    assert np.isnan(still.track).all()


def test_jumps_are_found_and_flights_are_not() -> None:
    way = make_way(3, CALM)
    assert not find_jumps(way.time_s[::20], way.latitude[::20], way.longitude[::20]).any()


@pytest.mark.parametrize(("factor", "unit"), [(3.6, "km/h"), (1.0 / KNOT, "kt")])
def test_a_speed_in_another_unit_is_not_used(tmp_path: Path, factor: float, unit: str) -> None:
    way = make_way(1, CALM)
    time = np.arange(way.time_s[0] + 1, way.time_s[-1] - 1)
    data = re.sub("<speed>(.*?)</speed>",
                  lambda found: f"<speed>{factor * float(found[1]):.2f}</speed>",
                  gpx(way, time, time, speeds=True).decode())
    recording = read(tmp_path, data)
    assert f"its ground_speed is {factor:.2f} times that from its positions ({unit}?)" in \
        said(recording)
    middle = recording.channels["ground_speed"]
    known = np.isfinite(middle)
    assert np.abs(middle - way.at(recording.time_s)["speed"])[known].max() < 2.0
    good = read(tmp_path, gpx(way, time, time, speeds=True))
    np.testing.assert_allclose(good.channels["ground_speed"], way.at(time)["speed"], atol=0.0051)


@pytest.mark.parametrize(("write", "digits"), [(gpx, 0.4), (igc, 0.7), (nmea, 0.06)])
def test_speed_of_a_made_flight(tmp_path: Path, write: object, digits: float) -> None:
    way = make_way(2, CALM)
    time = np.arange(np.ceil(way.time_s[0]) + 1, way.time_s[-1] - 1)
    recording = read(tmp_path, write(way, time, time))  # type: ignore[operator]
    truth = way.at(recording.time_s)
    left = recording.channels["ground_speed"] - truth["speed"]
    assert np.nanstd(left) < digits / 2
    assert abs(np.nanmean(left)) < 0.02
    fast = truth["speed"] > 20
    off = np.angle(np.exp(1j * (recording.channels["track"] - truth["heading"])))
    assert np.degrees(np.nanmedian(np.abs(off[fast]))) < 1.0


# ---------------------------------------------------------------- a track alone in a campaign


@pytest.mark.parametrize("write", [gpx, igc, nmea], ids=["gpx", "igc", "nmea"])
def test_a_track_alone_gives_its_take_offs(tmp_path: Path, write: object) -> None:
    errors, rolls = [], 0
    for seed in range(6):
        way = make_way(seed, CALM)
        time = np.arange(np.ceil(way.time_s[0]) + 1, way.time_s[-1] - 1)
        recording = read(tmp_path, write(way, time, time))  # type: ignore[operator]
        assert "no airspeed" in said(recording)
        campaign = load_campaign(make_campaign(tmp_path / f"{seed}"))
        table = find_points(recording, campaign.flights[0], campaign).table
        found = table[(table["kind"] == "take-off") & table["used"]]
        truth = [EPOCH_S + one["release"] for one in way.truth.takeoffs]
        rolls += len(truth)
        assert len(found) == len(truth)
        # these receivers are prompt, but nothing tells: the usual delay has been taken out
        errors += (found["start_s"].to_numpy() + RECEIVER_S[0] - truth).tolist()
    assert rolls >= 6
    # positions in steps of 1.85 m are smoothed over 4 s: releases read up to 2 s early, as is said
    assert np.max(errors) < 0.5
    assert np.min(errors) > (-2.1 if write is igc else -0.8)
