"""The ground roll on the reference day, by the acceleration of each roll itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, roll, units
from stdday.ledger import Chain, said
from stdday.throttle import Throttle, full_throttle_reference

if TYPE_CHECKING:
    from stdday.campaign import Flight, Runway
    from stdday.state import State
    from stdday.uncertainty import Draws

__all__ = ["STEPS", "Rolls", "Wanted", "accelerations", "by_model", "liftoff_ground_ms",
           "liftoff_thrusts", "runway_of", "wanted_of"]  # fmt: skip

FloatArray = NDArray[np.float64]

#: Steps of a ground roll from the flown to the reference conditions, in this order.
STEPS = (
    "no wind",
    "runway slope",
    "common lift-off airspeed",
    "weight",
    "air density",
    "engine speed",
    "full-throttle power",
)
#: Part of the lift-off airspeed at which the propeller works on average over the roll [-].
MEAN_SPEED = 0.75

# ---- acceleration model --------------------------------------------------------------------------

#: Drag and lift coefficients of a light airplane on its wheels with take-off flap [-], mean and one
#: sigma. Common practice, wide: what is wrong in them cancels but for the change of weight and air.
GROUND_DRAG, GROUND_DRAG_SIGMA = 0.055, 0.015
GROUND_LIFT, GROUND_LIFT_SIGMA = 0.40, 0.20
#: One sigma of the exponent on the ratio of thrusts from momentum theory or from one advance ratio
#: [-]. Common practice.
THRUST_LAW_SIGMA = 0.15
#: Largest one sigma of the acceleration at lift-off that a fitted curve may have, as a share [-].
LOOSEST_CURVE = 0.10
#: An integral that ends farther than this beyond the flown lift-off is flagged [m/s]: 3 kt.
BEYOND_MS = 3 * 1852 / 3600


@dataclass(frozen=True)
class Wanted:
    """Reference conditions of take-offs, and what full throttle gives there.

    Parameters
    ----------
    weight_kg, slope, common_ms : ndarray, shape (points,)
        Weight [kg], slope [-] and common lift-off airspeed, calibrated [m/s].
    density_kg_m3, true_ms : ndarray, shape (points,)
        Air density [kg/m^3] and true airspeed at lift-off [m/s] on the reference day.
    throttle : Throttle
        Power and engine speed as flown and on the reference day.
    by_speed : ndarray of bool, shape (points,)
        Whether thrust follows the engine speed of a fixed pitch; else it follows power.
    """

    weight_kg: FloatArray
    slope: FloatArray
    common_ms: FloatArray
    density_kg_m3: FloatArray
    true_ms: FloatArray
    throttle: Throttle
    by_speed: NDArray[np.bool_]

    @property
    def speed_ratio(self) -> FloatArray:
        """Engine speed on the reference day over that flown [-]; 1 where not recorded."""
        known = np.isfinite(self.throttle.test_speed_rps)
        ratio = self.throttle.reference_speed_rps / np.where(
            known, self.throttle.test_speed_rps, 1.0
        )
        return np.where(known, ratio, 1.0)

    @property
    def power_ratio(self) -> FloatArray:
        """Brake power on the reference day over that flown [-]."""
        return np.asarray(self.throttle.reference_power_w / self.throttle.test_power_w)


@dataclass(frozen=True)
class Rolls:
    """Take-offs as flown: what both ways of correcting them start from.

    Parameters
    ----------
    state : State
        Take-offs.
    headwind_ms, liftoff_true_ms, liftoff_ms : ndarray, shape (draws + 1, points)
        Headwind, and true and calibrated airspeed at lift-off [m/s].
    slope : ndarray, shape (draws + 1, points)
        Slope of the runway in the direction of the roll [-].
    """

    state: State
    headwind_ms: FloatArray
    liftoff_true_ms: FloatArray
    liftoff_ms: FloatArray
    slope: FloatArray

    def chain(self, metric: str, quantity: str, dimension: str, unit: str, column: str) -> Chain:
        """Start the chain of a measured distance or time."""
        measured = self.state.column(column) * self.state.clock
        values = np.broadcast_to(measured, self.liftoff_ms.shape)
        points = list(self.state.frame["point"])
        return Chain(metric, "takeoff", points, quantity, dimension, unit, values)

    def inputs(self, wanted: Wanted, words: list[str]) -> dict[str, list[list[str]]]:
        """Inputs of each of `STEPS` in words, one entry a point; `words` tell of the headwind."""
        state, throttle = self.state, wanted.throttle
        return {
            "no wind": [said("headwind", self.headwind_ms, "speed", "kt"), words],
            "runway slope": [said("slope", self.slope, "fraction", "%", 2)],
            "common lift-off airspeed": [
                said("flown", self.liftoff_ms, "speed", "kt"),
                said("common", wanted.common_ms, "speed", "kt"),
            ],
            "weight": [
                said("flown", state.weight_kg, "mass", "kg", 0),
                said("reference", wanted.weight_kg, "mass", "kg", 0),
            ],
            "air density": [
                said("flown", state.density_kg_m3, "density", "kg/m^3", 4),
                said("reference", wanted.density_kg_m3, "density", "kg/m^3", 4),
            ],
            "engine speed": [
                said("flown", throttle.test_speed_rps, "angular_speed", "rpm", 0),
                said("reference day", throttle.reference_speed_rps, "angular_speed", "rpm", 0),
                list(throttle.notes),
            ],
            "full-throttle power": [
                said("flown", throttle.test_power_w, "power", "kW"),
                said("reference day", throttle.reference_power_w, "power", "kW"),
                ["; ".join(lines) for lines in state.notes],
            ],
        }


def liftoff_ground_ms(state: State) -> FloatArray:
    """Ground speed at lift-off, by the fit to the roll where there is one.

    Parameters
    ----------
    state : State
        Take-offs.

    Returns
    -------
    ndarray, shape (points,)
        Ground speed [m/s].
    """
    around = state.column("liftoff_ground_speed_ms")
    if "roll_liftoff_ms" not in state.frame:
        return around
    fitted = state.column("roll_liftoff_ms")
    return np.where(np.isfinite(fitted), fitted, around)


def runway_of(state: State, flight: Flight) -> Runway | None:
    """Runway that a flight names, where its airfield has it.

    Parameters
    ----------
    state : State
        Any points of the campaign.
    flight : Flight
        The flight.

    Returns
    -------
    Runway or None
    """
    runways = state.campaign.airfields[flight.airfield].runways if flight.airfield else ()
    return next((runway for runway in runways if runway.name == flight.runway), None)


def wanted_of(
    state: State, draws: Draws, slopes: dict[str, float], liftoff_true_ms: FloatArray
) -> Wanted:
    """Reference conditions of take-offs.

    Parameters
    ----------
    state : State
        Take-offs.
    draws : Draws
        Draws of the correction parameters.
    slopes : dict
        From `stdday.throttle.propeller_slopes`.
    liftoff_true_ms : ndarray, shape (draws + 1, points)
        True airspeed at lift-off as flown [m/s].

    Returns
    -------
    Wanted

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    altitude = state.reference(lambda r: r.takeoff_pressure_altitude_m)
    temperature = np.asarray(atmosphere.standard_temperature_k(altitude)) + state.reference(
        lambda r: r.temperature_offset_k
    )
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
    common = state.reference(lambda r: r.liftoff_airspeed_ms)
    true = np.asarray(airspeed.true_airspeed_ms(common, pressure, temperature))
    throttle = full_throttle_reference(
        state,
        draws,
        slopes,
        MEAN_SPEED * liftoff_true_ms,
        np.broadcast_to(MEAN_SPEED * true, liftoff_true_ms.shape),
        altitude,
        temperature,
        hold_speed=True,
    )
    controls = [state.campaign.configurations[name].propeller.control
                for name in state.configurations]  # fmt: skip
    turning = np.isfinite(throttle.test_speed_rps[0])
    told = np.array([name in slopes for name in state.configurations])
    return Wanted(
        state.reference(lambda r: r.weight_kg),
        state.reference(lambda r: r.runway_slope),
        common,
        np.asarray(atmosphere.density_kg_m3(pressure, temperature)),
        true,
        throttle,
        (np.array(controls) == "fixed pitch") & turning & told,
    )


# ---- the acceleration model ----------------------------------------------------------------------


def _curve(rolls: Rolls) -> tuple[roll.RollCurve, list[str]]:
    """Fitted acceleration of each roll, and why it is not used; empty where it is."""
    frame = rolls.state.frame
    names = ("roll_a0_ms2", "roll_a1_per_s", "roll_a2_per_m", "roll_var_a0", "roll_var_a1",
             "roll_var_a2", "roll_cov_a0_a1", "roll_cov_a0_a2", "roll_cov_a1_a2")  # fmt: skip
    absent = np.full(len(frame), np.nan)
    a0, a1, a2, v0, v1, v2, c01, c02, c12 = (
        frame[name].to_numpy(dtype=float) if name in frame else absent for name in names
    )
    speed = liftoff_ground_ms(rolls.state)
    at_end = a0 + speed * (a1 + speed * a2)
    variance = v0 + speed**2 * (v1 + 2 * c02) + speed**4 * v2 + 2 * speed * c01
    variance = variance + 2 * speed**3 * c12
    with np.errstate(invalid="ignore", divide="ignore"):
        loose = np.sqrt(np.maximum(variance, 0.0)) / at_end
    words = []
    for place, known in enumerate(np.isfinite(a0 + a1 + a2)):
        if not known:
            words.append("no acceleration curve from this roll: handbook exponents alone")
        elif not 0 <= loose[place] < LOOSEST_CURVE:
            words.append("acceleration curve too loose at lift-off: handbook exponents alone")
        else:
            words.append("")
    clock = rolls.state.clock
    return roll.RollCurve(a0 / clock, a1 / clock, a2 / clock), words


def _forces(rolls: Rolls, draws: Draws) -> tuple[roll.RollForces, list[str]]:
    """Assumed resistance on the wheels, with draws, and its words."""
    state = rolls.state
    surfaces = []
    for flight in state.flights:
        runway = runway_of(state, flight)
        wanted = state.campaign.reference_for(state.airplane_of(flight).id).runway_surface
        surfaces.append(runway.surface if runway is not None and runway.surface else wanted)
    known = [roll.friction_on(surface) for surface in surfaces]
    area = state.airplane(lambda a: a.wing_area_m2)
    drawn = {
        name: draws.normal(name, "parameter", [""])
        for name in ("rolling friction", "drag on the ground", "lift on the ground")
    }
    forces = roll.RollForces(
        np.array([one.coefficient for one in known])
        + np.array([one.sigma for one in known]) * drawn["rolling friction"],
        area * (GROUND_DRAG + GROUND_DRAG_SIGMA * drawn["drag on the ground"]),
        area * (GROUND_LIFT + GROUND_LIFT_SIGMA * drawn["lift on the ground"]),
    )
    return forces, [f"rolling friction {one.coefficient:.2f} ({one.standing})" for one in known]


def _days(rolls: Rolls, wanted: Wanted) -> list[roll.RollDay]:
    """Conditions after each step up to air density, the flown ones first."""
    state = rolls.state
    in_this_air = np.asarray(
        airspeed.true_airspeed_ms(wanted.common_ms, state.pressure_pa, state.temperature_k)
    )
    days = [roll.RollDay(state.weight_kg, state.density_kg_m3, rolls.slope, rolls.headwind_ms,
                         rolls.liftoff_true_ms)]  # fmt: skip
    changes: tuple[dict[str, FloatArray | float], ...] = (
        {"headwind_ms": 0.0},
        {"slope": wanted.slope},
        {"liftoff_true_ms": in_this_air},
        {"weight_kg": wanted.weight_kg},
        {"density_kg_m3": wanted.density_kg_m3, "liftoff_true_ms": wanted.true_ms},
    )
    for change in changes:
        days.append(replace(days[-1], **change))
    return days


def _changes(
    rolls: Rolls, wanted: Wanted, draws: Draws
) -> tuple[roll.ThrustChange, roll.ThrustChange, roll.ThrustChange]:
    """Thrust with nothing of the engine moved, with engine speed, and with power too."""
    law = 1 + THRUST_LAW_SIGMA * draws.normal("thrust scaling", "parameter", [""])
    diameter = rolls.state.configuration(lambda c: c.propeller.diameter_m)
    still = roll.ThrustChange(diameter, 1.0, 1.0, wanted.by_speed, law)
    turned = replace(still, speed_ratio=np.where(wanted.by_speed, wanted.speed_ratio, 1.0))
    full = replace(turned, power_ratio=np.where(wanted.by_speed, 1.0, wanted.power_ratio))
    return still, turned, full


def liftoff_thrusts(
    rolls: Rolls, wanted: Wanted, draws: Draws
) -> tuple[FloatArray, FloatArray, list[str]]:
    """Thrust at the flown lift-off airspeed, as flown and on the reference day.

    Parameters
    ----------
    rolls, wanted, draws
        As for `by_model`.

    Returns
    -------
    tuple of ndarray, ndarray and list of str
        Thrusts [N], and why the roll does not tell them; empty where it does.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    curve, unfit = _curve(rolls)
    forces, _ = _forces(rolls, draws)
    still, _, full = _changes(rolls, wanted, draws)
    flown, *_, last = _days(rolls, wanted)
    true = rolls.liftoff_true_ms
    return (
        np.asarray(roll.wanted_thrust_n(true, curve, flown, flown, forces, still)),
        np.asarray(roll.wanted_thrust_n(true, curve, flown, last, forces, full)),
        unfit,
    )


def accelerations(
    rolls: Rolls, wanted: Wanted, draws: Draws, true_ms: FloatArray
) -> tuple[FloatArray, FloatArray, list[str]]:
    """Acceleration along the runway at some airspeeds, as flown and on the reference day.

    Parameters
    ----------
    rolls, wanted, draws
        As for `by_model`.
    true_ms : ndarray, shape (points,)
        True airspeed [m/s], the same on both days.

    Returns
    -------
    tuple of ndarray, ndarray and list of str
        Accelerations [m/s^2], and why the roll does not tell them; empty where it does.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    curve, unfit = _curve(rolls)
    forces, _ = _forces(rolls, draws)
    _, _, full = _changes(rolls, wanted, draws)
    flown, *_, last = _days(rolls, wanted)
    thrust = np.asarray(roll.wanted_thrust_n(true_ms, curve, flown, last, forces, full))
    there = (thrust - forces.resistance_n(last, true_ms)) / wanted.weight_kg
    return np.asarray(curve.at(true_ms - rolls.headwind_ms)), there, unfit


def by_model(
    rolls: Rolls, wanted: Wanted, draws: Draws, words: list[str]
) -> tuple[Chain, Chain, list[str]]:
    """Chains of ground roll and time by the acceleration model, each step one more condition moved.

    Parameters
    ----------
    rolls : Rolls
        Take-offs as flown.
    wanted : Wanted
        Reference conditions.
    draws : Draws
        Draws of the correction parameters.
    words : list of str
        Origin of each headwind.

    Returns
    -------
    tuple of Chain, Chain and list of str
        Ground roll, time to lift-off, and why the model does not answer for a point; empty where
        it does.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    curve, unfit = _curve(rolls)
    forces, surface = _forces(rolls, draws)
    still, turned, full = _changes(rolls, wanted, draws)
    flown, *days = _days(rolls, wanted)
    cases = [(day, still) for day in days] + [(days[-1], turned), (days[-1], full)]
    distance = rolls.chain("takeoff_ground_roll", "ground roll", "length", "m", "ground_roll_m")
    time = rolls.chain("takeoff_time_to_liftoff", "time to lift-off", "time", "s",
                       "time_to_liftoff_s")  # fmt: skip
    start = roll.ground_roll(curve, flown, flown, forces, still)
    inputs = rolls.inputs(wanted, words)
    inputs["common lift-off airspeed"].append(_beyond(rolls, wanted))
    inputs["weight"].append(surface)
    measured, took = distance.values, time.values
    for name, (day, change) in zip(STEPS, cases, strict=True):
        found = roll.ground_roll(curve, flown, day, forces, change)
        source = _SOURCES.get(name, _MODEL)
        distance.step(name, measured * found.distance_m / start.distance_m, source, inputs[name])
        time.step(name, took * found.time_s / start.time_s, source, inputs[name])
    lost = ~np.isfinite(distance.values[0])
    unfit = [
        reason or ("the model never reaches the common lift-off airspeed: handbook exponents alone"
                   if nowhere else "")
        for reason, nowhere in zip(unfit, lost, strict=True)
    ]  # fmt: skip
    return distance, time, unfit


_MODEL = "acceleration of this roll in airspeed, integrated with this condition moved"
_SOURCES = {
    "no wind": "acceleration of this roll against airspeed, integrated without wind",
    "runway slope": f"{_MODEL}; energy of the climb along the runway",
    "air density": f"{_MODEL}; thrust by momentum theory, or at one advance ratio",
    "engine speed": f"{_MODEL}; thrust of a fixed pitch at one advance ratio",
    "full-throttle power": f"{_MODEL}; thrust by momentum theory; lapse after Gagg and Ferrar "
    "(1934), from memory",
}


def _beyond(rolls: Rolls, wanted: Wanted) -> list[str]:
    """Words where the integral ends beyond what was flown."""
    past = wanted.common_ms - rolls.liftoff_ms[0]
    return [
        f"CAUTION: ends {units.from_si(gap, 'kt', 'speed'):.1f} kt beyond the flown lift-off"
        if gap > BEYOND_MS
        else ""
        for gap in past
    ]
