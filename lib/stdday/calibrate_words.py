"""What people see of an airspeed calibration from flights: tables and words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy import special

from stdday.wind import wind_from

if TYPE_CHECKING:
    from stdday.campaign import Reference
    from stdday.pattern_fit import PatternFit
    from stdday.position_error import AirspeedCurve

__all__ = ["effect_words", "shown_legs", "shown_patterns", "shown_table", "told"]

_KT = 1852 / 3600
#: Steps of the table of indicated and calibrated airspeeds [m/s]: 5 kt.
_STEP_MS = 5 * _KT
#: Gap between airspeeds of legs, as a ratio, that is worth a pattern between them [-].
_GAP = 1.35
#: A test airspeed this far beyond the legs is said to lie outside [m/s].
_BEYOND_MS = 3 * _KT
#: A shift of the curve less certain than this is not told [m/s].
_VAGUE_MS = 2.0 * _KT


def shown_legs(
    legs: pd.DataFrame, usable: pd.DataFrame, fit: PatternFit | None
) -> pd.DataFrame:
    """Make the table of legs: what was measured, how far off the fit it is, and what is wrong.

    Parameters
    ----------
    legs : DataFrame
        All legs, from `stdday.calibrate_legs.leg_table`, with their reasons.
    usable : DataFrame
        Those without a reason, in the order of the fit.
    fit : PatternFit or None
        The fit; None where no leg is usable.

    Returns
    -------
    DataFrame
        One row a leg; speeds in m/s, angles in rad. ``residual_ms`` is the calibrated airspeed of
        the leg less the curve's, ``left_out_ms`` the same by a fit without the leg.
    """
    columns = ["point", "leg", "flight", "configuration", "pattern", "indicated_airspeed_ms",
               "ground_speed_ms", "track_rad", "heading_rad", "residual_ms", "left_out_ms",
               "left_out_sigma_ms", "weight", "used", "reason"]
    if not len(legs):
        return pd.DataFrame(columns=columns)
    east, north = legs["ground_east_ms"], legs["ground_north_ms"]
    shown = legs.assign(
        leg=legs["condition_id"],
        ground_speed_ms=np.hypot(east, north),
        track_rad=np.mod(np.arctan2(east, north), 2 * np.pi),
        used=legs["reason"] == "",
        heading_rad=np.nan, residual_ms=np.nan, left_out_ms=np.nan, left_out_sigma_ms=np.nan,
        weight=np.nan,
    )
    if fit is not None and len(usable):
        for name in ("heading_rad", "residual_ms", "left_out_ms", "left_out_sigma_ms", "weight"):
            shown.loc[shown["used"], name] = getattr(fit, name)
    return shown[columns].reset_index(drop=True)


def shown_patterns(
    legs: pd.DataFrame,
    usable: pd.DataFrame,
    fit: PatternFit | None,
    carried: dict[str, tuple[float, str, float]],
) -> pd.DataFrame:
    """Make the table of patterns: condition of the headings, wind, and why one was refused.

    Parameters
    ----------
    legs, usable, fit
        As of `shown_legs`.
    carried : dict of str to (float, str, float)
        By point, from `stdday.calibrate_legs.headings_carry`.

    Returns
    -------
    DataFrame
        One row a pattern; NaN where it has no wind. ``heading_offset_rad`` and
        ``heading_scatter_rad`` compare recorded headings with solved ones.
    """
    rows = []
    order = list(dict.fromkeys(usable["point"])) if fit is not None and len(usable) else []
    for point, own in legs.groupby("point", sort=False) if len(legs) else ():
        condition, refused, add = carried[str(point)]
        kept = own[own["reason"] == ""]
        row = {
            "point": point, "flight": own["flight"].iloc[0],
            "configuration": own["configuration"].iloc[0], "pattern": own["pattern"].iloc[0],
            "legs": len(kept), "airspeed_ms": float(own["indicated_airspeed_ms"].mean()),
            "condition": condition, "add_heading_rad": add,
            "north": "true" if own["track_is_true"].iloc[0] == 1.0 else "as recorded",
            "used": bool(len(kept)),
            "reason": "" if len(kept) else refused or str(own["reason"].iloc[0]),
        }
        if fit is not None and point in order and np.isfinite(condition):
            row |= _wind(fit, order.index(point)) | _headings(
                kept, fit.heading_rad[(usable["point"] == point).to_numpy()])
        rows.append(row)
    columns = ["point", "flight", "configuration", "pattern", "legs", "airspeed_ms", "condition",
               "add_heading_rad", "north", "wind_from_rad", "wind_speed_ms", "wind_sigma_ms",
               "drift_ms", "heading_offset_rad", "heading_scatter_rad", "used", "reason"]
    return pd.DataFrame(rows).reindex(columns=columns)


def _wind(fit: PatternFit, place: int) -> dict[str, float]:
    east, north = fit.wind_ms[place]
    from_rad, speed = wind_from(east, north)
    variances = np.diagonal(fit.wind_covariance[place])
    return {
        "wind_from_rad": float(from_rad), "wind_speed_ms": float(speed),
        "wind_sigma_ms": float(np.sqrt(variances.mean())),
        "drift_ms": float(np.hypot(*fit.drift_ms[place])),
    }


def _headings(kept: pd.DataFrame, solved: np.ndarray) -> dict[str, float]:
    """Recorded headings against the solved ones: they check, and do not enter the fit."""
    off = np.exp(1j * (kept["heading_rad"].to_numpy(dtype=float) - solved))
    off = off[np.isfinite(off)]
    if len(off) < 2:
        return {}
    mean = np.angle(off.mean())
    scatter = np.sqrt(np.mean(np.angle(off * np.exp(-1j * mean)) ** 2))
    return {"heading_offset_rad": float(mean), "heading_scatter_rad": float(scatter)}


def shown_table(curves: dict[str, AirspeedCurve]) -> pd.DataFrame:
    """Make the table of indicated and calibrated airspeeds, every 5 kt, for the handbook.

    Parameters
    ----------
    curves : dict of str to AirspeedCurve
        Curve of each configuration.

    Returns
    -------
    DataFrame
        ``flown`` is False for the row on either side that lies beyond the legs.
    """
    rows = []
    for name, curve in curves.items():
        first = np.floor(curve.low_ms / _STEP_MS)
        last = np.ceil(curve.high_ms / _STEP_MS)
        for indicated in _STEP_MS * np.arange(first, last + 1):
            rows.append({
                "configuration": name, "indicated_ms": float(indicated),
                "calibrated_ms": float(indicated + curve.correction_ms(indicated)),
                "sigma_ms": curve.sigma_ms(indicated), "band_ms": curve.band_ms(indicated),
                "flown": bool(curve.low_ms <= indicated <= curve.high_ms),
            })
    columns = ["configuration", "indicated_ms", "calibrated_ms", "sigma_ms", "band_ms", "flown"]
    return pd.DataFrame(rows, columns=columns)


def told(
    legs: pd.DataFrame,
    fit: PatternFit | None,
    curves: dict[str, AirspeedCurve],
    reference: Reference,
) -> tuple[str, ...]:
    """Say what the curve rests on, and what to fly.

    Parameters
    ----------
    legs, fit
        As of `shown_legs`.
    curves : dict of str to AirspeedCurve
        Curve of each configuration; empty where there is none.
    reference : Reference
        Airspeeds that the tests need.

    Returns
    -------
    tuple of str
        Sentences.
    """
    slow, fast = reference.liftoff_airspeed_ms, reference.climb_airspeed_ms
    if fit is None or not curves:
        reasons = dict.fromkeys(legs["reason"]) if len(legs) else {}
        why = f" ({'; '.join(reasons)})" if reasons else ""
        return (
            f"No usable calibration pattern{why}: airspeeds are taken as indicated, with wider "
            f"intervals. Fly a box of four headings near {fast / _KT:.0f} kt, one fast, and one "
            f"as slow as is safe, towards the lift-off airspeed of {slow / _KT:.0f} kt.",
        )
    usable = legs[legs["reason"] == ""]
    curve = next(iter(curves.values()))
    sentences = [
        f"{usable['point'].nunique()} patterns, {len(usable)} legs: the curve is known from "
        f"{curve.low_ms / _KT:.0f} to {curve.high_ms / _KT:.0f} kt indicated; a leg scatters by "
        f"{fit.noise_ms / _KT:.1f} kt. GPS speeds give the total error, pitot and static together."
    ]
    speeds = np.sort(usable["indicated_airspeed_ms"].to_numpy(dtype=float))
    gaps = speeds[1:] / speeds[:-1]
    if len(gaps) and gaps.max() > _GAP:
        place = int(np.argmax(gaps))
        middle = np.sqrt(speeds[place] * speeds[place + 1]) / _KT
        sentences.append(f"No leg between {speeds[place] / _KT:.0f} and "
                         f"{speeds[place + 1] / _KT:.0f} kt: fly a box near {middle:.0f} kt.")
    for words, speed in (("lift-off", slow), ("climb", fast)):
        if speed < curve.low_ms - _BEYOND_MS or speed > curve.high_ms + _BEYOND_MS:
            sentences.append(
                f"The {words} airspeed of {speed / _KT:.0f} kt lies outside of the flown range, "
                f"where the curve is known to {np.asarray(curve.sigma_ms(speed)) / _KT:.1f} kt, "
                "one sigma: fly a box as near to it as is safe."
            )
    return tuple(sentences)


def effect_words(effects: pd.DataFrame) -> tuple[str, ...]:
    """Say whether power or the configuration shifts the curve.

    Parameters
    ----------
    effects : DataFrame
        Rows of shifts with their sigma [m/s] and degrees of freedom.

    Returns
    -------
    tuple of str
        A sentence an effect, by a two-sided t test at 5 %; where nothing was tested, what to fly.
    """
    sentences = []
    for row in effects.to_dict("records"):
        shift, sigma = float(row["shift_ms"]) / _KT, float(row["sigma_ms"]) / _KT
        reach = float(special.stdtrit(float(row["dof"]), 0.975)) * sigma
        size = f"{shift:+.1f} kt (95 %: {shift - reach:+.1f} to {shift + reach:+.1f})"
        what = (
            f"Configuration {row['of']} against {row['against']}"
            if row["effect"] == "configuration" else "From no power to full rated power"
        )
        if sigma * _KT > _VAGUE_MS:
            sentences.append(f"{what}: the legs cannot tell a shift of the curve (one sigma "
                             f"{sigma:.1f} kt); fly both at one airspeed.")
        elif abs(shift) > reach:
            sentences.append(f"{what}: the correction shifts by {size}.")
        else:
            sentences.append(f"{what}: no shift of the correction is shown, {size}.")
    tested = set(effects["effect"]) if len(effects) else set()
    if "power" not in tested:
        sentences.append("Whether power shifts the curve was not tested: fly one pattern with high "
                         "and one with low power at the same airspeed.")
    if "configuration" not in tested:
        sentences.append("One configuration was calibrated at most: to the others the declared "
                         "difference between configurations is added.")
    return tuple(sentences)
