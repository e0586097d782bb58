"""Invented recordings in many shapes: layouts, words, units, languages, ways to write time.

Words are general words of the trade; no shape imitates a product. `SHAPES` is what the proposal was
developed with; `HELD_OUT` was written at the same time and looked at only at the end.
"""

from __future__ import annotations

import datetime
import gzip
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from tests.recordings.flown import Flight, make_flight

# unit: value in the unit = SI * scale + offset
UNITS = {
    "kt": (3600 / 1852, 0.0), "km/h": (3.6, 0.0), "mph": (3600 / 1609.344, 0.0), "m/s": (1.0, 0.0),
    "ft": (1 / 0.3048, 0.0), "m": (1.0, 0.0), "ft/min": (60 / 0.3048, 0.0),
    "degC": (1.0, -273.15), "degF": (1.8, -459.67), "K": (1.0, 0.0), "deg": (1.0, 0.0),
    "rad": (np.pi / 180, 0.0), "rpm": (60.0, 0.0), "inHg": (1 / 3386.389, 0.0),
    "hPa": (0.01, 0.0), "kPa": (0.001, 0.0), "psi": (1 / 6894.757, 0.0), "bar": (1e-5, 0.0),
    "L/h": (3.6e6, 0.0), "US gal/h": (3.6e6 / 3.785412, 0.0), "L": (1000.0, 0.0),
    "US gal": (1000 / 3.785412, 0.0), "kg/h": (3600 * 720.0, 0.0), "kg": (720.0, 0.0),
    "lb/h": (3600 * 720.0 / 0.45359237, 0.0), "%": (100.0 / 85_000.0, 0.0), "kW": (0.001, 0.0),
    "hp": (1 / 745.7, 0.0), "g": (1.0, 0.0), "g0": (1.0, -1.0), "m/s^2": (9.80665, 0.0),
    "1": (1.0, 0.0),
}
TRUTH = {"heading_true": ("heading", "true"), "track_magnetic": ("track", "magnetic"),
         "track": ("track", "true"), "heading": ("heading", "magnetic")}
NONE = {"wind_speed", "wind_from", "volts", "amps", "satellites", "agl", "left_fuel", "right_fuel",
        "hdop", "density_altitude", "lateral_acceleration", "course_selected", "altitude_selected",
        "elapsed"}


@dataclass(frozen=True)
class Col:
    """One column: name, what it holds, its unit, and how the header writes the unit."""

    name: str
    holds: str
    unit: str = "1"
    decimals: int = 1
    said: str | None = None      # unit as the header writes it; None: as `unit`; "" for nothing
    long: str = ""


@dataclass(frozen=True)
class Shape:
    """One layout."""

    key: str
    seed: int
    columns: tuple[Col, ...]
    header: Callable[[Shape], list[str]]
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    end: str = "\n"
    packed: str = ""
    step: int = 1
    pad: bool = False
    blank: str = ""
    offset_h: float = 0.0
    tail: str = ""
    spoil: Callable[[list[list[str]]], list[list[str]]] | None = None
    open: tuple[str, ...] = ()        # channels that nobody can decide: asking is right
    note: str = field(default="")


@dataclass(frozen=True)
class Made:
    """One recording with its truth."""

    shape: Shape
    flight: Flight
    content: bytes
    truth: dict[str, list[tuple[int, str, str | None]]]
    time_s: np.ndarray


def make(shape: Shape) -> Made:
    """Write the recording of a shape."""
    flight = make_flight(shape.seed)
    count = flight.channels["elapsed"].size
    rows_at = np.arange(0, count, shape.step)
    cells = [_cells(column, flight, shape, rows_at) for column in shape.columns]
    rows = [list(row) for row in zip(*cells, strict=True)]
    if shape.spoil is not None:
        rows = shape.spoil(rows)
    lines = [*shape.header(shape), *(shape.delimiter.join(row) + shape.tail for row in rows)]
    content = _packed(shape, (shape.end.join(lines) + shape.end).encode(shape.encoding))
    start = flight.start.timestamp()
    return Made(shape, flight, content, _truth(shape), start + rows_at.astype(float))


def _truth(shape: Shape) -> dict[str, list[tuple[int, str, str | None]]]:
    found: dict[str, list[tuple[int, str, str | None]]] = {}
    for place, column in enumerate(shape.columns):
        if column.holds.startswith("@") or column.holds in NONE:
            continue
        channel, north = TRUTH.get(column.holds, (column.holds, None))
        if channel[:3] in ("cht", "egt"):
            base = {"cht": "cylinder_head", "egt": "exhaust_gas"}[channel[:3]]
            channel = f"{base}_temperature_{channel[3:]}"
        found.setdefault(channel, []).append((place, column.unit.replace("g0", "g"), north))
    return found


def _cells(column: Col, flight: Flight, shape: Shape, rows: np.ndarray) -> list[str]:
    if column.holds.startswith("@"):
        return _time_cells(column.holds[1:], flight, shape, rows)
    scale, offset = UNITS[column.unit]
    values = flight.channels[column.holds][rows] * scale + offset
    made = [f"{value:.{column.decimals}f}".replace(".", shape.decimal) for value in values]
    if shape.pad:
        made = [cell.rjust(9) for cell in made]
    if column.holds == "track" and shape.blank:
        slow = flight.channels["ground_speed"][rows] < 2.0
        made = [shape.blank if idle else cell for cell, idle in zip(made, slow, strict=True)]
    return made


def _time_cells(form: str, flight: Flight, shape: Shape, rows: np.ndarray) -> list[str]:
    moments = [flight.start + datetime.timedelta(seconds=float(row)) for row in rows]
    zone = datetime.timedelta(hours=shape.offset_h)
    sign = "-" if shape.offset_h < 0 else "+"
    if form == "offset":
        return [f"{sign}{abs(int(shape.offset_h)):02d}:{abs(shape.offset_h) % 1 * 60:02.0f}"] * len(
            rows)
    if form == "epoch":
        return [f"{moment.timestamp():.0f}" for moment in moments]
    if form == "epochms":
        return [f"{1000 * moment.timestamp():.0f}" for moment in moments]
    if form == "elapsed":
        return [f"{float(row):.1f}".replace(".", shape.decimal) for row in rows]
    if form == "const":
        return ["0"] * len(rows)
    if form == "text":
        return ["cruise" if row % 7 else "" for row in rows.tolist()]
    if form == "empty":
        return [""] * len(rows)
    return [(moment + zone).strftime(form) for moment in moments]


def _packed(shape: Shape, data: bytes) -> bytes:
    if shape.packed == "gz":
        return gzip.compress(data, mtime=0)
    if shape.packed == "zip":
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w") as archive:
            archive.writestr("recording.csv", data)
        return held.getvalue()
    return data


# ---- headers ----


def said(column: Col) -> str:
    return column.unit if column.said is None else column.said


def join(shape: Shape, cells: list[str]) -> str:
    return shape.delimiter.join(cells) + shape.tail


def names(shape: Shape) -> list[str]:
    """One row of names."""
    return [join(shape, [column.name for column in shape.columns])]


def bracketed(left: str = " (", right: str = ")") -> Callable[[Shape], list[str]]:
    """Names with the unit in brackets."""
    def made(shape: Shape) -> list[str]:
        return [join(shape, [column.name + (f"{left}{said(column)}{right}" if said(column)
                                            and column.unit != "1" else "")
                             for column in shape.columns])]
    return made


def units_row(shape: Shape) -> str:
    return join(shape, ["" if column.unit == "1" and column.said is None else said(column)
                        for column in shape.columns])


def rows(*kinds: str) -> Callable[[Shape], list[str]]:
    """Rows of header: names, long, units, blank, or any text."""
    def made(shape: Shape) -> list[str]:
        found = []
        for kind in kinds:
            mark = "#" if kind.startswith("#") and kind[1:] in ("names", "units", "long") else ""
            plain = kind.removeprefix(mark)
            text = {"names": lambda: names(shape)[0], "units": lambda: units_row(shape),
                    "long": lambda: join(shape, [column.long or column.name
                                                 for column in shape.columns]),
                    "blank": lambda: ""}.get(plain, lambda plain=plain: plain)()
            found.append(mark + text)
        return found
    return made


def nothing(shape: Shape) -> list[str]:
    return []


def cut_positions(rows: list[list[str]]) -> list[list[str]]:
    """No position for the first rows, then 0, 0 once."""
    for row in rows[:23]:
        row[2] = row[3] = ""
    return rows


# ---- shapes ----

T = Col
SHAPES: tuple[Shape, ...] = (
    Shape("english, one row, units in brackets", 1, (
        T("UTC Date", "@%Y-%m-%d"), T("UTC Time", "@%H:%M:%S"), T("Latitude", "latitude", "deg", 7),
        T("Longitude", "longitude", "deg", 7), T("GPS Altitude", "gps_altitude", "ft", 0),
        T("Groundspeed", "ground_speed", "kt", 1), T("Track", "track", "deg", 0),
        T("IAS", "indicated_airspeed", "kt", 1), T("TAS", "true_airspeed", "kt", 1),
        T("Press Alt", "pressure_altitude", "ft", 0),
        T("VSI", "vertical_speed", "ft/min", 0, "fpm"),
        T("OAT", "outside_air_temperature", "degC", 1, "C"), T("RPM", "engine_speed", "rpm", 0, ""),
        T("MAP", "manifold_pressure", "inHg", 1), T("Fuel Flow", "fuel_flow", "US gal/h", 1, "gph"),
        T("Pitch", "pitch", "deg", 1), T("Roll", "roll", "deg", 1),
        T("Wind Speed", "wind_speed", "kt", 0), T("Wind Dir", "wind_from", "deg", 0)),
        bracketed()),
    Shape("three rows: metadata, units, short names; padded; blanks at power-up", 2, (
        T("Lcl Date", "@%Y-%m-%d", said="yyy-mm-dd"), T("Lcl Time", "@%H:%M:%S", said="hh:mm:ss"),
        T("Lat", "latitude", "deg", 7, "degrees"), T("Lon", "longitude", "deg", 7, "degrees"),
        T("UTC Ofs", "@offset", said="hh:mm"), T("", "volts", "1", 1, "volts"),
        T("Alt Ind", "indicated_altitude", "ft", 1, "ft Baro"),
        T("Baro", "altimeter_setting", "inHg", 2, "inch"),
        T("Alt GPS", "gps_altitude", "ft", 1, "ft MSL"), T("Gnd Spd", "ground_speed", "kt", 2),
        T("Vert Spd", "vertical_speed", "ft/min", 1, "fpm"), T("Ind Spd", "indicated_airspeed",
                                                                "kt", 2),
        T("OAT", "outside_air_temperature", "degC", 1, "deg C"),
        T("Pitch", "pitch", "deg", 2), T("Roll", "roll", "deg", 2),
        T("Heading", "heading", "deg", 1, "degm"), T("Track", "track", "deg", 1, "degt"),
        T("Lateral G", "lateral_acceleration", "g", 2),
        T("Normal G", "normal_acceleration", "g0", 2,
                                                        "g"),
        T("Fuel L", "left_fuel", "US gal", 1, "gals"),
        T("Fuel R", "right_fuel", "US gal", 1, "gals"),
        T("FF1", "fuel_flow", "US gal/h", 2, "gph"), T("Oil Temp", "oil_temperature", "degF", 1,
                                                        "deg F"),
        T("CHT1", "cht1", "degF", 1, "deg F"), T("CHT2", "cht2", "degF", 1, "deg F"),
        T("EGT1", "egt1", "degF", 1, "deg F"), T("RPM", "engine_speed", "rpm", 0),
        T("", "amps", "1", 1, "amps"), T("Wind Spd", "wind_speed", "kt", 1),
        T("type", "@text"), T("type", "@text")),
        rows('#recorder,version="1.0",product="none"', "#units", "names"), pad=True,
        offset_h=-5.0, open=("fuel_quantity",)),
    Shape("three rows: metadata, long names with units, short names; CRLF", 3, (
        T("utc", "@%Y-%m-%dT%H:%M:%SZ", long="Time stamp (UTC)"),
        T("alt_b", "indicated_altitude", "ft", 0, long="Baro altitude (ft)"),
        T("qnh", "altimeter_setting", "hPa", 0, long="Altimeter setting (hPa)"),
        T("ias", "indicated_airspeed", "kt", 0, long="Indicated airspeed (kt)"),
        T("gs", "ground_speed", "kt", 0, long="Ground speed (kt)"),
        T("hdg", "heading", "deg", 0, long="Magnetic heading (deg)"),
        T("lat", "latitude", "deg", 5, long="Latitude (deg)"),
        T("lon", "longitude", "deg", 5, long="Longitude (deg)"),
        T("vs", "vertical_speed", "ft/min", 0, long="Vertical speed (fpm)"),
        T("n", "engine_speed", "rpm", 0, long="Engine speed (rpm)"),
        T("mp", "manifold_pressure", "inHg", 1, long="Manifold pressure (inHg)"),
        T("ff", "fuel_flow", "L/h", 1, long="Fuel flow (l/h)"),
        T("fq", "fuel_quantity", "L", 1, long="Fuel quantity (l)"),
        T("t", "outside_air_temperature", "degC", 0, long="Outside air temperature (°C)"),
        T("sel", "altitude_selected", "ft", 0, long="Selected altitude (ft)")),
        rows("Airframe data, revision 3, unit 12", "long", "names"), end="\r\n"),
    Shape("german, semicolons, decimal comma, local time with offset", 4, (
        T("Datum", "@%d.%m.%Y"), T("Uhrzeit", "@%H:%M:%S"), T("Zeitzone", "@offset"),
        T("Breite", "latitude", "deg", 6, "°"), T("Länge", "longitude", "deg", 6, "°"),
        T("GPS-Höhe", "gps_altitude", "m", 1), T("Geschwindigkeit über Grund", "ground_speed",
                                                 "km/h", 1),
        T("Kurs über Grund", "track", "deg", 0, "°"), T("IAS", "indicated_airspeed", "km/h", 1),
        T("Druckhöhe", "pressure_altitude", "m", 1), T("Steigrate", "vertical_speed", "m/s", 1),
        T("Außentemperatur", "outside_air_temperature", "degC", 1, "°C"),
        T("Motordrehzahl", "engine_speed", "rpm", 0, "1/min"),
        T("Ladedruck", "manifold_pressure", "hPa", 0, "mbar"),
        T("Kraftstoffdurchfluss", "fuel_flow", "L/h", 1, "l/h"),
        T("Leistung", "power", "kW", 1), T("Querlage", "roll", "deg", 1, "°"),
        T("Öltemperatur", "oil_temperature", "degC", 0, "°C"),
        T("Öldruck", "oil_pressure", "bar", 2)),
        bracketed(" [", "]"), delimiter=";", decimal=",", encoding="latin-1", end="\r\n",
        offset_h=2.0),
    Shape("french, tabs, UTF-16", 5, (
        T("Heure UTC", "@%H:%M:%S"), T("Latitude", "latitude", "deg", 6, "°"),
        T("Longitude", "longitude", "deg", 6, "°"),
        T("Altitude GPS", "gps_altitude", "m", 0), T("Vitesse sol", "ground_speed", "km/h", 1),
        T("Route", "track", "deg", 0, "°"), T("Vitesse indiquée", "indicated_airspeed", "km/h", 1),
        T("Altitude pression", "pressure_altitude", "ft", 0, "pieds"),
        T("Vitesse verticale", "vertical_speed", "ft/min", 0, "ft/min"),
        T("Température extérieure", "outside_air_temperature", "degC", 1, "°C"),
        T("Régime moteur", "engine_speed", "rpm", 0, "tr/min"),
        T("Pression d'admission", "manifold_pressure", "inHg", 1, "inHg"),
        T("Débit carburant", "fuel_flow", "L/h", 1, "l/h"),
        T("Quantité carburant", "fuel_quantity", "L", 1, "l"),
        T("Facteur de charge", "normal_acceleration", "g", 2)),
        bracketed(), delimiter="\t", decimal=",", encoding="utf-16"),
    Shape("names, then units; epoch seconds; suffix letters", 6, (
        T("timestamp", "@epoch", said="s"), T("lat", "latitude", "deg", 7),
        T("lng", "longitude", "deg", 7), T("alt_msl", "gps_altitude", "m", 2),
        T("sog", "ground_speed", "m/s", 2), T("cog", "track", "deg", 1),
        T("pitch", "pitch", "rad", 4), T("roll", "roll", "rad", 4),
        T("ias", "indicated_airspeed", "m/s", 2), T("palt", "pressure_altitude", "m", 1),
        T("nz", "normal_acceleration", "m/s^2", 2, "m/s2"),
        T("oat", "outside_air_temperature", "K", 2)),
        rows("names", "units"), open=()),
    Shape("no unit anywhere; plain abbreviations", 7, (
        T("Date", "@%Y/%m/%d"), T("UTC", "@%H:%M:%S"), T("Lat", "latitude", "deg", 6),
        T("Lon", "longitude", "deg", 6), T("GPSAlt", "gps_altitude", "ft", 0),
        T("GS", "ground_speed", "kt", 0), T("TRK", "track", "deg", 0),
        T("IAS", "indicated_airspeed", "kt", 0), T("BaroAlt", "indicated_altitude", "ft", 0),
        T("QNH", "altimeter_setting", "inHg", 2), T("VS", "vertical_speed", "ft/min", 0),
        T("OAT", "outside_air_temperature", "degC", 0), T("RPM", "engine_speed", "rpm", 0),
        T("MAP", "manifold_pressure", "inHg", 1), T("FF", "fuel_flow", "US gal/h", 1),
        T("FuelQty", "fuel_quantity", "US gal", 1)),
        names, open=("fuel_flow", "fuel_quantity")),
    Shape("no unit anywhere, metric numbers", 8, (
        T("Time", "@%Y-%m-%d %H:%M:%S"), T("latitude", "latitude", "deg", 6),
        T("longitude", "longitude", "deg", 6), T("gps height", "gps_altitude", "m", 0),
        T("ground speed", "ground_speed", "km/h", 1), T("course over ground", "track", "deg", 0),
        T("indicated airspeed", "indicated_airspeed", "km/h", 1),
        T("pressure altitude", "pressure_altitude", "m", 0), T("vario", "vertical_speed", "m/s", 2),
        T("outside temp", "outside_air_temperature", "degC", 1),
        T("manifold pressure", "manifold_pressure", "hPa", 0),
        T("engine rpm", "engine_speed", "rpm", 0)),
        names),
    Shape("eleven lines: key: value block, blank line, names", 9, (
        T("Time (s)", "@elapsed"), T("Airspeed (mph)", "indicated_airspeed", "mph", 1, ""),
        T("Altitude (ft)", "indicated_altitude", "ft", 0, ""),
        T("Baro (inHg)", "altimeter_setting", "inHg", 2, ""),
        T("RPM", "engine_speed", "rpm", 0, ""), T("Fuel Flow (gal/hr)", "fuel_flow", "US gal/h", 1,
                                                   ""),
        T("OAT (F)", "outside_air_temperature", "degF", 0, ""),
        T("CHT 1 (F)", "cht1", "degF", 0, ""), T("CHT 2 (F)", "cht2", "degF", 0, ""),
        T("EGT 1 (F)", "egt1", "degF", 0, ""), T("Volts (V)", "volts", "1", 1, ""),
        T("% Power", "power", "%", 0, ""), T("GPS Speed (mph)", "ground_speed", "mph", 1, "")),
        rows("Recorder: home built", "Serial: 0001", "Flight: 12", "Local date: none",
             "Interval: 1", "Pilot: nobody", "Units: imperial", "Firmware: 3.2", "Remark: <none>",
             "blank", "names"), open=("fuel_flow", "indicated_altitude")),
    Shape("no header at all", 10, (
        T("", "@%Y-%m-%d"), T("", "@%H:%M:%S"), T("", "latitude", "deg", 6),
        T("", "longitude", "deg", 6), T("", "gps_altitude", "ft", 0),
        T("", "ground_speed", "kt", 1),
        T("", "track", "deg", 1), T("", "vertical_speed", "ft/min", 0),
        T("", "indicated_airspeed", "kt", 1), T("", "altimeter_setting", "inHg", 2)),
        nothing, open=("gps_altitude", "indicated_airspeed", "track", "vertical_speed",
                       "altimeter_setting")),
    Shape("NAME;UNIT in one cell, gz", 11, (
        T("DATE", "@%d/%m/%Y", said=""), T("TIME UTC", "@%H:%M:%S", said=""),
        T("LAT", "latitude", "deg", 6), T("LONG", "longitude", "deg", 6),
        T("GPS ALT", "gps_altitude", "ft", 0), T("GND SPEED", "ground_speed", "kt", 1),
        T("GND TRACK", "track", "deg", 1), T("IAS", "indicated_airspeed", "kt", 1),
        T("ALT QNE", "pressure_altitude", "ft", 0), T("SAT", "outside_air_temperature", "degC", 1),
        T("NP", "propeller_speed", "rpm", 0), T("ENG SPEED", "engine_speed", "rpm", 0),
        T("POWER", "power", "%", 1), T("NZ", "normal_acceleration", "g", 2),
        T("PITCH ANGLE", "pitch", "deg", 1)),
        bracketed(";", ""), packed="gz"),
    Shape("hour, minute, second in columns of their own; sentinels", 12, (
        T("Year", "@%Y"), T("Month", "@%m"), T("Day", "@%d"), T("Hour", "@%H"), T("Minute", "@%M"),
        T("Second", "@%S"), T("Lat [deg]", "latitude", "deg", 6, ""),
        T("Lon [deg]", "longitude", "deg", 6, ""), T("Track [deg]", "track", "deg", 0, ""),
        T("Speed over ground [kt]", "ground_speed", "kt", 1, ""),
        T("Calibrated airspeed [kt]", "indicated_airspeed", "kt", 1, ""),
        T("Pressure altitude [ft]", "pressure_altitude", "ft", 0, ""),
        T("Propeller speed [rpm]", "propeller_speed", "rpm", 0, "")),
        names, blank="-1"),
    Shape("speed twice in two units, pairs of the same; zip, BOM", 13, (
        T("utc time", "@%Y-%m-%dT%H:%M:%S+00:00"), T("gs [kt]", "ground_speed", "kt", 1, ""),
        T("gs [km/h]", "ground_speed", "km/h", 1, ""),
        T("alt baro [ft]", "indicated_altitude", "ft",
                                                         0, ""),
        T("alt baro [m]", "indicated_altitude", "m", 0, ""), T("tas [kt]", "true_airspeed", "kt", 1,
                                                                ""),
        T("ias [kt]", "indicated_airspeed", "kt", 1, ""), T("hdg true [deg]", "heading_true", "deg",
                                                            0, ""),
        T("hdg mag [deg]", "heading", "deg", 0, ""), T("roll angle [deg]", "roll", "deg", 1, ""),
        T("density alt [ft]", "density_altitude", "ft", 0, ""), T("agl [ft]", "agl", "ft", 0, ""),
        T("map [kPa]", "manifold_pressure", "kPa", 1, ""), T("pwr [hp]", "power", "hp", 0, ""),
        T("fuel remaining [kg]", "fuel_quantity", "kg", 1, ""),
        T("fuel flow [kg/h]", "fuel_flow", "kg/h", 1, "")),
        names, packed="zip", encoding="utf-8-sig"),
    Shape("five-second rows, words beside the common, trailing delimiter", 14, (
        T("Clock", "@%H:%M:%S"), T("North", "latitude", "deg", 6, ""),
        T("East", "longitude", "deg", 6, ""), T("Satellite height", "gps_altitude", "ft", 0),
        T("Satellite speed", "ground_speed", "kt", 1), T("Ground course", "track", "deg", 0),
        T("Airspeed", "indicated_airspeed", "kt", 1), T("Altimeter", "indicated_altitude", "ft", 0),
        T("Setting QNH", "altimeter_setting", "hPa", 1), T("Climb rate", "vertical_speed", "ft/min",
                                                            0),
        T("Air temperature", "outside_air_temperature", "degC", 1),
        T("Tachometer", "engine_speed", "rpm", 0), T("Bank", "roll", "deg", 0)),
        rows("names", "units"), step=5, tail=","),
)

HELD_OUT: tuple[Shape, ...] = (
    Shape("units before names, both prefixed with #", 101, (
        T("date", "@%Y-%m-%d", said="UTC"), T("time", "@%H:%M:%S", said="UTC"),
        T("lat", "latitude", "deg", 6), T("lon", "longitude", "deg", 6),
        T("height gnss", "gps_altitude", "m", 1), T("gnss speed", "ground_speed", "kt", 1),
        T("true track", "track", "deg", 1), T("compass", "heading", "deg", 1),
        T("airspeed indicated", "indicated_airspeed", "kt", 1, "knots"),
        T("altitude std", "pressure_altitude", "ft", 0, "feet"),
        T("vvi", "vertical_speed", "ft/min", 0), T("ambient temperature", "outside_air_temperature",
                                                   "degC", 1, "°C"),
        T("prop rpm", "propeller_speed", "rpm", 0), T("manifold", "manifold_pressure", "inHg", 1,
                                                      "in Hg"),
        T("fuel burn", "fuel_flow", "lb/h", 1), T("bank angle", "roll", "deg", 1)),
        rows("#units", "#names")),
    Shape("german without umlauts, dots in dates, km/h and Umdrehungen", 102, (
        T("Zeit", "@%d.%m.%Y %H:%M:%S"), T("Breitengrad", "latitude", "deg", 6, ""),
        T("Laengengrad", "longitude", "deg", 6, ""), T("Hoehe GPS [m]", "gps_altitude", "m", 0, ""),
        T("Grundgeschwindigkeit [km/h]", "ground_speed", "km/h", 1, ""),
        T("Steuerkurs mw [Grad]", "heading", "deg", 0, ""),
        T("Fahrtmesser [km/h]", "indicated_airspeed", "km/h", 1, ""),
        T("Hoehenmesser [ft]", "indicated_altitude", "ft", 0, ""),
        T("QNH [hPa]", "altimeter_setting", "hPa", 0, ""),
        T("Variometer [m/s]", "vertical_speed", "m/s", 1, ""),
        T("Lufttemperatur [C]", "outside_air_temperature", "degC", 1, ""),
        T("Drehzahl Propeller [U/min]", "propeller_speed", "rpm", 0, ""),
        T("Drehzahl Motor [U/min]", "engine_speed", "rpm", 0, ""),
        T("Verbrauch [l/h]", "fuel_flow", "L/h", 1, ""),
        T("Tankinhalt [l]", "fuel_quantity", "L", 0, ""),
        T("Lastvielfaches [g]", "normal_acceleration", "g", 2, "")),
        names, delimiter=";", decimal=",", encoding="utf-8-sig"),
    Shape("no unit anywhere, statute miles and Fahrenheit", 103, (
        T("Date", "@%m/%d/%Y"), T("Time", "@%I:%M:%S %p"), T("GPS Lat", "latitude", "deg", 5),
        T("GPS Lon", "longitude", "deg", 5), T("GPS Altitude", "gps_altitude", "ft", 0),
        T("GPS Ground Speed", "ground_speed", "mph", 0), T("GPS Track", "track", "deg", 0),
        T("Indicated Airspeed", "indicated_airspeed", "mph", 0),
        T("Pressure Altitude", "pressure_altitude", "ft", 0),
        T("Vertical Speed", "vertical_speed", "ft/min", 0),
        T("Outside Air Temp", "outside_air_temperature", "degF", 0),
        T("RPM", "engine_speed", "rpm", 0), T("Manifold Press", "manifold_pressure", "inHg", 1),
        T("Fuel Flow", "fuel_flow", "US gal/h", 1)),
        names, open=("fuel_flow", "outside_air_temperature", "indicated_airspeed", "time")),
    Shape("seven lines of header, camel case, two recorders' GPS blank", 104, (
        T("utcTime", "@%H:%M:%S"), T("gpsLatitude", "latitude", "deg", 7),
        T("gpsLongitude", "longitude", "deg", 7), T("gpsAltitude", "gps_altitude", "m", 1),
        T("gpsGroundSpeed", "ground_speed", "m/s", 2), T("gpsCourse", "track", "deg", 1),
        T("airSpeedTrue", "true_airspeed", "m/s", 1), T("airSpeedInd", "indicated_airspeed", "m/s",
                                                        1),
        T("altitudePressure", "pressure_altitude", "m", 1), T("rollAngle", "roll", "deg", 2),
        T("pitchAngle", "pitch", "deg", 2), T("engineSpeed", "engine_speed", "rpm", 0),
        T("manifoldPressure", "manifold_pressure", "hPa", 0), T("fuelFlow", "fuel_flow", "L/h", 2),
        T("oilPressure", "oil_pressure", "bar", 2), T("oilTemperature", "oil_temperature", "degC",
                                                      1)),
        rows("Flight data", "Recorder A", "created by hand", "blank", "names", "units", "blank")),
    Shape("french with separators of its own", 105, (
        T("Date", "@%d/%m/%Y"), T("Heure", "@%H:%M:%S"), T("Lat", "latitude", "deg", 6, "deg"),
        T("Long", "longitude", "deg", 6, "deg"),
        T("Vitesse fond", "ground_speed", "kt", 0, "noeuds"),
        T("Cap magnétique", "heading", "deg", 0, "deg"), T("Vi", "indicated_airspeed", "kt", 0,
                                                           "noeuds"),
        T("Altitude QNH", "indicated_altitude", "ft", 0, "ft"), T("Calage", "altimeter_setting",
                                                                  "hPa", 0),
        T("Vz", "vertical_speed", "ft/min", 0, "ft/min"),
        T("Température air", "outside_air_temperature",
                                                            "degC", 0, "°C"),
        T("Régime hélice", "propeller_speed", "rpm", 0, "tr/min"),
        T("Puissance", "power", "%", 0, "%"), T("Pression huile", "oil_pressure", "bar", 1, "bar"),
        T("Inclinaison", "roll", "deg", 0, "deg"), T("Assiette", "pitch", "deg", 1, "deg")),
        bracketed(" - ", ""), delimiter=";", decimal=","),
    Shape("pipe, epoch milliseconds, two time columns, short words", 106, (
        T("unix_ms", "@epochms"), T("local", "@%Y-%m-%dT%H:%M:%S"), T("lat", "latitude", "deg", 7),
        T("lon", "longitude", "deg", 7), T("gps_alt_ft", "gps_altitude", "ft", 0, ""),
        T("gps_spd_kts", "ground_speed", "kt", 1, ""), T("gps_trk_deg", "track", "deg", 1, ""),
        T("ias_kts", "indicated_airspeed", "kt", 1, ""), T("palt_ft", "pressure_altitude", "ft", 0,
                                                           ""),
        T("vs_fpm", "vertical_speed", "ft/min", 0, ""),
        T("oat_c", "outside_air_temperature", "degC",
                                                         1, ""),
        T("rpm", "engine_speed", "rpm", 0, ""), T("map_inhg", "manifold_pressure", "inHg", 1, ""),
        T("ff_gph", "fuel_flow", "US gal/h", 1, ""), T("pitch_deg", "pitch", "deg", 1, ""),
        T("roll_deg", "roll", "deg", 1, ""), T("hdop", "hdop", "1", 1, "")),
        names, delimiter="|", offset_h=1.0),
    Shape("long names over units over short names, 0.5 Hz", 107, (
        T("T", "@%H:%M:%S", long="Time of day UTC"),
        T("PHI", "latitude", "deg", 6, long="Latitude"),
        T("LAM", "longitude", "deg", 6, long="Longitude"),
        T("HB", "indicated_altitude", "ft", 0, long="Baro corrected altitude"),
        T("PB", "altimeter_setting", "inHg", 2, long="Kollsman setting"),
        T("HG", "gps_altitude", "ft", 0, long="GPS height"), T("VG", "ground_speed", "kt", 1,
                                                               long="Ground speed"),
        T("VI", "indicated_airspeed", "kt", 1, long="Indicated airspeed"),
        T("PSI", "heading", "deg", 0, long="Magnetic heading"),
        T("TA", "outside_air_temperature", "degC", 1, long="Static air temperature"),
        T("NE", "engine_speed", "rpm", 0, long="Crankshaft speed"),
        T("PM", "manifold_pressure", "psi", 2, long="Manifold absolute pressure"),
        T("NZ", "normal_acceleration", "g", 2, long="Load factor")),
        rows("long", "units", "names"), step=2),
    Shape("metadata as key=value, wind and selections as traps", 108, (
        T("Date", "@%Y-%m-%d"), T("Time", "@%H:%M:%S"), T("WindSpd", "wind_speed", "kt", 0, "kt"),
        T("SelAlt", "altitude_selected", "ft", 0, "ft"), T("SelCrs", "course_selected", "deg", 0),
        T("GndSpd", "ground_speed", "kt", 1), T("IAS", "indicated_airspeed", "kt", 1),
        T("TAS", "true_airspeed", "kt", 1), T("AltB", "indicated_altitude", "ft", 0),
        T("BaroSet", "altimeter_setting", "inHg", 2), T("DensAlt", "density_altitude", "ft", 0,
                                                       "ft"),
        T("VSpd", "vertical_speed", "ft/min", 0, "fpm"), T("HDG", "heading", "deg", 0, "deg mag"),
        T("TRK", "track_magnetic", "deg", 0, "deg mag"),
        T("LatAcc", "lateral_acceleration", "g", 2),
        T("NormAcc", "normal_acceleration", "g", 2), T("EngPower", "power", "%", 0, "%"),
        T("Latitude", "latitude", "deg", 6), T("Longitude", "longitude", "deg", 6)),
        rows("source=invented,interval=1,note=<b>none</b>", "names", "units")),
    Shape("no time column; UTF-16 without a mark", 109, (
        T("Airspeed [km/h]", "indicated_airspeed", "km/h", 1, ""),
        T("Ground speed [km/h]", "ground_speed", "km/h", 1, ""),
        T("Pressure altitude [m]", "pressure_altitude", "m", 0, ""),
        T("Outside temperature [degC]", "outside_air_temperature", "degC", 1, ""),
        T("Engine speed [rpm]", "engine_speed", "rpm", 0, ""),
        T("Fuel flow [L/h]", "fuel_flow", "L/h", 1, ""),
        T("Heading [deg]", "heading", "deg", 0, "")),
        names, encoding="utf-16-le"),
    Shape("no header, no date, other order", 110, (
        T("", "@elapsed"), T("", "latitude", "deg", 7), T("", "longitude", "deg", 7),
        T("", "ground_speed", "m/s", 2), T("", "gps_altitude", "m", 1), T("", "track", "deg", 1)),
        nothing, open=("gps_altitude", "track")),
    Shape("elapsed minutes and seconds, German short words, decimal comma", 111, (
        T("Sekunden", "@elapsed"), T("v_g [kt]", "ground_speed", "kt", 0, ""),
        T("IAS [kt]", "indicated_airspeed", "kt", 0, ""),
        T("H_p [ft]", "pressure_altitude", "ft", 0,
                                                           ""),
        T("OAT [°C]", "outside_air_temperature", "degC", 0, ""),
        T("n_Mot [1/min]", "engine_speed", "rpm", 0, ""), T("p_L [hPa]", "manifold_pressure", "hPa",
                                                           0, ""),
        T("Leistung [%]", "power", "%", 0, "")),
        names, delimiter=";", decimal=",", open=("ground_speed", "pressure_altitude",
                                                 "manifold_pressure")),
    Shape("compact date and clock, units in braces", 112, (
        T("utc_date", "@%Y%m%d"), T("utc_time", "@%H%M%S"), T("Lat{deg}", "latitude", "deg", 6, ""),
        T("Lon{deg}", "longitude", "deg", 6, ""), T("Alt.GPS{ft}", "gps_altitude", "ft", 0, ""),
        T("Vel.GPS{kt}", "ground_speed", "kt", 1, ""), T("Course.GPS{deg}", "track", "deg", 0, ""),
        T("Airspeed.Ind{kt}", "indicated_airspeed", "kt", 1, ""),
        T("Alt.Baro{ft}", "indicated_altitude", "ft", 0, ""),
        T("Baro.Set{mb}", "altimeter_setting", "hPa", 1, ""),
        T("Eng.RPM{rpm}", "engine_speed", "rpm", 0, ""), T("Eng.MP{inHg}", "manifold_pressure",
                                                           "inHg", 1, ""),
        T("Eng.FF{lph}", "fuel_flow", "L/h", 1, ""), T("Air.Temp{C}", "outside_air_temperature",
                                                       "degC", 1, "")),
        names),
)
