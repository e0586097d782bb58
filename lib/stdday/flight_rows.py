"""One row of ``flights.csv``: its cells checked, and turned into a flight in SI."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath, PureWindowsPath

from stdday.csv_tables import CsvRow, CsvTable
from stdday.errors import Problem
from stdday.log_entry import parse_log
from stdday.names import id_fault, nearest
from stdday.tracks_kind import is_track
from stdday.units import UnitError, parse_quantity, shown

__all__ = ["FLIGHTS_FILE", "FLIGHT_COLUMNS", "AirplaneFacts", "Flight", "RowReader", "Surroundings"]

#: Name of the file in a campaign's folder.
FLIGHTS_FILE = "flights.csv"

#: Columns of the file, with the dimension of those that hold quantities.
FLIGHT_COLUMNS: dict[str, str | None] = {
    "flight": None,
    "configuration": None,
    "date": None,
    "log": None,
    "columns": None,
    "takeoff_weight": "mass",
    "fuel_at_start": "volume",
    "airfield": None,
    "runway": None,
    "altimeter_setting": "pressure",
    "reported_temperature": "temperature",
    "reported_dew_point": "temperature",
    "reported_wind_from": "angle",
    "reported_wind_speed": "speed",
    "block": None,
    "installation": None,
    "pilot": None,
    "engine_hours": "time",
    "flaps": None,
    "mixture": None,
    "runway_condition": None,
    "crew_note": None,
    "use": None,
    "why_not": None,
}

_RANGES = {
    "takeoff_weight": ("20 kg", "20000 kg"),
    "fuel_at_start": ("0 L", "5000 L"),
    "altimeter_setting": ("850 hPa", "1100 hPa"),
    "reported_temperature": ("-60 degC", "60 degC"),
    "reported_dew_point": ("-80 degC", "40 degC"),
    "reported_wind_from": ("0 deg", "360 deg"),
    "reported_wind_speed": ("0 kt", "100 kt"),
    "engine_hours": ("0 h", "200000 h"),
}

_YES = {"", "yes", "y", "true", "1"}
_NO = {"no", "n", "false", "0"}
_OVERWEIGHT = 1.25


@dataclass(frozen=True)
class Flight:
    """One flight, in SI; None where the file does not say.

    Parameters
    ----------
    id : str
        Name of the flight, safe as part of a file name.
    configuration : str
        Configuration flown.
    row : int
        Line of the flight in ``flights.csv`` [1-based].
    date : datetime.date or None
        Date (UTC where the recording is).
    logs : tuple of Path
        Recordings, absolute.
    log_names : tuple of str
        Recordings relative to the campaign's folder, with forward slashes.
    log_offsets_s : tuple of (float or None)
        What is added to the times of each recording [s]; None where the cell does not say.
    columns : str or None
        Name of the columns file, without folder and ending; tracks need none.
    takeoff_weight_kg : float or None
        Weight at the first brake release [kg].
    fuel_at_start_m3 : float or None
        Fuel at engine start [m^3].
    airfield, runway : str or None
        Where the flight took off.
    altimeter_setting_pa : float or None
        Altimeter setting (QNH) [Pa].
    reported_temperature_k, reported_dew_point_k : float or None
        Reported temperature and dew point [K].
    reported_wind_from_rad : float or None
        True direction that the reported wind comes from [rad].
    reported_wind_speed_ms : float or None
        Reported wind speed [m/s].
    block : str
        Period with one configuration; made from the order of flights where not given.
    installation : str
        Fit of the instruments; the airplane where not given.
    pilot : str or None
        Pilot.
    engine_hours_h : float or None
        Engine hours [h].
    flaps, mixture, runway_condition, crew_note : str or None
        Texts as written.
    use : bool
        Whether the flight is used.
    why_not : str
        Reason where it is not used, else empty.
    """

    id: str
    configuration: str
    row: int
    date: datetime.date | None = None
    logs: tuple[Path, ...] = ()
    log_names: tuple[str, ...] = ()
    log_offsets_s: tuple[float | None, ...] = ()
    columns: str | None = None
    takeoff_weight_kg: float | None = None
    fuel_at_start_m3: float | None = None
    airfield: str | None = None
    runway: str | None = None
    altimeter_setting_pa: float | None = None
    reported_temperature_k: float | None = None
    reported_dew_point_k: float | None = None
    reported_wind_from_rad: float | None = None
    reported_wind_speed_ms: float | None = None
    block: str = ""
    installation: str = ""
    pilot: str | None = None
    engine_hours_h: float | None = None
    flaps: str | None = None
    mixture: str | None = None
    runway_condition: str | None = None
    crew_note: str | None = None
    use: bool = True
    why_not: str = ""


@dataclass(frozen=True)
class AirplaneFacts:
    """What the flights of an airplane are checked against; None where it is not known.

    Parameters
    ----------
    maximum_weight_kg, empty_weight_kg : float or None
        Weights [kg].
    fuel_density_kg_m3 : float or None
        Density of the fuel [kg/m^3].
    """

    maximum_weight_kg: float | None = None
    empty_weight_kg: float | None = None
    fuel_density_kg_m3: float | None = None


@dataclass(frozen=True)
class Surroundings:
    """What ``campaign.toml`` says that the flights may name.

    Parameters
    ----------
    configurations : dict of str to str or None
        Airplane of each configuration.
    airplanes : dict of str to AirplaneFacts
        Facts of each airplane.
    airfields : dict of str to tuple of str, or None
        Runways of each airfield; None where they could not be read.
    """

    configurations: Mapping[str, str | None] = field(default_factory=dict)
    airplanes: Mapping[str, AirplaneFacts] = field(default_factory=dict)
    airfields: Mapping[str, tuple[str, ...] | None] = field(default_factory=dict)

    def facts(self, configuration: str) -> AirplaneFacts:
        """Facts of the airplane of a configuration; empty ones where it is not known."""
        airplane = self.configurations.get(configuration) or ""
        return self.airplanes.get(airplane, AirplaneFacts())


class RowReader:
    """Read one row, gathering what is wrong with it in `problems`.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.
    table : CsvTable
        The table that the row is of.
    row : CsvRow
        The row.
    surroundings : Surroundings or None
        What the flight may name; None leaves those checks out.
    on_cards : frozenset of str, optional
        Flights of which there is a card filled in by hand: they need no recording.

    Examples
    --------
    >>> table = CsvTable("flights.csv", {}, ("flight", "configuration"), ())
    >>> reader = RowReader(Path("."), table, CsvRow(2, {"flight": "F01"}), None)
    >>> reader.flight() is None, reader.problems[0].needed
    (True, 'a configuration')
    """

    def __init__(
        self, folder: Path, table: CsvTable, row: CsvRow, surroundings: Surroundings | None,
        on_cards: frozenset[str] = frozenset(),
    ) -> None:
        self.folder, self.table, self.row, self.around = folder, table, row, surroundings
        self.on_cards = on_cards
        self.problems: list[Problem] = []

    def report(
        self, column: str, needed: str, found: str, mend: str, *, cost: bool = False
    ) -> None:
        """Gather one problem of a column."""
        self.problems.append(Problem(FLIGHTS_FILE, f"line {self.row.line}, {column}", needed, found,
                                     mend, "cost" if cost else "error"))

    def text(self, column: str) -> str | None:
        """Text of a cell."""
        return self.row.cells.get(column)

    def flight(self) -> Flight | None:
        """Read the flight; None where it has no usable name."""
        name, configuration = self.name(), self.configuration()
        use, why_not = self.use()
        logs = self.logs(use)
        airfield = self.airfield()
        flight = Flight(
            id=name or "", configuration=configuration or "", row=self.row.line, date=self.date(),
            logs=tuple(path for path, _, _ in logs), log_names=tuple(name for _, name, _ in logs),
            log_offsets_s=tuple(offset_s for _, _, offset_s in logs),
            columns=self.columns(use and not (logs and all(is_track(path) for path, _, _ in logs))),
            airfield=airfield, runway=self.runway(airfield),
            takeoff_weight_kg=self.takeoff_weight(configuration),
            fuel_at_start_m3=self.quantity("fuel_at_start", configuration),
            altimeter_setting_pa=self.quantity("altimeter_setting"),
            reported_temperature_k=self.quantity("reported_temperature"),
            reported_dew_point_k=self.quantity("reported_dew_point"),
            reported_wind_from_rad=self.quantity("reported_wind_from"),
            reported_wind_speed_ms=self.quantity("reported_wind_speed"),
            block=self.label("block"), installation=self.label("installation"),
            pilot=self.text("pilot"), engine_hours_h=self.hours(), flaps=self.text("flaps"),
            mixture=self.text("mixture"), runway_condition=self.text("runway_condition"),
            crew_note=self.text("crew_note"), use=use, why_not=why_not)
        self.humidity(flight)
        return flight if name and configuration else None

    def name(self) -> str | None:
        """Name of the flight."""
        text = self.text("flight")
        if text is None:
            self.report("flight", "a name for the flight", "an empty cell", "name it, such as F01")
            return None
        return text if self.safe("flight", text) else None

    def safe(self, column: str, text: str) -> bool:
        """Report a name that cannot be part of a file name."""
        fault = id_fault(text)
        if fault:
            self.report(column, "a name that can be part of a file name", f"{shown(text)}: {fault}",
                        "use letters, digits, blanks and the marks _ - . +")
        return fault is None

    def label(self, column: str) -> str:
        """Name of a block or installation; empty where not given."""
        text = self.text(column) or ""
        return text if not text or self.safe(column, text) else ""

    def configuration(self) -> str | None:
        """Read the configuration, which must be one of the campaign."""
        text = self.text("configuration")
        if text is None:
            self.report("configuration", "a configuration", "an empty cell",
                        "write the configuration flown")
            return None
        return self.one_of("configuration", text,
                           self.around.configurations if self.around else None)

    def one_of(self, column: str, text: str, known: Iterable[str] | None) -> str | None:
        """Report a name that is not known; gives it back where it is."""
        if known is None or text in known:
            return text
        names = list(known)
        near = nearest(text, names)
        listed = ", ".join(names) or "none"
        others = f"write one of them, or add it to campaign.toml as [{column}.NAME]"
        article = "an" if column[0] in "aeiou" else "a"
        self.report(column, f"{article} {column} that campaign.toml has ({listed})", shown(text),
                    f"write {near}, if that is meant" if near else others)
        return None

    def date(self) -> datetime.date | None:
        """Date, in the one spelling that is not ambiguous."""
        text = self.text("date")
        if text is None:
            return None
        try:
            date = datetime.datetime.strptime(text, "%Y-%m-%d").date()
        except ValueError:
            date = None
        if date is None or not 1970 <= date.year <= 2100:
            self.report("date", "a date as year-month-day", shown(text), "write it as 2025-06-14")
            return None
        return date

    def use(self) -> tuple[bool, str]:
        """Whether the flight is used, and why not."""
        text, why_not = (self.text("use") or "").casefold(), self.text("why_not") or ""
        if text not in _YES | _NO:
            self.report("use", "yes or no", shown(self.text("use")), "write yes or no")
        use = text not in _NO
        if not use and not why_not:
            self.report("why_not", "the reason why the flight is not used", "an empty cell",
                        "write the reason; it stands in the report")
        return use, why_not

    def quantity(self, column: str, configuration: str | None = None) -> float | None:
        """Read a quantity within its range."""
        dimension = str(FLIGHT_COLUMNS[column])
        density = self.around.facts(configuration or "").fuel_density_kg_m3 if self.around else None
        try:
            value = self.table.quantity(self.row, column, dimension, fuel_density_kg_m3=density)
        except UnitError as error:
            self.report(column, error.needed, error.found, error.mend)
            return None
        low, high = _RANGES[column]
        least, most = parse_quantity(low, dimension), parse_quantity(high, dimension)
        if value is None or least - 1e-9 <= value <= most + 1e-9:
            return value
        self.report(column, f"a value of {low} to {high}",
                    f"{shown(self.text(column))} {self.table.units[column]}",
                    "check the number and the unit in the header")
        return None

    def hours(self) -> float | None:
        """Engine hours."""
        seconds = self.quantity("engine_hours")
        return None if seconds is None else seconds / 3600.0

    def takeoff_weight(self, configuration: str | None) -> float | None:
        """Take-off weight, checked against the airplane's."""
        weight = self.quantity("takeoff_weight")
        facts = self.around.facts(configuration or "") if self.around else AirplaneFacts()
        most, least = facts.maximum_weight_kg, facts.empty_weight_kg
        if weight is None:
            return None
        found = f"{weight:.0f} kg"
        if most is not None and weight > _OVERWEIGHT * most:
            self.report("takeoff_weight", f"a weight near the maximum of {most:.0f} kg or below",
                        found, "check the number and the unit in the header (kg, lb)")
        elif least is not None and weight < least:
            self.report("takeoff_weight", f"a weight above the empty weight of {least:.0f} kg",
                        found, "check the number and the unit in the header (kg, lb)")
        elif most is not None and weight > most:
            self.report("takeoff_weight", f"at most the maximum weight of {most:.0f} kg",
                        f"{found}: flown outside of the airplane's limits",
                        "check the weight; the flight is used as it was flown", cost=True)
        return weight

    def humidity(self, flight: Flight) -> None:
        """Report a dew point above the temperature."""
        temperature, dew = flight.reported_temperature_k, flight.reported_dew_point_k
        if temperature is not None and dew is not None and dew > temperature + 0.5:
            self.report("reported_dew_point", "a dew point at or below the temperature",
                        f"{dew - 273.15:.1f} degC with {temperature - 273.15:.1f} degC",
                        "check both, and their units in the header")

    # -- places

    def airfield(self) -> str | None:
        """Airfield, which must be one of the campaign."""
        text = self.text("airfield")
        if text is None:
            return None
        return self.one_of("airfield", text, self.around.airfields if self.around else None)

    def runway(self, airfield: str | None) -> str | None:
        """Runway, which must be one of the airfield; ``8`` is read as ``08``."""
        text = self.text("runway")
        if text is None or self.around is None:
            return text
        if airfield is None:
            if self.text("airfield") is None:
                self.report("runway", "the airfield of the runway", "an empty airfield",
                            "write the airfield too")
            return None
        known = self.around.airfields.get(airfield)
        if known is None:
            return text
        for name in known:
            if _runway_key(name) == _runway_key(text):
                return name
        near = nearest(text, known)
        self.report("runway", f"a runway of {airfield} ({', '.join(known) or 'none given'})",
                    shown(text), f"write {near}, if that is meant" if near else
                    f"add the runway to [airfield.{airfield}]")
        return None

    # -- files

    def columns(self, use: bool) -> str | None:
        """Columns file of the recording."""
        text = self.text("columns")
        folder = self.folder / "columns"
        present = sorted(path.stem for path in folder.glob("*.toml")) if folder.is_dir() else []
        if text is None:
            if use and len(present) != 1 and self.text("log"):
                self.report("columns", "the columns file of the recording",
                            f"an empty cell, with {len(present)} files in columns/",
                            "write the name of the file in columns/, without its ending")
            return present[0] if len(present) == 1 else None
        name = text.removesuffix(".toml").removeprefix("columns/")
        if name in present:
            return name
        near = nearest(name, present)
        listed = ", ".join(present) or "none"
        self.report("columns", f"a file in columns/ ({listed})", shown(text),
                    f"write {near}, if that is meant" if near else
                    "write the file, or the name of one that is there")
        return None

    def logs(self, use: bool) -> list[tuple[Path, str, float | None]]:
        """Find the recordings of the flight, and what is added to the times of each."""
        text = self.text("log")
        if text is None:
            if use and self.text("flight") not in self.on_cards:
                self.report("log", "the recording in logs/, or a card in cards/", "an empty cell",
                            "write its file name, or fill in a card for the flight (cards of an "
                            "airspeed calibration are read)")
            return []
        entries = [self.log_entry(entry) for entry in text.split("|")]
        names = [name for name, _ in entries]
        if any(not name for name in names):
            self.report("log", "file names separated by |", shown(text), "leave no name empty")
        if len(set(names)) != len(names):
            self.report("log", "each recording once", shown(text), "leave the second one out")
        found = [(self.log(name), offset_s) for name, offset_s in dict(entries).items() if name]
        return [(*one, offset_s) for one, offset_s in found if one is not None]

    def log_entry(self, entry: str) -> tuple[str, float | None]:
        """Name of a recording, and what is added to its times."""
        try:
            return parse_log(entry)
        except UnitError as error:
            self.report("log", error.needed, error.found, error.mend)
            return entry.rpartition("@")[0].strip(), None

    def log(self, name: str) -> tuple[Path, str] | None:
        """One recording, which must be a file in the campaign's folder."""
        if _leaves(name):
            self.report("log", "a file in the campaign's folder", shown(name),
                        "copy the recording into logs/ and write its name alone")
            return None
        inner = PurePosixPath(name.replace("\\", "/"))
        root = self.folder.resolve()
        tries = [inner] if inner.parts[0] == "logs" else [PurePosixPath("logs") / inner, inner]
        for relative in tries:
            path = self.folder / relative
            if path.is_file():
                if not path.resolve().is_relative_to(root):
                    self.report("log", "a file in the campaign's folder",
                                f"{shown(name)}, a link to another place",
                                "copy the recording itself into logs/")
                    return None
                return root / relative, relative.as_posix()
        self.report("log", f"the file {tries[0]}", "no such file", self.near_log(inner.name))
        return None

    def near_log(self, name: str) -> str:
        """Say which recording may be meant."""
        folder = self.folder / "logs"
        present = [path.name for path in folder.iterdir()] if folder.is_dir() else []
        near = nearest(name, present)
        return f"write {near}, if that is meant" if near else "copy the recording into logs/"


def _leaves(name: str) -> bool:
    """Whether a path is absolute or climbs out of its folder, on any system."""
    windows, posix = PureWindowsPath(name), PurePosixPath(name)
    return bool(windows.drive or windows.root or posix.is_absolute() or ".." in windows.parts
                or "\0" in name or name.startswith("~"))


def _runway_key(name: str) -> str:
    """Name of a runway for comparison: ``8l`` and ``08L`` are the same."""
    plain = name.strip().upper()
    letters = sum(not mark.isdigit() for mark in plain)
    return plain.zfill(2 + letters) if plain[:1].isdigit() else plain
