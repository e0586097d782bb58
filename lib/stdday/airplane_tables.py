"""Tables of the airplane model: propeller along the speed range, performance, agreement."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from stdday import airspeed, atmosphere, blade, engine, level, propeller
from stdday.airplane_answers import EFFECTIVE
from stdday.climb_model import fit_climbs
from stdday.ledger import in_parts
from stdday.level_fit import (
    CUBIC,
    FUEL_GROWTH,
    FUEL_START,
    FUEL_UNIT_M3S,
    INVERSE,
    SPEED_UNIT_MS,
    LevelFit,
    curve_power_w,
    curve_speed_ms,
)
from stdday.reduce_acceleration import reduce_accelerations
from stdday.reduce_climb import FARTHEST_MS, climbs_at_airspeed
from stdday.throttle import governed_speed_rps, propeller_slopes
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from stdday.campaign import Airplane, Campaign, Configuration, Reference
    from stdday.climb_model import ClimbFit

__all__ = [
    "agreement_table",
    "effective_polar",
    "performance_table",
    "propeller_table",
    "reciprocal_table",
]

FloatArray = NDArray[np.float64]

KT = 1852 / 3600
#: Steps of airspeed of the propeller table [m/s] (5 kt).
STEP_MS = 5 * KT
#: A test contradicts the others where it is off by more than this many standard errors [-], and by
#: more than a share of power [-] or a rate [m/s] (30 ft/min) that could matter.
OFF, OFF_POWER, OFF_RATE_MS = 3.0, 0.02, 30 * 0.3048 / 60
#: Real propellers give these shares of ideal static thrust [-]. Common practice.
STATIC_SHARE = (0.50, 0.85)
#: Draws of the shared errors of accelerations [-].
SHARED_DRAWS = 200
#: Tracks are opposite where the cosine of their angle is within this of -1 [-] (30 deg).
OPPOSITE = 0.134


def propeller_table(
    campaign: Campaign, fits: Mapping[str, LevelFit], ratios: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Propeller of each configuration along the airspeeds of level flight that were flown.

    Airspeeds that full throttle does not give on the reference day are left out.

    Parameters
    ----------
    campaign : Campaign
        Propellers and reference conditions.
    fits : mapping of str to LevelFit
        Curves, as in `stdday.outcome.Analysis`.
    ratios : DataFrame, optional
        ``values.csv``; the intervals of installed efficiency ratios are taken from it.

    Returns
    -------
    DataFrame
        True airspeed [kt], power [kW], engine speed [rpm] (NaN where none was recorded), advance
        ratio, power coefficient, helical tip Mach number, greatest efficiency
        that momentum theory allows, blade drag as a share of power, and the ratio of installed
        efficiencies with its interval where stated.
    """
    rows = []
    for name, found in fits.items():
        if found.reason:
            continue
        reference = campaign.reference_for(campaign.configurations[name].airplane)
        air = _Air(reference, reference.cruise_pressure_altitude_m)
        ends = found.speed_ms[0].min() / air.root, found.speed_ms[0].max() / air.root
        steps = range(int(np.ceil(ends[0] / STEP_MS)), int(np.floor(ends[1] / STEP_MS)) + 1)
        most = _most(campaign.airplane_of(name), air) * found.rated_power_w / 1000
        made = [_propeller_row(campaign, found, air, step * STEP_MS, ratios) for step in steps]
        rows += [row for row in made if float(str(row["power [kW]"])) <= most]
    return pd.DataFrame(rows)


class _Air:
    """Air of the reference day at a pressure altitude [m], and `root` of its density ratio."""

    def __init__(self, reference: Reference, altitude_m: float, warmer_k: float = 0.0) -> None:
        self.altitude_m = altitude_m
        self.pressure_pa = float(atmosphere.standard_pressure_pa(altitude_m))
        offset = reference.temperature_offset_k + warmer_k
        self.temperature_k = float(atmosphere.standard_temperature_k(altitude_m)) + offset
        density = float(atmosphere.density_kg_m3(self.pressure_pa, self.temperature_k))
        self.density_kg_m3, self.ratio = density, density / atmosphere.SEA_LEVEL_DENSITY_KG_M3
        self.root = float(np.sqrt(self.ratio))

    def calibrated_ms(self, true_ms: float) -> float:
        return float(
            airspeed.calibrated_airspeed_ms(true_ms, self.pressure_pa, self.temperature_k)
        )


def _engine_speed_rps(configuration: Configuration, air: _Air, true_ms: float) -> float:
    """Engine speed that the governor holds; NaN for a fixed pitch or without a schedule."""
    if configuration.propeller.control != "constant speed" or not configuration.rpm_schedule:
        return float("nan")
    return float(governed_speed_rps(configuration.rpm_schedule, air.calibrated_ms(true_ms)))


def _curve_w(found: LevelFit, speed_ms: float) -> float:
    return float(curve_power_w(found, np.array(speed_ms)))


def _flown_speed_rps(found: LevelFit, speed_ms: float) -> float:
    """Reduced engine speed at a reduced airspeed, by a line through the runs; NaN without any."""
    known = np.isfinite(found.turns_rps)
    if known.sum() < 3:
        return float("nan")
    x = found.speed_ms[0][known]
    slope, start = np.polyfit(x - x.mean(), found.turns_rps[known], 1)
    return float(start + slope * (speed_ms - x.mean()))


def _propeller_row(
    campaign: Campaign, found: LevelFit, air: _Air, true_ms: float, ratios: pd.DataFrame | None
) -> dict[str, object]:
    configuration = campaign.configurations[found.configuration]
    airplane = campaign.airplane_of(found.configuration)
    disk = configuration.propeller.diameter_m
    power = _curve_w(found, true_ms * air.root) / air.root
    engine = _engine_speed_rps(configuration, air, true_ms)
    if not np.isfinite(engine):
        engine = _flown_speed_rps(found, true_ms * air.root) / air.root
    turns = engine / airplane.gear_ratio
    row: dict[str, object] = {
        "configuration": found.configuration,
        "true_airspeed [kt]": round(true_ms / KT, 1),
        "power [kW]": round(power / 1000, 2),
        "engine_speed [rpm]": round(engine * 60) if np.isfinite(engine) else float("nan"),
        "ideal_efficiency [-]": round(
            float(propeller.ideal_efficiency(true_ms, power, air.density_kg_m3, disk)), 3
        ),
    }
    if np.isfinite(turns):
        lost = blade.profile_power_w(
            true_ms, turns, air.density_kg_m3, disk, configuration.propeller.blades
        )
        row |= {
            "advance_ratio [-]": round(float(propeller.advance_ratio(true_ms, turns, disk)), 3),
            "power_coefficient [-]": round(
                float(propeller.power_coefficient(power, air.density_kg_m3, turns, disk)), 4
            ),
            "tip_mach [-]": round(
                float(propeller.tip_mach(true_ms, turns, disk, air.temperature_k)), 3
            ),
            "blade_drag [% of power]": round(100 * float(lost) / power, 1),
        }
    return row | _ratio_of(found, ratios, true_ms)


def _ratio_of(
    found: LevelFit, ratios: pd.DataFrame | None, true_ms: float
) -> dict[str, object]:
    """Ratio of installed efficiencies with its interval, where the results state it."""
    if ratios is None:
        return {}
    own = ratios[
        (ratios["metric"] == "installed_efficiency_ratio")
        & (ratios["condition_id"] == f"efficiency_{round(true_ms / KT)}")
        & (ratios["configuration"] == found.configuration)
        & (ratios["status"] == "ok")
    ]
    if own.empty:
        return {}
    first = own.iloc[0]
    return {
        "efficiency_ratio [-]": first["estimate"],
        "low [-]": first["low"],
        "high [-]": first["high"],
    }


def effective_polar(campaign: Campaign, found: LevelFit) -> str:
    """Say what level flight tells of the polar: effective values, and why they are no more.

    Parameters
    ----------
    campaign : Campaign
        Wing and reference weight.
    found : LevelFit
        A fitted curve.

    Returns
    -------
    str
        CD0 over efficiency, e times efficiency, and the speeds of least drag and of least drag over
        speed at reference weight and sea-level density.
    """
    airplane = campaign.airplane_of(found.configuration)
    reference = campaign.reference_for(airplane.id)
    cubic = found.coefficients[0, CUBIC] * found.rated_power_w / SPEED_UNIT_MS**3
    inverse = found.coefficients[0, INVERSE] * found.rated_power_w * SPEED_UNIT_MS
    weight = reference.weight_kg * atmosphere.GRAVITY_MS2
    drag, span = level.drag_polar_from_power(
        cubic, inverse, atmosphere.SEA_LEVEL_DENSITY_KG_M3, airplane.wing_area_m2,
        airplane.wing_span_m, weight, 1.0,
    )  # fmt: skip
    speeds = level.characteristic_speeds(cubic, inverse)
    least, carson = float(speeds.minimum_drag_ms) / KT, float(speeds.carson_ms) / KT
    slowest = float(found.speed_ms[0].min()) / KT
    words = (
        f"CD0/eta = {float(drag):.4f}, e eta = {float(span):.2f} (effective values: {EFFECTIVE}). "
        f"Carson's speed is {carson:.0f} kt equivalent airspeed"
    )
    words += f", least drag at {least:.0f} kt" if least >= slowest * 0.97 else ""
    if min(least, carson) < slowest * 0.97:
        words += f"; level runs reach down to {slowest:.0f} kt: below that it is extrapolated"
    return words


def performance_table(
    campaign: Campaign,
    found: LevelFit,
    powers: Sequence[float],
    weight_kg: float,
    altitude_m: float,
    warmer_k: float = 0.0,
) -> pd.DataFrame:
    """Level flight at any power, weight, altitude and temperature, by the fitted curve.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    found : LevelFit
        A fitted curve.
    powers : sequence of float
        Shares of rated power [-].
    weight_kg, altitude_m : float
        Weight [kg] and pressure altitude [m].
    warmer_k : float, optional
        Temperature above that of the reference day [K].

    Returns
    -------
    DataFrame
        True airspeed [kt], fuel flow [L/h], specific range [nmi/L] and endurance [h for each 10 L];
        NaN with the reason where the lift coefficient or the power was not flown, or full throttle
        does not give that power.
    """
    airplane = campaign.airplane_of(found.configuration)
    reference = campaign.reference_for(airplane.id)
    air = _Air(reference, altitude_m, warmer_k)
    most = _most(airplane, air)
    rows = []
    for share in powers:
        index = _index(campaign, found, share * airplane.rated_power_w, weight_kg, air)
        flown = found.brake_power_w[0] / found.rated_power_w
        row: dict[str, object] = {"power [% of rated]": round(100 * share, 1)}
        inside = found.speed_ms[0].min() * 0.97 <= index <= found.speed_ms[0].max() * 1.03
        if not inside or not flown.min() * 0.97 <= share <= flown.max() * 1.03:
            rows.append(row | {"reason": "outside of the powers and lift coefficients flown"})
            continue
        if share > most:
            rows.append(row | {"reason": f"full throttle gives {100 * most:.1f} % of rated power"})
            continue
        true = index / air.root * np.sqrt(weight_kg / reference.weight_kg)
        row["true_airspeed [kt]"] = round(float(true) / KT, 1)
        if found.has_fuel and airplane.power_from != "fuel flow":
            first, growth = found.coefficients[0, [FUEL_START, FUEL_GROWTH]]
            flow = FUEL_UNIT_M3S * (first + growth * share) * 3.6e6
            row |= {
                "fuel_flow [L/h]": round(float(flow), 2),
                "specific_range [nmi/L]": round(float(true) / KT / float(flow), 2),
                "endurance [h for 10 L]": round(10 / float(flow), 2),
            }
        rows.append(row | {"reason": ""})
    return pd.DataFrame(rows)


def _most(airplane: Airplane, air: _Air) -> float:
    """Share of rated power that full throttle gives [-]."""
    return float(
        engine.induction_ratio(
            air.pressure_pa, air.temperature_k, 0.0, airplane.induction,
            airplane.critical_altitude_m,
        )
    )  # fmt: skip


def _index(
    campaign: Campaign, found: LevelFit, power_w: float, weight_kg: float, air: _Air
) -> float:
    """Reduced airspeed [m/s] at a power; a governed propeller's blade drag is kept apart."""
    configuration = campaign.configurations[found.configuration]
    airplane = campaign.airplane_of(found.configuration)
    reference = campaign.reference_for(airplane.id)
    home = _Air(reference, reference.cruise_pressure_altitude_m)
    scale = air.root * (reference.weight_kg / weight_kg) ** 1.5
    speed = float("nan")
    extra = 0.0
    for _ in range(12):
        speed = curve_speed_ms(found, power_w * scale + extra)
        lost = [
            _blade_drag_w(configuration, airplane, one, speed / one.root * np.sqrt(weight / ref))
            for one, weight, ref in (
                (air, weight_kg, reference.weight_kg),
                (home, 1.0, 1.0),
            )
        ]
        extra = home.root * lost[1] - scale * lost[0]
    return speed


def _blade_drag_w(
    configuration: Configuration, airplane: Airplane, air: _Air, true_ms: float
) -> float:
    engine = _engine_speed_rps(configuration, air, true_ms)
    if not np.isfinite(engine):
        return 0.0
    return float(
        blade.profile_power_w(
            true_ms,
            engine / airplane.gear_ratio,
            air.density_kg_m3,
            configuration.propeller.diameter_m,
            configuration.propeller.blades,
        )
    )


def reciprocal_table(campaign: Campaign, segments: pd.DataFrame) -> pd.DataFrame:
    """Climbs of one flight on opposite tracks, with and without the wind gradient taken out.

    Only climbs within 3 kt of each other are a pair: a formula that moves them to one airspeed
    would show in the difference otherwise.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    segments : DataFrame
        Segments of used points; climbs with their track.

    Returns
    -------
    DataFrame
        One row a pair: difference of corrected rates with and without the wind gradient taken out
        [ft/min]. Empty without such pairs.
    """
    own = segments[segments["kind"] == "climb"].reset_index(drop=True)
    rows: list[dict[str, object]] = []
    if own.empty or "track_rad" not in own or own["track_rad"].isna().all():
        return pd.DataFrame(rows, columns=list(_PAIRS))
    slopes = propeller_slopes(campaign, segments)
    blind = own.assign(ground_speed_rate_ms2=np.nan)
    rates = [_rates(campaign, one, slopes) for one in (own, blind)]
    for (flight, condition), group in own.groupby(["flight", "condition_id"], sort=False):
        for first, second in itertools.combinations(group.to_dict("records"), 2):
            keys = [(str(one["point"]), str(condition)) for one in (first, second)]
            if not _a_pair(first, second) or any(key not in rates[0] for key in keys):
                continue
            with_, without = (one[keys[0]] - one[keys[1]] for one in rates)
            rows.append(
                {
                    "flight": flight, "condition_id": condition, "first": keys[0][0],
                    "second": keys[1][0],
                    "difference [ft/min]": round(with_ * 60 / 0.3048) + 0.0,
                    "difference, uncorrected [ft/min]": round(without * 60 / 0.3048) + 0.0,
                }
            )  # fmt: skip
    return pd.DataFrame(rows, columns=list(_PAIRS))


def _a_pair(first: Mapping[Any, Any], second: Mapping[Any, Any]) -> bool:
    """Whether two climbs were flown on opposite tracks and at one airspeed."""
    away = abs(np.cos(float(first["track_rad"]) - float(second["track_rad"])) + 1)
    apart = abs(float(first["indicated_airspeed_ms"]) - float(second["indicated_airspeed_ms"]))
    return bool(away <= OPPOSITE and apart <= FARTHEST_MS)


_PAIRS = ("flight", "condition_id", "first", "second", "difference [ft/min]",
          "difference, uncorrected [ft/min]")  # fmt: skip


def _rates(
    campaign: Campaign, own: pd.DataFrame, slopes: dict[str, float]
) -> dict[tuple[str, str], float]:
    """Nominal corrected rate [m/s] of climbs at the common airspeed, by point and condition."""
    found = {}
    for condition, group in own.groupby("condition_id", sort=False):
        for part in in_parts(group):
            climbs = climbs_at_airspeed(campaign, part, Draws(0), slopes, common=True)
            found.update(
                {(point, str(condition)): float(rate)
                 for point, rate in zip(climbs.points, climbs.rate_ms[0], strict=True)}
            )  # fmt: skip
    return found


def agreement_table(
    campaign: Campaign,
    segments: pd.DataFrame,
    fits: Mapping[str, LevelFit],
    static_thrust_n: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """What each kind of test says beside the model of the airplane, in words.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    segments : DataFrame
        Segments of used points.
    fits : mapping of str to LevelFit
        Curves, as in `stdday.outcome.Analysis`.
    static_thrust_n : mapping of str to float, optional
        Static thrust of configurations from their take-offs [N].

    Returns
    -------
    DataFrame
        Configuration, test, number of flights, residual in its unit with its standard error, the
        words, and whether the test contradicts the others.
    """
    slopes = propeller_slopes(campaign, segments)
    climbs, _ = fit_climbs(
        campaign, segments[segments["kind"] == "climb"], Draws(0), slopes, {}
    )
    rows: list[dict[str, object]] = []
    for name, found in fits.items():
        if not found.reason:
            rows += _level_rows(found)
            rows += _climb_row(campaign, found, climbs.get(name))
    windows = reduce_accelerations(campaign, segments, Draws(SHARED_DRAWS), slopes, climbs)
    rows += _acceleration_rows(windows)
    rows += _static_rows(campaign, static_thrust_n or {})
    columns = ["configuration", "test", "flights", "residual", "error", "unit", "contradicts",
               "words"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def _level_rows(found: LevelFit) -> list[dict[str, object]]:
    """Flight whose level runs lie farthest from the curve."""
    off = found.power_w[0] / curve_power_w(found, found.speed_ms[0]) - 1
    flights = np.array(found.flights)
    means = {name: float(off[flights == name].mean()) for name in dict.fromkeys(found.flights)}
    worst = max(means, key=lambda name: abs(means[name]))
    others = np.array([mean for name, mean in means.items() if name != worst])
    away = means[worst] - float(others.mean()) if len(others) else 0.0
    spread = float(others.std(ddof=1)) * np.sqrt(1 + 1 / len(others)) if len(others) > 1 else np.nan
    # the farthest of so many: a Student quantile for all of them together
    factor = special.stdtrit(len(others) - 1, 1 - 0.01 / len(means)) if len(others) > 1 else np.nan
    against = len(means) >= 4 and abs(away) > max(factor * spread, OFF_POWER)
    words = f"flight {worst} lies farthest from the curve of power"
    if not against:
        words += f", no farther than one of {len(means)} flights may"
    else:
        words += (
            ": its weight, mixture, temperature or position of cowl and flaps may be other than "
            "written, or the air was rising or sinking"
        )
    return [_row(found.configuration, "level runs", len(means), 100 * away, 100 * spread,
                 "% of power", against, words)]  # fmt: skip


def _row(
    configuration: str, test: str, flights: int, residual: float, error: float, unit: str,
    contradicts: object, words: str,
) -> dict[str, object]:  # fmt: skip
    return {
        "configuration": configuration, "test": test, "flights": flights,
        "residual": round(residual, 2) + 0.0, "error": round(error, 2) + 0.0, "unit": unit,
        "contradicts": bool(contradicts), "words": words,
    }  # fmt: skip


def _climb_row(
    campaign: Campaign, found: LevelFit, climbs: ClimbFit | None
) -> list[dict[str, object]]:
    """Installed efficiency that climb and level flight together ask for, at the common airspeed."""
    if climbs is None:
        return []
    airplane = campaign.airplane_of(found.configuration)
    reference, place = climbs.reference, 0
    air = _Air(reference, climbs.altitudes_m[place])
    common = np.array([reference.climb_airspeed_ms])
    rate = float(climbs.rate(climbs.coefficients[:1], common, place)[0, 0])
    true = float(airspeed.true_airspeed_ms(common[0], air.pressure_pa, air.temperature_k))
    drag_power = airplane.assumed_efficiency[1] * _curve_w(found, true * air.root) / air.root
    weight = reference.weight_kg * atmosphere.GRAVITY_MS2
    thrust_power = climbs.thrust_ms[place] / air.root * weight  # with the assumed efficiency
    power = thrust_power / airplane.assumed_efficiency[0]
    implied = (weight * rate + drag_power) / power
    bound = float(
        propeller.ideal_efficiency(
            true, power, air.density_kg_m3,
            campaign.configurations[found.configuration].propeller.diameter_m,
        )
    )  # fmt: skip
    assumed = airplane.assumed_efficiency[0]
    against = implied > bound or abs(implied - assumed) > 0.15
    words = (
        f"climb and level flight together ask for an installed efficiency of {implied:.2f} in the "
        f"climb (assumed {assumed:.2f}; momentum theory allows {bound:.2f})"
    )
    if against:
        words += (
            ": full-throttle power, weight or position error in the climb may be off, or the "
            "assumed efficiency in cruise"
        )
    return [_row(found.configuration, "climbs", len(set(climbs.flights)),
                 100 * (implied - assumed), 5.0, "% of efficiency", against, words)]  # fmt: skip


def _acceleration_rows(windows: pd.DataFrame) -> list[dict[str, object]]:
    """Accelerations against the curve of the climbs, flight by flight."""
    rows = []
    known = windows[windows["difference"].notna()] if len(windows) else windows
    for name, own in known.groupby("configuration", sort=False) if len(known) else ():
        means = own.groupby("flight", sort=False)["difference"].mean()
        middle = float(means.mean())
        between = float(means.std(ddof=1) / np.sqrt(len(means))) if len(means) > 1 else 40.0
        shared = float((own["rate_high"] - own["rate_low"]).mean()) / 3.92
        error = float(np.hypot(between, shared))  # few flights show little: shared errors count too
        off_rate = OFF_RATE_MS * 60 / 0.3048
        against = abs(middle) > max(OFF * error, off_rate)
        words = f"accelerations give {middle:+.0f} ft/min beside the climbs"
        if against:
            words += (
                ": airspeed delay, an error of airspeed that changes with speed, wind that "
                "changed, or cowl flaps"
            )
        rows.append(_row(str(name), "accelerations", len(means), middle, error, "ft/min", against,
                         words))  # fmt: skip
    return rows


def _static_rows(
    campaign: Campaign, static_thrust_n: Mapping[str, float]
) -> list[dict[str, object]]:
    """Static thrust of take-offs against what momentum theory allows the disk."""
    rows = []
    for name, thrust in static_thrust_n.items():
        airplane = campaign.airplane_of(name)
        ideal = float(
            propeller.ideal_static_thrust_n(
                airplane.rated_power_w,
                atmosphere.SEA_LEVEL_DENSITY_KG_M3,
                campaign.configurations[name].propeller.diameter_m,
            )
        )
        share = thrust / ideal
        against = not STATIC_SHARE[0] <= share <= STATIC_SHARE[1]
        words = (
            f"static thrust is {100 * share:.0f} % of what momentum theory allows at rated power"
        )
        if against:
            low, high = (100 * one for one in STATIC_SHARE)
            words += (
                f"; {low:.0f} to {high:.0f} % is usual: friction, slope, wind or the weight of the "
                "take-offs may be off"
            )
        rows.append(_row(name, "take-off static thrust", 0, 100 * share, 5.0, "% of ideal",
                         against, words))  # fmt: skip
    return rows
