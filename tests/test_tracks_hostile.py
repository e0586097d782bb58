"""Tracks that mean harm or are damaged: an answer or an error in words, and nothing run."""

from __future__ import annotations

import re
import socket
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stdday.errors import CampaignError
from stdday.recording import Recording, read_source
from stdday.recording_part import FlightSource
from tests.make_tracks import CALM, gpx, igc, make_way, nmea

HEAD = '<?xml version="1.0"?>\n'
POINT = '<trkpt lat="50.0" lon="8.{0:02d}"><time>2024-05-01T10:00:{0:02d}Z</time></trkpt>'
BODY = "<gpx><trk><trkseg>" + "".join(POINT.format(n) for n in range(5)) + "</trkseg></trk></gpx>"
MOST_SECONDS = 5.0


def read(path: Path, data: bytes) -> Recording | str:
    """Read a track: the recording, or the text of its error; anything else fails the test."""
    path.write_bytes(data)
    start = time.perf_counter()
    try:
        recording = read_source(FlightSource("F1", (("logs/x.gpx", path),), (None,)))
    except CampaignError as error:
        for problem in error.problems:
            assert problem.file == "logs/x.gpx"
            assert problem.mend
            assert problem.found
        return str(error)
    finally:
        assert time.perf_counter() - start < MOST_SECONDS
    assert (np.diff(recording.time_s) > 0.0).all()
    assert recording.rows.in_file == recording.rows.used + sum(recording.rows.set_aside.values())
    return recording


# ---------------------------------------------------------------- XML that does more than it says


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the network was used")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)


BOMB = ('<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">'
        + "".join(f'<!ENTITY {chr(98 + n)} "{10 * f"&{chr(97 + n)};"}">' for n in range(9)) + "]>")


@pytest.mark.parametrize("prolog", [
    BOMB,
    '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/evil.dtd">',
    '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
    '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "http://127.0.0.1:9/p.dtd"> %p;]>',
    "<!DOCTYPE gpx>",
], ids=["bomb", "external subset", "file", "parameter entity", "plain"])
@pytest.mark.usefixtures("no_network")
def test_document_types_and_entities_are_refused(tmp_path: Path, prolog: str) -> None:
    body = BODY.replace("<trk>", "<trk><name>&x;&j;</name>") if "ENTITY" in prolog else BODY
    answer = read(tmp_path / "a", (HEAD + prolog + body).encode())
    assert isinstance(answer, str)
    assert "without a document type or entities" in answer


def test_entities_that_are_not_declared_are_a_fault(tmp_path: Path) -> None:
    answer = read(tmp_path / "a", (HEAD + BODY.replace("<trk>", "<trk>&x;")).encode())
    assert isinstance(answer, str)
    assert "undefined entity" in answer


@pytest.mark.parametrize("data", [
    BODY.replace("<trk>", "<trk><name>" + 2_000_000 * " xmlns" + "</name>"),
    BODY.replace("<trk>", "<trk><name>" + 10_000_000 * "x" + "</name>"),
    BODY.replace("<gpx>", '<gpx a="' + 10_000_000 * "x" + '">'),
    BODY.replace("<trk>", 200_000 * "<a>" + 200_000 * "</a>" + "<trk>"),
    BODY.replace("</trkpt>", 100_000 * "<a>" + 100_000 * "</a>" + "</trkpt>", 1),
    BODY.replace("<time>", "<ele>" + 5_000_000 * "9" + "</ele><time>", 1),
    BODY.replace('lat="50.0"', 'lat="' + 5_000_000 * "5" + '"', 1),
    BODY.replace("<gpx>", "<gpx " + " ".join(f'xmlns:ns{n}="u{n}"' for n in range(20_000)) + ">"),
], ids=["xmlns", "name", "attribute", "deep", "deep point", "number", "latitude", "namespaces"])
def test_large_and_deep_documents(tmp_path: Path, data: str) -> None:
    answer = read(tmp_path / "a", (HEAD + data).encode())
    assert isinstance(answer, Recording)
    assert answer.rows.in_file == 5
    assert answer.rows.used >= 4


@pytest.mark.parametrize("ele", ["nan", "inf", "-inf", "1e999", "0x10", "ten", "1,5", "", "٣"])
def test_altitudes_that_are_no_numbers(tmp_path: Path, ele: str) -> None:
    answer = read(tmp_path / "a", BODY.replace("<time>", f"<ele>{ele}</ele><time>", 1).encode())
    assert isinstance(answer, Recording)
    assert not np.isinf(answer.channels.get("gps_altitude", np.zeros(1))).any()


def test_names_and_coordinates_stay_out_of_findings(tmp_path: Path) -> None:
    name = "<script>alert(1)</script> ../../x =cmd()"
    text = BODY.replace("<trk>", f"<trk><name><![CDATA[{name}]]></name>")
    answer = read(tmp_path / "a", text.encode())
    assert isinstance(answer, Recording)
    told = "\n".join(map(str, answer.findings))
    assert "script" not in told
    assert "50.0" not in told
    assert "8.0" not in told


def test_coordinates_stay_out_of_errors(tmp_path: Path) -> None:
    for data in (re.sub("<time>.*?</time>", "", BODY), BODY.replace(">2024", ">x"),
                 BODY.replace('lat="50.0"', 'lat="51.23456x"')):
        answer = read(tmp_path / "a", data.encode())
        assert isinstance(answer, str)
        assert "51.23456" not in answer


# ---------------------------------------------------------------- lines


@pytest.mark.parametrize("line", [
    "B" + 10_000_000 * "0", "$GPRMC," + 10_000_000 * "1", 10_000_000 * "$", "I" + 10_000_000 * "99",
    "HFDTE" + 5_000_000 * "0", "I99" + 200 * "3638LAD", "I013699TDS", "I010136LAD", "I013736LAD",
    "HFDTE320124", "HFDTE000000", "\x00\x01\x02", "\ud7ff\ufffe", "B1000005000000N00800000EA00100",
], ids=range(14))
@pytest.mark.parametrize("kind", ["igc", "nmea"])
def test_lines_of_all_sorts(tmp_path: Path, kind: str, line: str) -> None:
    way = make_way(1, CALM)
    moments = np.arange(np.ceil(way.time_s[0]), way.time_s[0] + 60)
    data = (igc if kind == "igc" else nmea)(way, moments, moments)
    lines = data.split(b"\r\n")
    # before the last fixes, so that what it breaks cannot be all
    answer = read(tmp_path / "a", b"\r\n".join([*lines[:-8], line.encode(), *lines[-8:]]))
    assert isinstance(answer, Recording)
    assert answer.rows.used >= 50


def test_files_of_nothing(tmp_path: Path) -> None:
    for data in (b"<gpx", b"<gpx/>", b"<gpx></gpx>", b"<gpx><trk><trkseg><trkpt",
                 b"HFDTE010524", b"AXXX\nHFDTE010524\n", b"$GPRMC,,,,,,,,,*00\n",
                 b"$GPGGA,1\n$GPGGA,2\n", b"\x1f\x8b\x08\x00", b"PK\x03\x04<gpx>"):
        assert isinstance(read(tmp_path / "a", data), str)


def test_every_fix_at_one_place_or_one_time(tmp_path: Path) -> None:
    one = 'lat="50.0" lon="8.0"'
    still = re.sub('lat=".*?" lon=".*?"', one, BODY)
    assert isinstance(read(tmp_path / "a", still.encode()), Recording)
    stuck = re.sub("<time>.*?</time>", "<time>2024-05-01T10:00:00Z</time>", BODY)
    answer = read(tmp_path / "a", stuck.encode())
    assert isinstance(answer, str)
    assert "one and the same in 5 fixes" in answer
    zero = re.sub('lat=".*?" lon=".*?"', 'lat="0" lon="0"', BODY)
    assert isinstance(read(tmp_path / "a", zero.encode()), Recording)
    pole = re.sub('lat=".*?"', 'lat="90"', BODY)
    assert isinstance(read(tmp_path / "a", pole.encode()), Recording)


# ---------------------------------------------------------------- mutated files


def whole() -> dict[str, bytes]:
    way = make_way(4, CALM)
    moments = np.arange(np.ceil(way.time_s[0]) + 60, way.time_s[0] + 180)
    return {"gpx": gpx(way, moments, moments), "igc": igc(way, moments, moments),
            "nmea": nmea(way, moments, moments)}


WHOLE = whole()


#: What a change does with what stands before, in and behind a piece, and with bytes of its own.
CHANGES = {
    "cut": lambda before, piece, behind, own: before,
    "drop": lambda before, piece, behind, own: before + behind,
    "insert": lambda before, piece, behind, own: before + own + piece + behind,
    "flip": lambda before, piece, behind, own: (
        before + bytes([byte ^ (1 << len(own) % 8) for byte in piece[:1]]) + piece[1:] + behind),
    "move": lambda before, piece, behind, own: behind + piece + before,
    "repeat": lambda before, piece, behind, own: before + piece + piece + behind,
    "lines": lambda before, piece, behind, own: (
        before + b"\n".join(reversed(piece.split(b"\n"))) + behind),
}


def mutated(data: bytes, changes: list[tuple[str, float, float, bytes]]) -> bytes:
    for what, at, length, own in changes:
        first = int(at * len(data))
        last = min(len(data), first + 1 + int(length * length * len(data)))
        data = CHANGES[what](data[:first], data[first:last], data[last:], own)
    return data


CHANGE = st.tuples(st.sampled_from(sorted(CHANGES)), st.floats(0, 1), st.floats(0, 0.3),
                   st.binary(max_size=6))


@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["gpx", "igc", "nmea"]), st.lists(CHANGE, min_size=1, max_size=4))
def test_mutated_tracks(tmp_path: Path, kind: str, changes: list[tuple[str, float, float, bytes]]
                        ) -> None:
    read(tmp_path / "a", mutated(WHOLE[kind], changes))
