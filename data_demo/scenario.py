"""The first demo: two propellers on one airplane; its seed, field, pilots and flights."""

from __future__ import annotations

from .air import FT_M
from .airframe import CONFIGURATIONS
from .plan import Aircraft, Demo, Habit, Plan, Reference, Site, draw_errors

#: Written down before the workbook was first run on these recordings, and never changed since.
SEED = 604311

SITE = Site(
    name="dunlinhaven",
    elevation_m=30.0 * FT_M,
    length_m=820.0,
    bearing_deg=82.0,
    slope=0.003,
    runways=("08", "26"),
    zone_h=-1,
    origin_deg=(46.5, -16.0),
)

#: One-sigma errors, the same as declared in the campaign's table of uncertainty.
SIGMA = {
    "outside_air_temperature_bias": 1.0,  # K
    "weight": 4.0,  # kg
    "power": 0.02,
    "power_between_configurations": 0.01,
    "airspeed_between_configurations": 0.7,  # kt
    "runway_slope": 0.001,
    "reported_wind": 3.0,  # kt
    "airspeed_delay": 0.5,  # s
    "pressure_altitude": 20.0,  # ft
    "fuel_flow_scale": 0.02,
}

PILOTS = {
    "first": Habit(47.0, 1.4, 0.9, 0.0, approach_kt=0.0, brake_ms2=1.7),
    "second": Habit(49.5, 1.6, 1.1, 0.8, approach_kt=1.5, brake_ms2=1.5),
    "third": Habit(51.5, 2.0, 1.3, -0.6, approach_kt=2.5, brake_ms2=1.9),
}

PLANS = (
    Plan(1, "A", "A1", "2026-05-04", 8.20, 180, 88, 1021.4, 9.0, 3.0, 6.1, 70, 5, 1.2, 22,
         "first", (0.80, 0.55, 0.70, 0.62, 0.75), 4000, 40, 2,
         patterns=(("box", 57), ("box", 86), ("triangle", 98)), note="smooth, cool"),
    Plan(2, "A", "A1", "2026-05-07", 13.40, 92, 80, 1015.8, 12.0, 7.0, 7.0, 245, 9, 2.4, 40,
         "second", (0.56, 0.66, 0.76, 0.90, 0.70, 0.60), 3500, 150, 1, sawtooth=1,
         climbs_kt=(70, 55, 80), accelerations=2,
         note="some bumps below the cloud base"),
    Plan(3, "A", "A1", "2026-05-12", 9.10, 184, 90, 1012.3, 15.0, 9.0, 6.4, 105, 6, 1.6, 30,
         "first", (0.85, 0.75, 0.65, 0.55, 0.70), 4000, 300, 2, parts=2,
         note="recorder restarted on the way back"),
    Plan(4, "A", "A1", "2026-05-16", 15.20, 104, 84, 1017.9, 14.0, 5.0, 7.4, 275, 11, 3.0, 45,
         "third", (0.60, 0.72, 0.82, 0.66, 0.54), 4500, 90, 1, aborted=True,
         accelerations=2,
         note="first take-off aborted: airspeed slow to come alive"),
    Plan(5, "B", "B1", "2026-05-24", 9.50, 178, 86, 1015.2, 17.0, 11.0, 6.3, 250, 5, 1.5, 28,
         "second", (0.74, 0.55, 0.66, 0.60, 0.70), 4000, 200, 2, long_roll_out=True,
         patterns=(("box", 66), ("box", 98)), accelerations=2),
    Plan(6, "B", "B1", "2026-05-29", 10.30, 94, 82, 1019.4, 20.0, 12.0, 6.8, 75, 8, 2.0, 35,
         "first", (0.52, 0.62, 0.72, 0.77, 0.66, 0.57), 4000, 10, 1, sawtooth=1,
         climbs_kt=(55, 80, 70), recorder="second",
         note="panel out for repair, second recorder used"),
    Plan(7, "B", "B1", "2026-06-02", 14.60, 182, 88, 1010.7, 26.0, 17.0, 8.9, 215, 10, 6.0, 190,
         "third", (0.70, 0.58, 0.76, 0.64, 0.52), 3500, 330, 1, rich=0.17,
         note="hot, very rough; choke found not fully home after landing"),
    Plan(8, "B", "B1", "2026-06-09", 7.80, 184, 90, 1022.1, 18.0, 10.0, 5.7, 95, 3, 0.9, 18,
         "first", (0.78, 0.70, 0.62, 0.54, 0.66, 0.74), 4000, 120, 2,
         patterns=(("box", 57), ("box", 82), ("box", 0)), note="very smooth"),
    Plan(9, "B", "B1", "2026-06-14", 9.00, 90, 78, 1016.6, 22.0, 15.0, 6.9, 262, 7, 2.2, 40,
         "second", (0.58, 0.68, 0.76, 0.63, 0.53), 3500, 240, 1, touch_and_go=True,
         climbs_kt=(80, 55, 70), accelerations=2,
         note="a touch-and-go before the second full stop"),
    Plan(10, "A", "A2", "2026-06-23", 9.40, 178, 86, 1013.7, 19.0, 13.0, 6.5, 240, 6, 1.8, 32,
         "third", (0.78, 0.56, 0.68, 0.62, 0.73), 4000, 60, 2, recorder="second",
         dew_point_noted=False, patterns=(("box", 70), ("circle", 80), ("box", 0))),
    Plan(11, "A", "A2", "2026-07-01", 10.20, 96, 80, 1016.2, 24.0, 14.0, 7.3, 85, 12, 2.9, 45,
         "first", (0.55, 0.65, 0.75, 0.86, 0.70, 0.60), 4000, 180, 1, sawtooth=1,
         climbs_kt=(70, 80, 55), long_roll_out=True),
)  # fmt: skip

ERRORS = draw_errors(SEED, 0, SIGMA, ("A", "B"), ("A1", "B1", "A2"))
SET = {"airplane": "one", "flaps": "10 deg", "mixture": "automatic", "hours": 1240.6}

DEMO = Demo(
    name="propeller_change",
    seed=SEED,
    site=SITE,
    aircraft={
        "A": Aircraft(CONFIGURATIONS["A"], 336.0, 600.0, 48.0, 62.0, 80.0, **SET),
        "B": Aircraft(CONFIGURATIONS["B"], 341.0, 600.0, 48.0, 62.0, 80.0, differs=True, **SET),
    },
    pilots=PILOTS,
    plans=PLANS,
    sigma=SIGMA,
    errors={"A": ERRORS, "B": ERRORS},
    reference=Reference(
        climb_ft=(1000.0, 4000.0),
        cruise_ft=4000.0,
        powers=(55, 65, 75),
        grid_kt=tuple(float(speed) for speed in range(50, 116, 5)),
        same_airframe=True,
    ),
)
