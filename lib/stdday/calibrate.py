"""Indicated to calibrated airspeed: from flights, by the owner's table, or none and what it costs.

This is the one way in for every test.  A calibration from flights (`calibrate_fit`) travels with
the campaign, in ``Campaign.calibrations``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import special

from stdday.position_error import UNCALIBRATED_OFFSET_MS, UNCALIBRATED_SCALE, AirspeedCurve

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign, Flight
    from stdday.uncertainty import Draws

__all__ = [
    "Calibration",
    "calibrated_airspeed_ms",
    "calibration_note",
    "calibration_sigma_ms",
    "flap_setting",
    "has_calibration",
]

FloatArray = NDArray[np.float64]

#: Airspeed error grows by this much for each m/s outside of the owner's table [-].
GROWTH_OUTSIDE = 0.1
#: Airspeeds [m/s] over which a calibration error turns from one independent value to another.
SLOW_MS, FAST_MS = 20.0, 65.0
#: Name of the draw of the temperature probe's recovery factor.
RECOVERY = "temperature probe recovery"
#: Words for flaps that are not out.
_FLAPS_UP = {"", "up", "0", "0 deg", "0°", "none", "clean", "retracted"}


@dataclass(frozen=True)
class Calibration:
    """What the patterns flown with one installation and flap setting say.

    Parameters
    ----------
    installation, flaps : str
        What it is of; flaps as written, empty for the setting of the flights.
    airplane : str
        Id of the airplane.
    curves : dict of str to AirspeedCurve
        Curve of each configuration with usable legs, by id; all have the same parts.
    temperature_from : str
        Name of the draw of the temperature of its legs: ``temperature probe`` or ``lapse``.
    used : bool
        Whether the campaign asks for it (``from flights``); else it is shown only.
    legs, patterns, table, effects : DataFrame
        For people: legs with residuals, patterns with winds and refusals, the curve as a table, and
        what shifts it. Columns end in their unit, SI.
    words : tuple of str
        What there is to say, and what to fly.
    """

    installation: str
    flaps: str
    airplane: str
    curves: dict[str, AirspeedCurve]
    temperature_from: str = "temperature probe"
    used: bool = True
    legs: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    patterns: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    table: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    effects: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    words: tuple[str, ...] = ()


def flap_setting(text: str | None) -> str:
    """Tell a flap setting by which curves are kept apart.

    Parameters
    ----------
    text : str or None
        As written down.

    Returns
    -------
    str
        Without capitals and doubled blanks; empty for flaps up, and where nothing was written.

    Examples
    --------
    >>> flap_setting("UP"), flap_setting("10  deg"), flap_setting(None)
    ('', '10 deg', '')
    """
    setting = " ".join((text or "").lower().split())
    return "" if setting in _FLAPS_UP else setting


def has_calibration(airplane: Airplane, campaign: Campaign | None = None) -> bool:
    """Whether calibrated airspeeds of an airplane rest on a table or on flights.

    Parameters
    ----------
    airplane : Airplane
        Airplane of the campaign.
    campaign : Campaign, optional
        The campaign with its `calibrations`; without it only a table counts.

    Returns
    -------
    bool
        False for ``none``, and for ``from flights`` without a usable pattern.
    """
    if not isinstance(airplane.airspeed_calibration, str):
        return True
    known = campaign.calibrations.values() if campaign is not None else ()
    return any(
        one.airplane == airplane.id and one.used and one.flaps == "" and bool(one.curves)
        for one in known
    )


def _table(airplane: Airplane) -> FloatArray:
    return np.array(sorted(airplane.airspeed_calibration), dtype=float)


def _flown(campaign: Campaign, flight: Flight) -> Calibration | None:
    """Calibration from flights that holds for a flight; None where there is none.

    That of its flap setting, or else that of flaps up.
    """
    for flaps in dict.fromkeys((flap_setting(flight.flaps), "")):
        found = campaign.calibrations.get((flight.installation, flaps))
        if found is not None and found.used and found.curves:
            return found
    return None


def calibration_note(campaign: Campaign, flight: Flight) -> str:
    """Say where the curve of another flap setting stands in for a flight's own.

    Parameters
    ----------
    campaign : Campaign
        The campaign with its `calibrations`.
    flight : Flight
        A flight, with the flaps of the point.

    Returns
    -------
    str
        Empty where there is nothing to say.
    """
    found, flaps = _flown(campaign, flight), flap_setting(flight.flaps)
    if found is None or found.flaps == flaps:
        return ""
    return (f"airspeed calibrated with flaps up, not {flaps}: the declared difference between "
            "configurations is added")


def _curve(found: Calibration, configuration: str) -> tuple[AirspeedCurve, bool]:
    """Curve of a configuration, and whether it is its own."""
    if configuration in found.curves:
        return found.curves[configuration], True
    return next(iter(found.curves.values())), False


def calibration_sigma_ms(
    campaign: Campaign, airplane: Airplane, indicated_ms: ArrayLike, flight: Flight | None = None
) -> FloatArray:
    """One sigma of the calibrated airspeed that all flights of an installation share [m/s].

    Parameters
    ----------
    campaign : Campaign
        Source of the declared uncertainties and of calibrations from flights.
    airplane : Airplane
        Airplane whose calibration is asked for.
    indicated_ms : array_like, any shape
        Indicated airspeed [m/s].
    flight : Flight, optional
        Flight whose installation and configuration is asked for; where not given, the worst of the
        airplane's flights.

    Returns
    -------
    ndarray
        Standard deviation [m/s], of the shape given.
    """
    indicated = np.asarray(indicated_ms, dtype=float)
    if isinstance(airplane.airspeed_calibration, str):
        flights = [flight] if flight is not None else _kinds(campaign, airplane)
        each = [_sigma_of(campaign, one, indicated) for one in flights]
        worst: FloatArray = np.max(each, axis=0) if each else _uncalibrated(indicated)
        return worst
    table = _table(airplane)
    outside = np.maximum(table[0, 0] - indicated, 0) + np.maximum(indicated - table[-1, 0], 0)
    grown: FloatArray = np.hypot(
        campaign.sigma("airspeed_calibration_table"), GROWTH_OUTSIDE * outside
    )
    return grown


def _kinds(campaign: Campaign, airplane: Airplane) -> list[Flight]:
    """One flight of each installation and configuration of an airplane."""
    own = {
        (flight.installation, flight.configuration): flight
        for flight in campaign.flights
        if campaign.configurations[flight.configuration].airplane == airplane.id
    }
    return list(own.values())


def _uncalibrated(indicated: FloatArray) -> FloatArray:
    wide: FloatArray = np.hypot(UNCALIBRATED_OFFSET_MS, UNCALIBRATED_SCALE * indicated)
    return wide


def _sigma_of(campaign: Campaign, flight: Flight, indicated: FloatArray) -> FloatArray:
    """One sigma of a flight's calibrated airspeed by the curve from flights, or without one."""
    found = _flown(campaign, flight)
    if found is None:
        return _uncalibrated(indicated)
    curve, own = _curve(found, flight.configuration)
    others = (not own) + (found.flaps != flap_setting(flight.flaps))
    apart = np.sqrt(2 * others) * campaign.sigma("airspeed_between_configurations")
    sigma: FloatArray = np.hypot(curve.sigma_ms(indicated), apart)
    return sigma


def calibrated_airspeed_ms(
    campaign: Campaign, flights: Sequence[Flight], indicated_ms: ArrayLike, draws: Draws
) -> FloatArray:
    """Calibrated airspeed of test points, with draws of the errors that flights share.

    Parameters
    ----------
    campaign : Campaign
        Source of tables, calibrations from flights and declared uncertainties.
    flights : sequence of Flight, length points
        Flight of each point.
    indicated_ms : array_like, shape (points,)
        Indicated airspeed [m/s].
    draws : Draws
        Draws. By a curve from flights, configurations that were both calibrated share what their
        joint fit says they share; one without legs of its own takes the curve of the other and
        the declared difference between configurations, and so does a flap setting without a curve
        of its own. By a table, or without any calibration, the
        part common to an installation and the part of each configuration are drawn apart.

    Returns
    -------
    ndarray, shape (draws + 1, points)
        Calibrated airspeed [m/s].

    Notes
    -----
    Without a curve from flights the shared error is one value at low and another, independent one
    at high airspeed, blended so that its size is the declared one everywhere: neighbouring
    airspeeds err together.  With one, the temperature probe and the altimeter that falsified the
    calibration are the ones that falsify every other test: the same draws.
    """
    indicated = np.asarray(indicated_ms, dtype=float)
    result = np.empty((draws.count + 1, len(indicated)))
    by_curve = np.zeros(len(indicated), dtype=bool)
    alike: dict[tuple[str, str, str], list[int]] = {}
    for place, flight in enumerate(flights):
        key = (flight.installation, flight.configuration, flap_setting(flight.flaps))
        alike.setdefault(key, []).append(place)
    for places in alike.values():
        flight = flights[places[0]]
        airplane = campaign.airplane_of(flight.configuration)
        found = _flown(campaign, flight)
        if found is None or not isinstance(airplane.airspeed_calibration, str):
            continue
        by_curve[places] = True
        result[:, places] = _by_curve(campaign, found, flight, indicated[places], draws)
    others = [flight for flight, done in zip(flights, by_curve, strict=True) if not done]
    result[:, ~by_curve] = _declared(campaign, others, indicated[~by_curve], draws)
    return result


def _by_curve(
    campaign: Campaign, found: Calibration, flight: Flight, indicated: FloatArray, draws: Draws
) -> FloatArray:
    curve, own = _curve(found, flight.configuration)
    names = [f"airspeed calibration, part {part + 1}" for part in range(curve.root.shape[1])]
    key, flaps = [found.installation], flap_setting(flight.flaps)
    of_curve = [f"{found.installation}, flaps {found.flaps}" if found.flaps else key[0]]
    normals = np.hstack([draws.normal(name, "shared", of_curve) for name in names])
    air = [draws.normal(name, "shared", key) for name in (found.temperature_from,
                                                          "pressure altitude")]
    # drawn evenly from 0 to 1, of which one sigma is the root of a twelfth
    recovery = np.sqrt(12) * (special.ndtr(draws.normal(RECOVERY, "shared", key)) - 0.5)
    moved = curve.deviations_ms(indicated, normals, np.hstack([*air, recovery]))
    apart = np.sqrt(2) * campaign.sigma("airspeed_between_configurations")
    if not own:
        moved = moved + apart * draws.normal(
            "airspeed calibration of the configuration", "configuration", [flight.configuration]
        )
    if flaps != found.flaps:
        moved = moved + apart * draws.normal(
            "airspeed calibration of the flaps", "shared", [f"{found.installation}, flaps {flaps}"]
        )
    calibrated: FloatArray = indicated + np.asarray(curve.correction_ms(indicated)) + moved
    return calibrated


def _declared(
    campaign: Campaign, flights: Sequence[Flight], indicated: FloatArray, draws: Draws
) -> FloatArray:
    """By the owner's table, or without any calibration."""
    nominal, sigma = indicated.copy(), np.zeros_like(indicated)
    for place, flight in enumerate(flights):
        airplane = campaign.airplane_of(flight.configuration)
        if has_calibration(airplane):
            table = _table(airplane)
            nominal[place] += np.interp(indicated[place], table[:, 0], table[:, 1] - table[:, 0])
        sigma[place] = calibration_sigma_ms(campaign, airplane, indicated[place], flight)
    installations = [flight.installation for flight in flights]
    configurations = [flight.configuration for flight in flights]
    angle = np.interp(indicated, [SLOW_MS, FAST_MS], [0.0, np.pi / 2])
    shared = sigma * (
        np.cos(angle) * draws.normal("airspeed calibration, slow", "shared", installations)
        + np.sin(angle) * draws.normal("airspeed calibration, fast", "shared", installations)
    )
    own = campaign.sigma("airspeed_between_configurations") * draws.normal(
        "airspeed calibration of the configuration", "configuration", configurations
    )
    result: FloatArray = nominal + shared + own
    return result
