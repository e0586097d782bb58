"""Take-offs from whole recordings of the invented airplane, flown anew with other seeds.

Run: ``python tests/benchmarks/takeoffs_flown.py --flights 20``.

Each flight is the demo's simulator from the parked airplane round the circuit, its sensors sampled
at 1, 4 and 10 Hz; the search finds brake release and lift-off, the reducer corrects what it found.
Weather, pilots, weights and errors are drawn; truth is what the simulator knows.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from data_demo import airplane as truth  # noqa: E402
from data_demo.air import Column  # noqa: E402
from data_demo.airframe import FUEL_KG_M3  # noqa: E402
from data_demo.flight import Simulator, Variation  # noqa: E402
from data_demo.flying import Flown  # noqa: E402
from data_demo.pilot import Pilot  # noqa: E402
from data_demo.plan import draw_errors, weather_of  # noqa: E402
from data_demo.recorder import position_error_kt, sense  # noqa: E402
from data_demo.scenario import DEMO as FLOWN_DEMO  # noqa: E402
from data_demo.scenario import PLANS, SIGMA  # noqa: E402
from stdday.campaign import Campaign, load_campaign  # noqa: E402
from stdday.find_takeoffs import find_takeoffs  # noqa: E402
from stdday.reduce_takeoff import reduce_takeoffs  # noqa: E402
from stdday.signals import Trace  # noqa: E402
from stdday.takeoff_state import takeoff_state  # noqa: E402
from stdday.uncertainty import Draws  # noqa: E402

DEMO = ROOT / "data_demo" / "propeller_change"
KT = 1852 / 3600
RATES = (1.0, 4.0, 10.0)
CHANNELS = {
    "indicated_airspeed": "airspeed_ms", "pressure_altitude": "pressure_altitude_m",
    "outside_air_temperature": "temperature_k", "pitch": "pitch_rad",
    "normal_acceleration": "load_g", "heading": "heading_rad", "engine_speed": "engine_rps",
    "power": "power_w", "vertical_speed": "vertical_ms", "gps_altitude": "gps_height_m",
}  # fmt: skip
NOISE = {"indicated_airspeed": 0.2, "pressure_altitude": 0.4, "engine_speed": 0.1, "pitch": 0.004,
         "normal_acceleration": 0.02, "vertical_speed": 0.1, "power": 300.0}  # fmt: skip
#: One sigma of the owner's airspeed calibration [kt].
CALIBRATION_KT = 0.5
#: Slope of power coefficient against advance ratio of the fixed pitch, as its flights tell it.
SLOPES = {"A": -0.03}


def flown(seed: int) -> Flown:
    """One flight: take-off, climb to 1500 ft, circuit and landing."""
    rng = np.random.default_rng(seed)
    errors = draw_errors(seed, 0, SIGMA, ("A", "B"), ("A1", "B1", "A2"))
    demo = replace(FLOWN_DEMO, seed=seed, errors={"A": errors, "B": errors})
    plan = replace(PLANS[seed % len(PLANS)], wind_kt=float(rng.uniform(0, 11)),
                   load_kg=float(rng.uniform(85, 190)))  # fmt: skip
    aircraft, block, site = demo.aircraft[plan.configuration], errors.blocks[plan.block], demo.site
    variation = Variation(power_factor=1 + block.power, rolling_add=block.rolling_add)
    sim = Simulator(
        aircraft.config, Column(weather_of(plan), site.elevation_m),
        site.runway(site.runway_into(plan.wind_from_deg), site.slope + errors.slope), variation,
        aircraft.empty_kg + plan.load_kg, plan.fuel_l / 1000.0 * FUEL_KG_M3,
        np.random.default_rng([seed, 2]),
    )  # fmt: skip
    pilot = Pilot(sim, 1.0, 0.0)
    pilot.wait(30.0)
    pilot.line_up(20.0)
    pilot.take_off((50.0 + float(rng.normal(0, 3))) * KT)
    pilot.climb_to(site.elevation_m + 480.0, sim.runway.heading_rad)
    pilot.circuit()  # with a landing: that is where the delay of the airspeed shows
    pilot.full_stop()
    pilot.wait(20.0)
    return Flown(demo, plan, sim, 0.0, (0.0, 0.0), np.random.default_rng([seed, 3]))


def trace_of(flight: Flown, rate: float) -> Trace:
    """What a recorder keeps at a rate."""
    table, rng = sense(flight).table, np.random.default_rng([flight.demo.seed, int(rate)])
    step = 1 / rate
    time = np.arange(table["time_s"][0] + rng.uniform(0, step), table["time_s"][-1], step)

    def sampled(name: str, noise: float) -> np.ndarray:
        return np.interp(time, table["time_s"], table[name]) + noise * rng.normal(size=len(time))

    channels = {name: sampled(of, NOISE.get(name, 0.0)) for name, of in CHANNELS.items()}
    east, north = sampled("speed_east_ms", 0.05), sampled("speed_north_ms", 0.05)
    channels |= {"ground_speed": np.hypot(east, north), "track": np.arctan2(east, north)}
    return Trace(time, channels, 0.5, 12.0)


def row_of(flight: Flown, rate: float) -> dict[str, object] | None:
    """Segment of the take-off found in a flight; None where there is none or more than one."""
    trace = trace_of(flight, rate)
    used = [one for one in find_takeoffs(trace) if one.used]
    if len(used) != 1:
        return None
    return takeoff_state(trace, used[0], flight.sim.config.engine.gear, True)


def campaign_of(base: Campaign, flight: Flown, number: int) -> Campaign:
    """The demo's campaign with this flight alone, as its crew would write it down."""
    sim, plan = flight.sim, flight.plan
    event = next(one for one in sim.events if one["kind"] == "brake release")
    rng = np.random.default_rng([flight.demo.seed, 4])
    one = replace(
        base.flights[0], id=f"F{number:03d}", configuration=plan.configuration, use=True,
        takeoff_weight_kg=float(str(event["mass_kg"])) + rng.normal(0, 4),
        reported_temperature_k=float(sim.column.state(sim.runway.start_height_m)[1]),
        reported_dew_point_k=plan.dew_point_c + 273.15,
        altimeter_setting_pa=100.0 * plan.qnh_hpa, runway=sim.runway.name, runway_condition="dry",
        reported_wind_from_rad=np.deg2rad(plan.wind_from_deg),
        reported_wind_speed_ms=max(plan.wind_kt + rng.normal(0, 2), 0.0) * KT,
    )  # fmt: skip
    cas = np.arange(35.0, 125.0, 5.0)
    shown = cas - position_error_kt(cas, flight.demo.aircraft[plan.configuration],
                                    flight.demo.errors[plan.configuration])  # fmt: skip
    off = CALIBRATION_KT * rng.normal()
    table = tuple((a * KT, (b + off) * KT) for a, b in zip(shown, cas, strict=True))
    airplanes = {"one": replace(base.airplanes["one"], airspeed_calibration=table)}
    sizes = {"airspeed_calibration_table": CALIBRATION_KT * KT,
             "airspeed_between_configurations": 0.0}  # fmt: skip
    return replace(base, flights=(one,), airplanes=airplanes,
                   uncertainty={**base.uncertainty, **sizes})  # fmt: skip


def standard(base: Campaign, name: str) -> float:
    """True ground roll of a configuration on the reference day [m]."""
    reference = base.reference
    air = truth.standard_air(reference.takeoff_pressure_altitude_m)
    run = truth.ground_run(truth.CONFIGURATIONS[name], reference.liftoff_airspeed_ms, *air,
                           reference.weight_kg)  # fmt: skip
    return float(run.distance_m)


def errors_of(base: Campaign, flight: Flown, number: int, rate: float) -> dict[str, float] | None:
    """Errors of one take-off; None where it was not found."""
    row = row_of(flight, rate)
    if row is None:
        return None
    campaign = campaign_of(base, flight, number)
    own = campaign.flights[0]
    segments = pd.DataFrame([row | {
        "point": f"{own.id}-take-off-1", "condition_id": "takeoff", "flight": own.id,
        "configuration": own.configuration, "kind": "take-off", "fuel_used_m3": 0.0,
        "elapsed_since_first_takeoff_s": 0.0, "outside_air_temperature_k": np.nan,
    }])  # fmt: skip
    found = {item.metric: item for item in reduce_takeoffs(campaign, segments, Draws(0), SLOPES)}
    roll = found["takeoff_ground_roll"]
    if not roll.points:
        return None
    left = next(one for one in flight.sim.events if one["kind"] == "lift-off")
    known = standard(base, own.configuration)
    check = roll.ledger["inputs"].iloc[-1]
    exponents = float(check.split(" m,")[0].rsplit(" ", 1)[1]) if " m," in check else float("nan")
    return {
        "raw": float(str(left["ground_roll_m"])) / known - 1,
        "model": roll.values[0, 0] / known - 1,
        "exponents": exponents / known - 1,
        "headwind_kt": (roll.conditions["headwind_ms"][0] - _headwind(flight, left)) / KT,
        "mean wind_kt": (roll.conditions["headwind_ms"][0] - _mean_wind(flight, left)) / KT,
        "liftoff_s": float(str(row["liftoff_s"])) - float(str(left["time_s"])),
        "delay_s": float(str(row["airspeed_delay_s"])) - flight.demo.errors["A"].delay_s,
        "delay, sigma_s": float(str(row["airspeed_delay_sigma_s"])),
        "refused 50 ft": float(not found["takeoff_distance_50ft"].points),
    }


def _headwind(flight: Flown, left: dict[str, object]) -> float:
    """Mean of true airspeed minus ground speed in the last four seconds of the roll [m/s]."""
    table = flight.sim.table()
    before = float(str(left["time_s"])) - table["time_s"]
    part = (before > 0) & (before < 4)
    return float((table["tas_ms"] - table["ground_speed_ms"])[part].mean())


def _mean_wind(flight: Flown, left: dict[str, object]) -> float:
    """Headwind without gusts at the height of the wheels [m/s]."""
    table, heading = flight.sim.table(), flight.sim.runway.heading_rad
    at = int(np.searchsorted(table["time_s"], float(str(left["time_s"]))))
    east, north = flight.sim.column.wind(float(table["height_m"][at]))
    return float(-(east * np.sin(heading) + north * np.cos(heading)))


def main() -> None:
    """Print errors at each sampling rate."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=40)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    base = load_campaign(DEMO)
    flights = [flown(options.seed * 1000 + number) for number in range(options.flights)]
    for rate in RATES:
        found = [errors_of(base, one, number, rate) for number, one in enumerate(flights)]
        table = pd.DataFrame([one for one in found if one is not None])
        print(f"{rate:4.0f} Hz  {len(table)} of {len(flights)} take-offs found and corrected")
        for column in table:
            unit = {"kt": "kt", "_s": "s"}.get(str(column)[-2:], "%")
            values = table[column] * (100 if unit == "%" else 1)
            print(f"         {column:<14} n {values.count():3d}  mean {values.mean():+6.2f}  "
                  f"sd {values.std():5.2f}  rms {np.sqrt((values**2).mean()):5.2f} {unit}",
                  flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
