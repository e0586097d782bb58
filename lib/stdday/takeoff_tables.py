"""Tables of the take-offs: timing, wind, acceleration, cross-check, pilots, exponents, friction."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import takeoff, units
from stdday.margin_tables import margins_table
from stdday.reduce_takeoff import DISAGREEMENT, as_flown, liftoff_by_pilot, prepared
from stdday.roll import FRICTION, friction_on
from stdday.state import State, make_state
from stdday.takeoff_handbook import EXPONENT_SIGMA, by_exponents
from stdday.takeoff_roll import Rolls, Wanted, accelerations, by_model, runway_of, wanted_of
from stdday.takeoff_wind import APART_SIGMAS, JUMP_LEFT, Headwind
from stdday.throttle import propeller_slopes
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.outcome import Analysis

__all__ = ["takeoff_tables"]

FloatArray = NDArray[np.float64]

#: Places along a roll at which its acceleration is told [-].
PLACES = 11
#: Exponents of each set, in the order of the table.
_RATIOS = ("weight", "density", "engine_speed", "power")


def takeoff_tables(
    campaign: Campaign, segments: pd.DataFrame, analysis: Analysis
) -> dict[str, pd.DataFrame]:
    """Further tables of the results that tell of take-offs.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    segments : DataFrame
        Segments of the used points of all kinds.
    analysis : Analysis
        Corrected points and values.

    Returns
    -------
    dict of str to DataFrame
        ``takeoff_timing``, ``takeoff_wind``, ``takeoff_acceleration``, ``takeoff_cross_check``,
        ``liftoff_by_pilot``, ``takeoff_exponents``, ``takeoff_friction`` and ``takeoff_margins``,
        in pilots' units; those without a row are left out, and all of them without a take-off.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    campaign = replace(campaign, calibrations=analysis.calibrations)
    rows = segments[segments["kind"] == "take-off"]
    if rows.empty:
        return {}
    flown = _flown(campaign, rows, propeller_slopes(campaign, segments))
    found = {
        "takeoff_timing": _timing(flown),
        "takeoff_wind": _wind(flown),
        "takeoff_acceleration": _acceleration(flown),
        "takeoff_cross_check": _cross_check(flown, analysis),
        "liftoff_by_pilot": _pilots(campaign, analysis),
        "takeoff_exponents": _exponents(flown),
        "takeoff_friction": _friction(flown),
        "takeoff_margins": margins_table(campaign, analysis.outcomes, analysis.reduced),
    }
    return {name: table for name, table in found.items() if len(table)}


@dataclass(frozen=True)
class _Flown:
    """All take-offs together, nominal."""

    state: State
    rolls: Rolls
    wind: Headwind
    wanted: Wanted

    @property
    def names(self) -> dict[str, list[str]]:
        """Point, flight and configuration of each."""
        return {
            "point": [str(point) for point in self.state.frame["point"]],
            "flight": [flight.id for flight in self.state.flights],
            "configuration": list(self.state.configurations),
        }

    def column(self, name: str) -> FloatArray:
        """Column of the segments; NaN where there is none."""
        frame = self.state.frame
        return frame[name].to_numpy(dtype=float) if name in frame else np.full(len(frame), np.nan)


def _flown(campaign: Campaign, rows: pd.DataFrame, slopes: dict[str, float]) -> _Flown:
    still = Draws(0)
    state = make_state(campaign, prepared(campaign, rows).reset_index(drop=True), still)
    rolls, wind = as_flown(state, still)
    return _Flown(state, rolls, wind, wanted_of(state, still, slopes, rolls.liftoff_true_ms))


def _in(values: FloatArray, unit: str, dimension: str, decimals: int) -> FloatArray:
    """Values [SI] in a unit, rounded; without negative zeros."""
    return np.asarray(np.round(units.from_si(values, unit, dimension), decimals) + 0.0)


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, np.nan)


def _timing(flown: _Flown) -> pd.DataFrame:
    """How well the moments of each take-off are known, and what its roll carries."""
    seconds = {
        "brake_release_sigma [s]": "brake_release_sigma_s",
        "liftoff_sigma [s]": "liftoff_sigma_s",
        "height50_sigma [s]": "height50_sigma_s",
        "airspeed_delay [s]": "airspeed_delay_s",
        "airspeed_delay_sigma [s]": "airspeed_delay_sigma_s",
    }
    return pd.DataFrame(
        flown.names
        | {title: np.round(flown.column(name), 3) + 0.0 for title, name in seconds.items()}
        | {"roll_samples": flown.column("roll_samples"), "acceleration": _model(flown)[2]}
    )


def _model(flown: _Flown) -> tuple[FloatArray, FloatArray, list[str]]:
    """Ground roll by the model and by the handbook [m], and why not by the model."""
    nothing = [""] * len(flown.state.flights)
    model, _, unfit = by_model(flown.rolls, flown.wanted, Draws(0), nothing)
    handbook = by_exponents(flown.rolls, flown.wanted, Draws(0), nothing)
    return model.values[0], handbook.values[0], unfit


def _wind(flown: _Flown) -> pd.DataFrame:
    """Where the headwind of each take-off comes from."""
    wind, steps = flown.wind, {step.name: step for step in flown.wind.chain.steps}
    known = np.isfinite(wind.from_air_ms) & np.isfinite(wind.from_air_sigma_ms)

    def change(name: str) -> FloatArray:
        step = steps[name]
        return np.where(known, np.round(step.after - step.before, 2) + 0.0, np.nan)

    raw = next(iter(steps.values())).before  # steps are in the unit of their ledger: kt
    knots = {
        "from_the_air": np.where(known, wind.from_air_ms, np.nan),
        "from_the_air_sigma": np.where(known, wind.from_air_sigma_ms, np.nan),
        "reported": wind.reported_ms,
        "reported_sigma": _finite(wind.reported_sigma_ms),
        "combined": wind.values_ms[0],
        "combined_sigma": _finite(wind.sigma_ms),
    }
    apart = wind.apart
    told = {f"{name} [kt]": _in(values, "kt", "speed", 2) for name, values in knots.items()}
    return pd.DataFrame(
        flown.names
        | {
            "air_minus_ground [kt]": np.where(known, np.round(raw, 2) + 0.0, np.nan),
            "static_jump [ft]": _in(flown.column("static_jump_m"), "ft", "length", 1),
            "static_jump_left": JUMP_LEFT,
            "by_static_jump [kt]": change("static-pressure jump"),
            "delay [s]": np.round(flown.column("installation_delay_s"), 3) + 0.0,
            "delay_sigma [s]": np.round(flown.column("installation_delay_sigma_s"), 3),
            "by_delay [kt]": change("delay of the airspeed"),
            "by_gradient [kt]": change("wind gradient"),
        }
        | told
        | {
            "apart_sigmas": np.round(apart, 1) + 0.0,
            "flag": [_flag(value) for value in apart],
        }
    )


def _flag(apart: float) -> str:
    return "disagree" if np.isfinite(apart) and abs(apart) > APART_SIGMAS else ""


def _acceleration(flown: _Flown) -> pd.DataFrame:
    """Acceleration against true airspeed, as measured and on the reference day."""
    start = np.maximum(flown.rolls.headwind_ms, 0.0)
    parts = []
    for place in range(PLACES):
        true = start + (flown.rolls.liftoff_true_ms - start) * place / (PLACES - 1)
        here, there, unfit = accelerations(flown.rolls, flown.wanted, Draws(0), true)
        table = pd.DataFrame(
            {
                "point": flown.names["point"],
                "true_airspeed [kt]": _in(true[0], "kt", "speed", 2),
                "as_flown [m/s^2]": np.round(here[0], 4),
                "reference_day [m/s^2]": np.round(there[0], 4),
            }
        )
        told = np.isfinite(true[0]) & np.array([not reason for reason in unfit])
        parts.append(table[told])
    every = pd.concat(parts)
    order = every["point"].map({point: n for n, point in enumerate(flown.names["point"])})
    sorted_rows: pd.DataFrame = every.iloc[np.argsort(order.to_numpy(), kind="stable")]
    return sorted_rows.reset_index(drop=True)


def _cross_check(flown: _Flown, analysis: Analysis) -> pd.DataFrame:
    """Ground roll by the model against that by handbook exponents, take-off by take-off."""
    kept = {point for item in analysis.reduced if item.metric == "takeoff_ground_roll"
            for point in item.points}  # fmt: skip
    model, handbook, unfit = _model(flown)
    off = 100 * (handbook / model - 1)
    rows = [
        names
        | {
            "by_model [m]": float("nan") if unfit[place] else round(float(model[place]), 2),
            "by_handbook [m]": round(float(handbook[place]), 2),
            "difference [%]": float("nan") if unfit[place] else round(float(off[place]), 2) + 0.0,
            "flag": "disagree"
            if not unfit[place] and abs(off[place]) > 100 * DISAGREEMENT
            else "",
            "reason": unfit[place],
        }
        for place, names in enumerate(pd.DataFrame(flown.names).to_dict("records"))
        if names["point"] in kept
    ]
    return pd.DataFrame(rows)


def _pilots(campaign: Campaign, analysis: Analysis) -> pd.DataFrame:
    """Lift-off airspeed by pilot and configuration; pilots by number, never by name."""
    table = liftoff_by_pilot(campaign, analysis.reduced)
    named = dict.fromkeys(flight.pilot for flight in campaign.flights if flight.pilot)
    numbers = {name: f"pilot {place + 1}" for place, name in enumerate(named)}
    found = pd.DataFrame(
        {
            "pilot": [numbers.get(name, "not told") for name in table["pilot"]],
            "configuration": table["configuration"],
            "take_offs": table["take_offs"],
            "mean [kt]": _in(table["mean_ms"].to_numpy(dtype=float), "kt", "speed", 2),
            "sd [kt]": _in(table["sd_ms"].to_numpy(dtype=float), "kt", "speed", 2),
        }
    )
    return found.sort_values(["pilot", "configuration"], kind="stable").reset_index(drop=True)


def _exponents(flown: _Flown) -> pd.DataFrame:
    """Exponents of the handbooks and of the campaign, each with its standing and who uses it."""
    campaign = flown.state.campaign
    flown_with = dict.fromkeys(flown.state.configurations)
    users = {
        control: ", ".join(
            name
            for name in flown_with
            if campaign.configurations[name].propeller.control == control
        )
        for control in takeoff.EXPONENT_SETS
    }
    rows: list[dict[str, Any]] = []
    for part, sets in (("ground roll", takeoff.EXPONENT_SETS),
                       ("air phase", takeoff.AIR_EXPONENT_SETS)):  # fmt: skip
        for name, table in sets.items():
            rows += [
                _exponent(part, name, ratio, float(np.asarray(getattr(table, ratio))),
                          EXPONENT_SIGMA[ratio], table.standing, users.get(name, ""))
                for ratio in _RATIOS
            ]  # fmt: skip
    for airplane in campaign.airplanes.values():
        rows += [
            _exponent("ground roll", f"airplane {airplane.id}", ratio, float(value),
                      EXPONENT_SIGMA.get(ratio, float("nan")), "the campaign's own",
                      "in place of the set")
            for ratio, value in (airplane.takeoff_exponents or {}).items()
        ]  # fmt: skip
    return pd.DataFrame(rows + _liftoff_exponents(flown, list(flown_with)))


def _exponent(
    part: str, name: str, ratio: str, value: float, sigma: float, standing: str, used: str
) -> dict[str, Any]:
    return {"part": part, "set": name, "ratio": ratio, "exponent": round(value, 3),
            "sigma": sigma if value else 0.0, "standing": standing, "used_for": used}  # fmt: skip


def _liftoff_exponents(flown: _Flown, names: list[str]) -> list[dict[str, Any]]:
    """Exponent of wind, and that of lift-off airspeed as each configuration's rolls tell it."""
    rows = [_exponent("ground roll", "every propeller", "wind", 1.85, EXPONENT_SIGMA["wind"],
                      "USAF AFTR 6273 (1966), from memory", ", ".join(names))]  # fmt: skip
    for name in names:
        first = flown.state.configurations.index(name)
        value, sigma = (float(flown.column(f"liftoff_exponent{ending}")[first])
                        for ending in ("", "_sigma"))  # fmt: skip
        rows.append(
            _exponent("ground roll", f"configuration {name}", "liftoff_airspeed", value, sigma,
                      "V^2 / (S a) of its own rolls where three tell it, else common practice",
                      name)
        )  # fmt: skip
    return rows


def _friction(flown: _Flown) -> pd.DataFrame:
    """Rolling friction by surface, and which of it the take-offs were given."""
    used: dict[str, None] = {}
    for flight in flown.state.flights:
        runway = runway_of(flown.state, flight)
        airplane = flown.state.airplane_of(flight).id
        wanted = flown.state.campaign.reference_for(airplane).runway_surface
        used[runway.surface if runway is not None and runway.surface else wanted] = None
    rows = [(f"flown: {surface}", friction_on(surface)) for surface in used]
    rows += list(FRICTION.items())
    return pd.DataFrame(
        [
            {"surface": surface, "coefficient": one.coefficient, "sigma": one.sigma,
             "standing": one.standing}
            for surface, one in rows
        ]
    )  # fmt: skip
