"""What the words in a header say: the trade's names of quantities in English, German and French.

General words and abbreviations only. A word says how strongly it speaks for a channel: 3 where it
can hardly mean anything else, 2 where it usually means that, 1 where it may.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

__all__ = ["north_of", "number_of", "side_of", "tokens", "word_scores", "zone_of"]

# channel: strong | usual | possible; phrases are separated by commas, * stands for "within a word"
_PHRASES: dict[str, tuple[str, str, str]] = {
    "latitude": ("lat, latitude, *breitengrad, geographische breite", "breite, position n, pos n, "
                 "pos lat", "north, n, nord, y"),
    "longitude": ("lon, long, lng, longitude, *laengengrad, geographische laenge",
                  "laenge, position e, pos e, pos lon, lon deg", "east, e, est, ost, x"),
    "gps_altitude": (
        "gps alt, alt gps, gps altitude, altitude gps, gps height, height gps, gnss alt, "
        "gnss altitude, gnss height, gps hoehe, hoehe gps, sat hoehe, hoehe sat, height sat, "
        "sat height, alt sat, sat alt, altitude gnss, alt gnss, geometric altitude, msl gps, "
        "gps msl, hmsl, gpsalt, altgps, galt, hoehe ueber meer gps, gps elevation, "
        "alt geom, geom alt, altitude satellite, satellite altitude, satellite height, geo alt",
        "geoid, gps ele, ele, elevation, alt msl, altmsl, msl alt, msl altitude, ellipsoid gps, "
        "height ellipsoid, wgs84, hae, msl height", "alt, altitude, height, hoehe, msl"),
    "ground_speed": (
        "gs, gspd, gndspd, groundspeed, ground speed, gnd speed, gnd spd, grd spd, grdspd, sog, "
        "speed over ground, gps speed, speed gps, gps spd, spd gps, gps gs, gnss speed, "
        "gps velocity, velocity gps, vel gps, gps vel, "
        "sat speed, speed sat, sat tempo, tempo sat, "
        "geschwindigkeit ueber grund, grundgeschwindigkeit, gps geschwindigkeit, v grund, "
        "geschwindigkeit gps, vitesse sol, v sol, vsol, vitesse gps, gps vitesse, "
        "gps ground speed, satellite speed, gpsspeed, gpsspd, vg, vitesse fond, speed ground",
        "fahrt ueber grund, ground velocity, v gps, gps v",
        "speed, spd, velocity, geschwindigkeit, vitesse, tempo, v"),
    "track": (
        "trk, track, cog, course over ground, ground track, gps track, track gps, gps course, "
        "gps trk, trk gps, gtrk, kurs ueber grund, gps kurs, kurs gps, sat kurs, course sat, "
        "sat course, route sol, route fond, route vraie, route gps, true track, ground course, "
        "kurs sat, track angle, gps heading, magnetic track, trackangle",
        "course gps, gnd trk, kurs grund, route", "course, crs, kurs, bearing, direction"),
    "heading": (
        "hdg, heading, steuerkurs, mag hdg, mag heading, magnetic heading, hdg mag, compass, "
        "compass heading, true heading, kompass, kompasskurs, cap magnetique, cap, cap compas, "
        "heading mag, gyro heading, heading magnetic", "yaw, psi, gier, lacet, gierwinkel",
        "head, azimuth, kurs"),
    "indicated_airspeed": (
        "ias, kias, indicated airspeed, indicated air speed, airspeed indicated, airspeed ind, "
        "ind airspeed, ias kt, ind spd, spd ind, angezeigte geschwindigkeit, "
        "angezeigte fluggeschwindigkeit, "
        "vitesse indiquee, vi, v ind, fahrtmesser, v indiquee, indicated speed, speed indicated, "
        "asi, badin, vitesse air indiquee",
        "airspeed, air speed, aspd, arspd, arsp, staudruck tempo, staudruck fahrt, "
        "fluggeschwindigkeit, luftgeschwindigkeit, vitesse air, cas, kcas, calibrated airspeed, "
        "pitot speed, speed pitot, vc, airspd", "fahrt, speed, spd, vitesse, geschwindigkeit, v"),
    "true_airspeed": (
        "tas, ktas, true airspeed, true air speed, airspeed true, wahre eigengeschwindigkeit, "
        "wahre geschwindigkeit, wahre fluggeschwindigkeit, vitesse vraie, vitesse propre, "
        "vitesse air vraie, true aspd, v true, veg, eigengeschwindigkeit, v vraie", "vp, vt, vv",
        "airspeed, speed"),
    "pressure_altitude": (
        "pressure altitude, press altitude, pressure alt, press alt, palt, alt press, altp, "
        "alt pressure, palti, druckhoehe, altitude pression, alt pression, alt std, std alt, "
        "altitude 1013, alt 1013, hoehe 1013, qne, pressure height, z pression, altitude std, "
        "standard altitude, pressalt, hoehe std, altitude pressure, altitude standard, "
        "standardhoehe, zp, hp alt", "h p, pa, p alt, flight level, flugflaeche, niveau de vol",
        "alt, altitude, hoehe, fl"),
    "indicated_altitude": (
        "indicated altitude, ind alt, indicated alt, alt ind, baro alt, baro altitude, alt baro, "
        "altb, altitude baro, altitude indicated, barometric altitude, altimeter altitude, "
        "baro height, height baro, alt qnh, altitude qnh, hoehe qnh, baro hoehe, hoehe baro, "
        "barometrische hoehe, angezeigte hoehe, altitude indiquee, alt indiquee, "
        "altitude barometrique, baroalt, baro corrected altitude, hoehenmesser, altimetre, "
        "alt baro corrected, corrected altitude, altimeter reading",
        "altimeter, palt baro", "alt, altitude, height, hoehe, msl, alti"),
    "altimeter_setting": (
        "qnh, altimeter setting, alt setting, altset, baro setting, baro set, set baro, baroset, "
        "altimeter set, kollsman, calage, calage altimetrique, altimeter sub scale, subscale, "
        "hoehenmessereinstellung, qnh einstellung, baro ref, baro correction, "
        "calage altimetre, pressure setting, altimeter pressure, alt set, hoehenmesser einstellung",
        "baro, baroa, altimeter, baro pressure, barometer, luftdruckeinstellung, einstellung",
        "pressure, luftdruck, pression, qff"),
    "vertical_speed": (
        "vs, vspd, vertical speed, vert speed, vert spd, vsi, ivsi, vario, variometer, vvi, "
        "climb rate, rate of climb, roc, steigrate, steiggeschwindigkeit, vertikalgeschwindigkeit, "
        "vitesse verticale, variometre, vz, v speed, v spd, vertspd, vertical velocity, "
        "taux de montee, altitude rate, alt rate, climbrate, baro vs, vs baro, verticalspeed, "
        "vertical rate",
        "climb, steigen, montee, gps vs, vspdg, vs gps, baro rate, geom rate",
        "sink, sinken, rate, vv"),
    "outside_air_temperature": (
        "oat, outside air temperature, outside air temp, outside temp, outside temperature, "
        "static air temp, aussentemperatur, aussen temperatur, aussenlufttemperatur, aussentemp, "
        "ambient temp, ambient temperature, temperature exterieure, temp ext, temp exterieure, "
        "t ext, temp aussen, outsidetemp, outer temp, temperature air exterieur, t aussen, "
        "static air temperature",
        "air temp, air temperature, lufttemperatur, luft temp, temperature air, luft, sat, tat, "
        "total air temp, temp air, t air, exterior temp, amb temp, tamb",
        "temp, temperature, temperatur, t"),
    "engine_speed": (
        "rpm, engine rpm, eng rpm, motordrehzahl, drehzahl, motor drehzahl, regime moteur, "
        "engine speed, eng speed, crank speed, crankshaft speed, crank rpm, rpm engine, "
        "drehzahl motor, kurbelwelle, motor rpm, tours moteur, n mot, n motor, n moteur, "
        "enginerpm, tachometer, kurbelwellendrehzahl, engine revs, vitesse moteur, revs",
        "tach, tours, regime, revolutions, tacho, umdrehungen", "n, n1, motor, engine"),
    "propeller_speed": (
        "prop rpm, propeller rpm, propeller speed, prop speed, rpm prop, np, propdrehzahl, "
        "propellerdrehzahl, luftschraube drehzahl, luftschraubendrehzahl, drehzahl propeller, "
        "drehzahl luftschraube, regime helice, n prop, drehzahl prop, rpm propeller, "
        "tours helice, vitesse helice, prop revs, proprpm, n helice", "", ""),
    "manifold_pressure": (
        "map, manifold pressure, manifold press, man press, manpress, ladedruck, "
        "saugrohrdruck, pression admission, pression d admission, manifold, manp, manif press, "
        "manifold abs press, manifold absolute pressure, mani press, pression admis, adm, "
        "press admission, druck saugrohr, manifoldpressure, ansaugdruck",
        "mp, boost, man, admission, intake pressure, inlet pressure, pa", "pressure, p l"),
    "fuel_flow": (
        "ff, fuel flow, fflow, fuelflow, fuel rate, fuel burn rate, kraftstofffluss, "
        "kraftstoffdurchfluss, spritfluss, durchfluss, debit carburant, debit essence, fuel flw, "
        "flow fuel, verbrauch pro stunde, debit carb, conso horaire, fuel burn, "
        "fuel consumption rate, kraftstoffverbrauch, debitmetre, ff total, consommation horaire",
        "flow, verbrauch, debit, conso, consommation, fuel consumption, fuel cons", "rate"),
    "fuel_quantity": (
        "fqty, fuel qty, fuel quantity, fuel remaining, fuel level, fuel left, fuel on board, fob, "
        "kraftstoffmenge, tankinhalt, kraftstoffvorrat, quantite carburant, qte carburant, "
        "carburant restant, fuel total, total fuel, fuel rem, fuelqty, fuel remain, "
        "fuel tank, jauge, jauge carburant, restkraftstoff, tank, kraftstoff rest, "
        "quantite essence, tankinhalt gesamt",
        "fuel, kraftstoff, sprit, carburant, essence, reservoir", "qty, level, quantity"),
    "power": (
        "pwr, percent power, pct power, power percent, engine power, eng power, bhp, power, "
        "leistung, motorleistung, puissance, puissance moteur, horsepower, shaft power, % power, "
        "power pct, pct pwr, percent pwr, leistungseinstellung, wellenleistung, pwr pct",
        "load engine, engine load", "load, hp, kw, last"),
    "pitch": ("pitch, pitch angle, pitch attitude, nick, nicklage, nickwinkel, laengsneigung, "
              "assiette, tangage, theta, nose", "laengslage, attitude pitch, pitch att", ""),
    "roll": ("roll, bank, roll angle, bank angle, querlage, rollwinkel, roulis, inclinaison, phi, "
             "schraeglage, querneigung, haengewinkel, angle de roulis", "rollen, gite", ""),
    "normal_acceleration": (
        "nz, norm ac, normac, normal acceleration, normal accel, g load, gload, g force, gforce, "
        "load factor, loadfactor, lastvielfaches, lastvielfache, facteur de charge, norm acc, "
        "vert accel, vertical acceleration, vertical accel, acc z, accel z, az, acc vert, "
        "acceleration z, normal g, vertical g, beschleunigung z, normalbeschleunigung, acc norm, "
        "acceleration normale, accz, g meter, vertg",
        "g, gs, load", "accel, beschleunigung, acceleration"),
    # channels with limits, numbered by the cylinder where there are several
    "oil_temperature": ("oil temp, oilt, oil temperature, oeltemperatur, oel temp, oeltemp, "
                        "temp huile, temperature huile, t huile, t oil, oil t, t oel", "oil", ""),
    "oil_pressure": ("oil press, oilp, oil pressure, oeldruck, pression huile, p huile, oil p, "
                     "press huile, oel druck, p oil", "oil", ""),
    "fuel_pressure": ("fuel press, fuel pressure, fuelp, kraftstoffdruck, pression carburant, "
                      "fuel p, pression essence, press carburant", "", ""),
    "coolant_temperature": ("coolant temp, coolant, coolant temperature, clt, water temp, "
                            "kuehlmitteltemperatur, wassertemperatur, temp eau, kuehlwasser, "
                            "liquide refroidissement, coolt, water temperature", "", ""),
    "carburettor_temperature": ("carb temp, carburetor temp, carburettor temp, vergasertemperatur, "
                                "temp carbu, carburetor temperature", "", ""),
    "intake_temperature": ("iat, intake air temp, intake temp, induction temp, ladelufttemperatur, "
                           "temp admission, manifold temp, inlet air temp, airbox temp", "", ""),
    "cylinder_head_temperature": ("cht, cyl head temp, cylinder head temp, head temp, "
                                  "zylinderkopftemperatur, zkt, temp culasse, culasse, "
                                  "cylinder head temperature, zylinderkopf", "cyl temp", ""),
    "exhaust_gas_temperature": ("egt, exhaust gas temp, exhaust temp, abgastemperatur, agt, "
                                "abgas temp, temp echappement, egt temp, exhaust temperature, "
                                "exhaust gas temperature, echappement, abgas", "", ""),
}


def _words_of(text: str) -> frozenset[str]:
    """Words of a list."""
    return frozenset(text.split())


#: Words that make a column something else, whatever else stands there.
_OTHERS = _words_of("""
    wind wnd vent windspeed gyro gyrox gyroy gyroz dynamic impact target tgt sel selected bug ap
    autopilot fd cmd command commanded desired
    nav nav1 nav2 cdi hsi hcdi vcdi dme com com1 com2 freq wpt waypoint wp dest destination dist
    distance eta ete est estimated limit error err accuracy hdop vdop pdop hpl vpl hfom vfom sigma
    density dens densalt agl terrain radar cabin diff differential flap flaps batt bat volts volt
    amp amps valid
    status mode count counter magvar variation declination soll consigne ziel ground_elevation
    lateral longitudinal latac crosstrack xtk dew dewpoint trim used burned rate_of_turn turn aoa
    alpha beta slip ball brake gear light annunciator alert caution warning cas_alert bus alternator
    crc checksum satellites numsat nsat snr transponder xpdr squawk hobbs hours engine_hours
    humidity feuchte reserve endurance range economy predicted average avg mean aver moyenne
    mittel quer seitlich crosswind headwind tailwind windrichtung windgeschwindigkeit force_vent
    spannung strom tension courant rel pump pumpe zone cockpit kabine cabine innen interieur
    decision minimums vnav lnav raw uncertainty std_dev stddev quality fix
    """)
#: Words of the second engine, of one side, or of a second instrument: the first is preferred.
_SECOND = _words_of("e2 eng2 engine2 right rechts droit droite r2 2nd secondary second standby "
                    "stby")
_SIDES = _words_of("l r left right links rechts gauche droit droite lh rh main aux")
_LONGEST = 200


@lru_cache(maxsize=4096)
def tokens(text: str) -> tuple[frozenset[str], str]:
    """Split what a header says into words, and join it into one.

    Parameters
    ----------
    text : str
        Words of a column.

    Returns
    -------
    tuple of (frozenset of str, str)
        Words in small letters, without accents, whole and divided at capitals and digits; and all
        letters joined by blanks; never raises.

    Examples
    --------
    >>> words, joined = tokens("GndSpd Höhe")
    >>> sorted(words), joined
    (['gnd', 'gndspd', 'hoehe', 'spd'], ' gnd spd hoehe ')
    """
    text = text[:_LONGEST]
    for sign, written in (("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("Ä", "Ae"), ("Ö", "Oe"),
                          ("Ü", "Ue"), ("ß", "ss"), ("%", " pct ")):
        text = text.replace(sign, written)
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    whole = [word for word in re.split(r"[^A-Za-z0-9]+", plain) if word]
    parts: list[str] = []
    for word in whole:
        parts += re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+", word)
    folded = [part.casefold() for part in parts]
    every = frozenset([*folded, *(word.casefold() for word in whole)])
    return every, f" {' '.join(folded)} "


@lru_cache(maxsize=1)
def _table() -> dict[str, list[tuple[str, float]]]:
    """Phrases of each channel with their weights."""
    made: dict[str, list[tuple[str, float]]] = {}
    for channel, groups in _PHRASES.items():
        rows: list[tuple[str, float]] = []
        for weight, group in zip((3.0, 2.0, 1.0), groups, strict=True):
            rows += [(phrase.strip(), weight) for phrase in group.split(",") if phrase.strip()]
        made[channel] = rows
    return made


@lru_cache(maxsize=4096)
def word_scores(text: str) -> dict[str, float]:
    """Tell how strongly words speak for each channel.

    Parameters
    ----------
    text : str
        What a header says of a column, with what its unit says.

    Returns
    -------
    dict of str to float
        Score by channel, 1 (may be) to about 4 (can hardly be anything else); empty for words that
        name something else, such as a wind; never raises.

    Examples
    --------
    >>> word_scores("GPS Alt")["gps_altitude"], word_scores("GPS Alt")["indicated_altitude"]
    (3.5, 1.0)
    >>> word_scores("Wind Speed")
    {}
    """
    words, joined = tokens(text)
    if words & _OTHERS or not words:
        return {}
    glued = joined.replace(" ", "")
    found: dict[str, float] = {}
    if joined in (" alt ", " altitude ", " height ", " hoehe "):
        # an instrument's altitude more often than a satellite's; never more than a guess
        return {"indicated_altitude": 1.3, "gps_altitude": 1.0, "pressure_altitude": 1.0}
    for channel, rows in _table().items():
        best = max((_phrase_score(phrase, weight, words, joined, glued)
                    for phrase, weight in rows), default=0.0)
        if best > 0.0:
            found[channel] = best - (0.6 if words & _SECOND else 0.0)
    return _settled(found, words)


def _phrase_score(phrase: str, weight: float, words: frozenset[str], joined: str, glued: str
                  ) -> float:
    """Score of one phrase: longer ones say more; words that are not side by side say less."""
    if phrase.startswith("*"):
        return weight if phrase[1:] in glued else 0.0
    parts = phrase.split()
    more = 0.5 * (len(parts) - 1)
    if len(parts) == 1:
        return weight if phrase in words or (len(phrase) > 3 and phrase == glued) else 0.0
    if f" {phrase} " in joined or "".join(parts) in words:
        return weight + more
    return weight + more - 0.3 if all(part in words for part in parts) else 0.0


def _settled(found: dict[str, float], words: frozenset[str]) -> dict[str, float]:
    """Settle what single words cannot: a satellite's quantities, oil, fuel, cylinders."""
    if words & {"mag", "magnetic", "missweisend"} and words & {"var", "dev", "deviation"}:
        return {}
    if words & _RATES:
        found = {channel: score for channel, score in found.items() if channel not in _ANGLES}
    if words & _FORCES:
        found = {channel: score for channel, score in found.items()
                 if channel not in ("latitude", "longitude")}
    if words & _SATELLITE and len(words) > 1:
        found = {channel: min(score, 1.0) if channel in _NOT_BY_SATELLITE else score
                 for channel, score in found.items() if channel != "outside_air_temperature"}
    if words & _HOT:
        found = {channel: score for channel, score in found.items()
                 if score >= 3.0 or channel not in _NOT_OF_ENGINE}
    if words & _PROBES:
        found = {channel: score for channel, score in found.items() if channel not in _NO_PROBE}
    return found


_RATES = _words_of("rate rates derivative dot vitesse_angulaire drehrate trackrate headingrate")
_ANGLES = _words_of("pitch roll track heading gps_altitude indicated_altitude pressure_altitude "
                    "altimeter_setting latitude longitude")
_FORCES = _words_of("acc accel acceleration ac g load force beschleunigung dev")
_SATELLITE = _words_of("gps gnss sat satellite")
_NOT_BY_SATELLITE = _words_of("indicated_altitude pressure_altitude indicated_airspeed "
                              "true_airspeed vertical_speed")
_HOT = _words_of("oil oel huile cht egt fuel kraftstoff carburant water coolant eau cyl head "
                 "exhaust intake carb inlet")
_NOT_OF_ENGINE = _words_of("outside_air_temperature altimeter_setting manifold_pressure")
_PROBES = _words_of("temp temperature temperatur press pressure druck pression")
_NO_PROBE = _words_of("fuel_quantity fuel_flow engine_speed power")


def number_of(text: str) -> int | None:
    """Find the number of a cylinder or probe.

    Parameters
    ----------
    text : str
        What a header says.

    Returns
    -------
    int or None
        The last number of one or two digits; never raises.

    Examples
    --------
    >>> number_of("E1 CHT3"), number_of("Oil temp")
    (3, None)
    """
    found = re.findall(r"(?<![0-9])([0-9]{1,2})(?![0-9])", text[:_LONGEST])
    return int(found[-1]) if found else None


def side_of(text: str) -> bool:
    """Tell whether a column is of one side only, such as the left tank.

    Parameters
    ----------
    text : str
        What a header says.

    Returns
    -------
    bool
        Never raises.

    Examples
    --------
    >>> side_of("FuelQty L"), side_of("Fuel total")
    (True, False)
    """
    words, joined = tokens(text)
    glued = joined.replace(" ", "")
    return bool(words & _SIDES) or bool(re.search(r"(?:qty|tank|fuel)[lr]$", glued))


def north_of(text: str) -> str | None:
    """Tell which north a direction is counted from, where the words say so.

    Parameters
    ----------
    text : str
        What a header says, with its unit.

    Returns
    -------
    {"true", "magnetic", None}
        None where it does not say, or says both; never raises.

    Examples
    --------
    >>> north_of("Mag Hdg"), north_of("Track (true)"), north_of("Track") is None
    ('magnetic', 'true', True)
    """
    words, joined = tokens(text)
    true = bool(words & {"true", "vrai", "vraie", "rw", "wahr", "rechtweisend", "rechtweisender",
                         "geographisch", "truetrack", "trueheading"})
    magnetic = bool(words & {"mag", "magnetic", "magnetisch", "magnetique", "mw", "missweisend",
                             "missweisender", "maghdg", "compass", "kompass", "compas"}
                    ) or " mag" in joined
    if true == magnetic:
        return None
    return "true" if true else "magnetic"


def zone_of(text: str) -> str | None:
    """Tell whether a time is UTC or local, where the words say so.

    Parameters
    ----------
    text : str
        What a header says.

    Returns
    -------
    {"utc", "local", None}
        None where it does not say; never raises.

    Examples
    --------
    >>> zone_of("UTC Time"), zone_of("Lcl Time"), zone_of("Time") is None
    ('utc', 'local', True)
    """
    words, joined = tokens(text)
    if words & {"utc", "gmt", "zulu", "z", "gps", "tu"} or "utc" in joined.replace(" ", ""):
        return "utc"
    if words & {"lcl", "local", "lokal", "ortszeit", "locale", "lt", "loc"}:
        return "local"
    return None
