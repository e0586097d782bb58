"""A look at one recording, without any campaign: what it holds, as it would be read.

Columns are proposed, the recording is read through them, and take-offs, climbs, level runs, level
accelerations, airspeed patterns and landings are found in it. All numbers are raw: nothing is
corrected, and nothing here is evidence until a person has confirmed the columns.
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS
from stdday.candidates import Candidate
from stdday.channels import find_channel
from stdday.columns import ColumnsFile, load_columns
from stdday.errors import CampaignError
from stdday.find_accelerations import find_accelerations
from stdday.find_climbs import find_climbs
from stdday.find_landings import find_landings
from stdday.find_level_runs import find_level_runs
from stdday.find_patterns import find_patterns
from stdday.find_takeoffs import find_takeoffs
from stdday.propose import propose_bytes
from stdday.propose_toml import columns_toml, harmless
from stdday.propose_types import Proposal
from stdday.propose_units import HeaderUnit, header_unit
from stdday.recording import read_source
from stdday.recording_bytes import load_bytes, unpack
from stdday.recording_part import FlightSource
from stdday.recording_types import Recording
from stdday.signals import Trace
from stdday.tracks_kind import track_kind

__all__ = ["Looked", "look_at", "proposed_columns"]

FloatArray = NDArray[np.float64]

#: Stands for a date that the recording does not have.
STAND_IN_DATE = datetime.date(2000, 1, 1)
#: Stands for the rated power, so that per cent can be read [W]; it is shown as per cent again.
STAND_IN_POWER_W = 100_000.0
_FUEL_DENSITY_KG_M3 = 720.0
_LONGEST_S = 2.0 * 86_400.0


@dataclass(frozen=True, eq=False)
class Looked:
    """What a look at a recording found.

    Parameters
    ----------
    name : str
        Name of the recording, harmless.
    kind : str
        Kind of track, or empty for a table of columns.
    proposal : Proposal or None
        Columns proposed; None for a track, which needs none.
    columns : ColumnsFile or None
        The same as it would be read.
    recording : Recording or None
        The recording in SI; None where it could not be read.
    why_not : str
        Why it could not be read.
    found : tuple of Candidate
        Take-offs, climbs, level runs, accelerations, patterns and landings, in order of time.
    dated : bool
        Whether the date stands in the recording.
    stand_in : str
        Altitude that stood in for pressure altitude in the search; empty where none did.
    """

    name: str
    kind: str
    proposal: Proposal | None
    columns: ColumnsFile | None
    recording: Recording | None
    why_not: str
    found: tuple[Candidate, ...]
    dated: bool
    stand_in: str


def look_at(path: Path) -> Looked:
    """Look at a recording.

    Parameters
    ----------
    path : Path
        Recording of any kind; packed or not.

    Returns
    -------
    Looked
        Proposal, recording and what was found in it.

    Raises
    ------
    CampaignError
        It cannot be opened, or no table can be seen in it.
    """
    name = harmless(path.name, 100)
    raw = load_bytes(path, name)
    kind = track_kind(unpack(raw, name))
    proposal = None if kind else propose_bytes(raw, name)
    columns = None if proposal is None or not proposal.channels else proposed_columns(proposal)
    dated = proposal.time.dated if proposal is not None else True
    if proposal is not None and columns is None:
        return Looked(name, kind, proposal, None, None, "no column could be told to be a channel",
                      (), dated, "")
    shares = proposal is not None and any(
        item.channel == "power" and header_unit(item.unit) == HeaderUnit("%")
        for item in proposal.channels)
    source = FlightSource("flight", ((name, path),), (columns,), None if dated else STAND_IN_DATE,
                          None, 0.0, STAND_IN_POWER_W if shares else None, _FUEL_DENSITY_KG_M3)
    try:
        recording = read_source(source)
        if shares:
            recording = _without_stand_in(recording)
    except CampaignError as error:
        return Looked(name, kind, proposal, columns, None, harmless(str(error), 600), (), dated, "")
    channels, stand_in = _with_altitude(recording.channels)
    return Looked(name, kind, proposal, columns, recording, "",
                  _find(recording.time_s, channels), dated, stand_in)


def _without_stand_in(recording: Recording) -> Recording:
    """Take out what was found by the power that stands in for the rated power."""
    kept = tuple(one for one in recording.findings if "specific consumption" not in one.what)
    return replace(recording, findings=kept)


def proposed_columns(proposal: Proposal) -> ColumnsFile:
    r"""Read a proposal as a columns file, the way it would be after it was saved.

    Parameters
    ----------
    proposal : Proposal
        The proposal, with at least one channel.

    Returns
    -------
    ColumnsFile
        Checked by the reader of columns files.

    Raises
    ------
    CampaignError
        The proposal is no columns file (a fault of this program).

    Examples
    --------
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> proposal = propose_bytes(("UTC,IAS (kt)\n" + rows).encode(), "one.csv")
    >>> proposed_columns(proposal).channels[0].column
    'IAS (kt)'
    """
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, "proposed.toml")
        place.write_text(columns_toml(proposal), encoding="utf-8", newline="\n")
        return load_columns(place)


def _with_altitude(channels: Mapping[str, FloatArray]) -> tuple[dict[str, FloatArray], str]:
    """Channels for the search, in which another altitude stands in where there is no pressure's."""
    made = dict(channels)
    if "pressure_altitude" in made:
        return made, ""
    for name in ("indicated_altitude", "gps_altitude"):
        if name in made:
            return {**made, "pressure_altitude": made[name]}, name
    return made, ""


def _find(time_s: FloatArray, channels: Mapping[str, FloatArray]) -> tuple[Candidate, ...]:
    """Find what may be test points; nothing in what is too short or too long for a flight."""
    if time_s.size < 20 or time_s[-1] - time_s[0] > _LONGEST_S:
        return ()
    trace = Trace(time_s, dict(channels), BANDS.step_s, BANDS.gap_s)
    # A landing counts here whether or not it was braked hard enough to carry a ground roll.
    landings = [replace(one, used=True, reason="", quality=one.reason or one.quality)
                if one.details else one for one in find_landings(trace)]
    takeoffs = find_takeoffs(trace)
    # The lift-off airspeed is not known here: what gains speed on the runway is a take-off roll.
    gains = [one for one in find_accelerations(trace)
             if not any(one.start_s < up.end_s and one.end_s > up.start_s for up in takeoffs)]
    found = [*takeoffs, *find_climbs(trace), *find_level_runs(trace), *gains,
             *find_patterns(trace), *landings]
    return tuple(sorted(found, key=lambda one: (one.start_s, one.kind)))


def unit_of(channel: str) -> str:
    """Unit in which a look shows a channel.

    Parameters
    ----------
    channel : str
        Name of the channel.

    Returns
    -------
    str
        The usual unit of the trade; never raises.

    Examples
    --------
    >>> unit_of("ground_speed"), unit_of("oil_temperature")
    ('kt', 'degC')
    """
    own = {"latitude": "deg", "longitude": "deg", "normal_acceleration": "g", "power": "%"}
    usual = {"speed": "kt", "length": "ft", "vertical_speed": "ft/min", "pressure": "hPa",
             "temperature": "degC", "angular_speed": "rpm", "volume_flow": "L/h", "volume": "L",
             "angle": "deg", "power": "kW"}
    known = find_channel(channel)
    return own.get(channel, usual.get(known.dimension, known.unit) if known is not None else "")
