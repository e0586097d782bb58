"""The second demo: a club's two aircraft of different type; its seed, field, pilots and flights."""

from __future__ import annotations

from dataclasses import replace

from .air import FT_M
from .airframe import CONFIGURATIONS, TOURER
from .plan import Aircraft, Demo, Habit, Plan, Reference, Site, draw_errors

#: Written down before the workbook was first run on these recordings, and never changed since.
SEED = 718204

SITE = Site(
    name="skerrow",
    elevation_m=410.0 * FT_M,
    length_m=960.0,
    bearing_deg=104.0,
    slope=-0.004,
    runways=("10", "28"),
    zone_h=-2,
    origin_deg=(33.5, -38.0),
)

#: One-sigma errors, the same as declared in the campaign's table of uncertainty.
SIGMA = {
    "outside_air_temperature_bias": 1.5,  # K
    "weight": 6.0,  # kg
    "power": 0.02,
    "power_between_configurations": 0.01,
    "airspeed_calibration_table": 1.0,  # kt
    "airspeed_between_configurations": 0.7,  # kt
    "runway_slope": 0.001,
    "reported_wind": 3.0,  # kt
    "airspeed_delay": 0.5,  # s
    "pressure_altitude": 20.0,  # ft
    "fuel_flow_scale": 0.02,
}

PILOTS = {
    "one": Habit(47.0, 1.2, 0.9, 0.3, approach_kt=0.0, brake_ms2=1.5),
    "two": Habit(49.0, 1.8, 1.2, -0.8, approach_kt=2.0, brake_ms2=1.8),
    "three": Habit(51.0, 1.5, 1.1, 1.2, approach_kt=3.0, brake_ms2=2.0),
}

PLANS = (
    Plan(1, "trainer", "trainer-spring", "2026-04-11", 8.90, 176, 82, 1019.2, 8.0, 2.0, 6.3, 120,
         7, 1.8, 30, "one", (0.76, 0.56, 0.68, 0.62), 4000, 75, 1, recorder="logger",
         note="cool and steady"),
    Plan(2, "tourer", "tourer-spring", "2026-04-11", 12.60, 182, 110, 1018.4, 12.0, 3.0, 7.2, 135,
         9, 2.4, 40, "two", (0.60, 0.75, 0.66, 0.55), 4000, 130, 1, recorder="tourer"),
    Plan(3, "tourer", "tourer-spring", "2026-04-19", 9.40, 318, 120, 1011.7, 10.0, 6.0, 6.4, 290,
         11, 2.6, 35, "one", (0.55, 0.72, 0.64, 0.78), 4000, 250, 1, recorder="tourer",
         note="four on board"),
    Plan(4, "trainer", "trainer-spring", "2026-05-02", 10.20, 98, 74, 1015.0, 15.0, 8.0, 6.9, 255,
         8, 2.2, 42, "three", (0.58, 0.72, 0.65, 0.77), 3500, 215, 1, sawtooth=1,
         recorder="logger", note="alone on board"),
    Plan(5, "tourer", "tourer-spring", "2026-05-09", 8.30, 245, 115, 1022.6, 13.0, 5.0, 5.9, 90,
         4, 1.0, 18, "three", (0.74, 0.58, 0.68, 0.63), 4500, 20, 1, sawtooth=1,
         recorder="tourer", note="very smooth"),
    Plan(6, "tourer", "tourer-autumn", "2026-09-13", 9.80, 176, 118, 1013.9, 19.0, 13.0, 6.8, 310,
         10, 2.8, 45, "one", (0.62, 0.76, 0.57, 0.69), 4000, 340, 1, recorder="tourer"),
    Plan(7, "trainer", "trainer-autumn", "2026-09-19", 14.10, 182, 86, 1016.8, 22.0, 14.0, 7.6, 80,
         6, 2.0, 50, "two", (0.70, 0.57, 0.75, 0.63), 4000, 110, 1, recorder="logger"),
    Plan(8, "tourer", "tourer-autumn", "2026-10-04", 10.70, 309, 112, 1020.3, 14.0, 9.0, 6.2, 265,
         7, 1.7, 28, "two", (0.68, 0.56, 0.77, 0.64), 3500, 180, 1, recorder="tourer",
         note="four on board, some showers around"),
    Plan(9, "trainer", "trainer-autumn", "2026-10-10", 9.10, 172, 84, 1009.6, 12.0, 9.0, 6.5, 285,
         12, 3.0, 38, "one", (0.55, 0.66, 0.74, 0.60), 4000, 300, 1, sawtooth=1,
         recorder="logger"),
)  # fmt: skip

BLOCKS = {
    name: tuple(dict.fromkeys(plan.block for plan in PLANS if plan.configuration == name))
    for name in ("trainer", "tourer")
}
TRAINER_ERRORS = draw_errors(SEED, 0, SIGMA, ("trainer",), BLOCKS["trainer"])
TOURER_ERRORS = draw_errors(SEED, 1000, SIGMA, ("tourer",), BLOCKS["tourer"])

DEMO = Demo(
    name="two_aircraft",
    seed=SEED,
    site=SITE,
    aircraft={
        "trainer": Aircraft(
            replace(CONFIGURATIONS["B"], name="trainer"),
            empty_kg=339.0,
            weight_kg=600.0,
            liftoff_kt=48.0,
            climb_kt=62.0,
            usable_fuel_l=80.0,
            airplane="two_seat",
            flaps="10 deg",
            mixture="automatic",
            hours=612.4,
        ),
        "tourer": Aircraft(
            TOURER,
            empty_kg=655.0,
            weight_kg=1050.0,
            liftoff_kt=55.0,
            climb_kt=76.0,
            usable_fuel_l=140.0,
            airplane="four_seat",
            flaps="10 deg",
            mixture="rich for take-off and climb, leaned in cruise",
            hours=3105.2,
            liftoff_add_kt=7.0,
        ),
    },
    pilots=PILOTS,
    plans=PLANS,
    sigma=SIGMA,
    # the field's slope is one and the same
    errors={
        "trainer": TRAINER_ERRORS,
        "tourer": replace(TOURER_ERRORS, slope=TRAINER_ERRORS.slope),
    },
    reference=Reference(
        climb_ft=(1000.0, 4000.0),
        cruise_ft=4000.0,
        powers=(55, 65, 75),
        grid_kt=tuple(float(speed) for speed in range(55, 121, 5)),
        same_airframe=False,
    ),
    says_blocks=True,
)
