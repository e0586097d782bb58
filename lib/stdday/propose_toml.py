"""A proposal written as a columns file: commented, unconfirmed, nothing in it that can do harm."""

from __future__ import annotations

import json
import re

from stdday.errors import StddayError
from stdday.propose_types import ChannelProposal, Proposal, TimeProposal

__all__ = ["columns_toml", "harmless", "toml_text"]

_HEAD = """\
# Columns proposed for one kind of recording. Nothing here was confirmed: look at every line, mend
# what is wrong, answer what is asked, and then write confirmed = true.
# Each channel: sure, likely or ASK, with what speaks for it.
"""
_WIDTH = 98


def harmless(text: str, longest: int = 200) -> str:
    r"""Make a text out of a recording harmless on a terminal and in a remark: one line, printable.

    Parameters
    ----------
    text : str
        Any text.
    longest : int
        Longest text kept [characters].

    Returns
    -------
    str
        Signs that cannot be seen become one blank; a cut is marked; never raises.

    Examples
    --------
    >>> harmless("a\x1b[31mb\nc"), harmless("x" * 9, longest=4)
    ('a [31mb c', 'xxxx…')
    """
    cut = text[:longest] + ("…" if len(text) > longest else "")
    seen = "".join(sign if sign.isprintable() else " " for sign in cut)
    return re.sub(r" {2,}", " ", seen).strip()


def toml_text(text: str) -> str:
    r"""Write a text as a basic string of TOML.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        In quotes, all that is not plain escaped; never raises.

    Examples
    --------
    >>> print(toml_text('say "a"\tb'))
    "say \"a\"\tb"
    """
    plain = text.encode("utf-8", errors="replace").decode("utf-8")
    return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007f")


def columns_toml(proposal: Proposal, name: str = "", *, confirmed: bool = False) -> str:
    r"""Write a proposal as the text of a columns file.

    Parameters
    ----------
    proposal : Proposal
        The proposal.
    name : str
        Name of the recording, for the remark at the top; the proposal's own unless given.
    confirmed : bool
        Whether a person has looked at it; ``look`` and ``new`` never say so.

    Returns
    -------
    str
        TOML, with the reasons as remarks.

    Raises
    ------
    StddayError
        No channel was found, so that there is nothing to write.

    Examples
    --------
    >>> from stdday.propose import propose_bytes
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> text = columns_toml(propose_bytes(("UTC,IAS (kt)\n" + rows).encode(), "one.csv"))
    >>> text.splitlines()[-1]
    'indicated_airspeed = { column = "IAS (kt)", unit = "kt" }'
    """
    if not proposal.channels:
        raise StddayError(f"{harmless(proposal.file)}: no column could be told to be a channel, so "
                          "there is no columns file to write. Mend: write one by hand, beginning "
                          "from that of a new campaign (columns/recorder.toml).")
    layout = proposal.layout
    lines = [_HEAD + _remark(f"Proposed from {name or proposal.file}"),
             f"confirmed = {'true' if confirmed else 'false'}", "",
             f"delimiter = {toml_text(layout.delimiter)}", f"decimal = {toml_text(layout.decimal)}",
             f"header_rows = {list(layout.header_rows)}"]
    if layout.unit_row is not None:
        lines.append(f"unit_row = {layout.unit_row}")
    if layout.comment is not None:
        lines.append(f"comment = {toml_text(layout.comment)}")
    if layout.encoding is not None:
        lines.append(f"encoding = {toml_text(layout.encoding)}")
    if proposal.fingerprint is not None:
        lines.append(f"header = {toml_text(proposal.fingerprint)}")
    marks = ", ".join(toml_text(mark) for mark in proposal.missing)
    lines += [f"missing = [{marks}]", "", *_time(proposal.time), "", "[channels]"]
    for item in proposal.channels:
        lines += _channel(item)
    if proposal.unused:
        lines += ["", "# Columns of numbers that were proposed for nothing:"]
        lines += _wrapped(", ".join(proposal.unused))
    return "\n".join(lines) + "\n"


def _remark(text: str) -> str:
    """One line of remark."""
    return f"# {harmless(text)}"


def _wrapped(text: str) -> list[str]:
    """Remark over several lines."""
    words, lines, line = harmless(text, 4000).split(" "), [], "#"
    for word in words:
        if len(line) + len(word) + 1 > _WIDTH and line != "#":
            lines.append(line)
            line = "#"
        line += f" {word[:_WIDTH]}"
    return [*lines, line]


def _time(time: TimeProposal) -> list[str]:
    """Lines of the time."""
    lines = _wrapped(f"{_said(time.confidence)}: {time.reason}")
    lines += _wrapped(f"QUESTION: {time.question}") if time.question else []
    if not time.columns:
        return [*lines, f'time = {{ interval = {toml_text(time.interval or "1 s")}, '
                'interval_sigma = "3 %" }']
    columns = ", ".join(toml_text(name) for name in time.columns)
    parts = [f"columns = [{columns}]", f"format = {toml_text(time.format)}"]
    if time.utc_offset_column is not None:
        parts.append(f"utc_offset_column = {toml_text(time.utc_offset_column)}")
    elif time.utc_offset is not None:
        parts.append(f"utc_offset = {toml_text(time.utc_offset)}")
    return [*lines, f"time = {{ {', '.join(parts)} }}"]


def _said(confidence: str) -> str:
    """Word for how sure, loud where a person must choose."""
    return "ASK" if confidence == "ask" else confidence


def _channel(item: ChannelProposal) -> list[str]:
    """Lines of one channel."""
    lines = ["", *_wrapped(f"{_said(item.confidence)}: {item.reason}")]
    lines += _wrapped(f"QUESTION: {item.question}") if item.question else []
    for runner in item.runners_up:
        lines += _wrapped(f"or: {runner.column} in {runner.unit} ({runner.reason})")
    parts = [f"column = {toml_text(item.column)}", f"unit = {toml_text(item.unit)}"]
    if item.reference is not None:
        parts.append(f"reference = {toml_text(item.reference)}")
    if item.offset is not None:
        parts.append(f"offset = {toml_text(item.offset)}")
    if item.missing:
        parts.append(f"missing = [{', '.join(toml_text(mark) for mark in item.missing)}]")
    return [*lines, f"{item.channel} = {{ {', '.join(parts)} }}"]
