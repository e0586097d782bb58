"""Every threshold of the search for test points, in one record."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BANDS", "Bands"]

KNOT_MS = 1852 / 3600
FOOT_M = 0.3048


@dataclass(frozen=True)
class Bands:
    """Thresholds of the search for test points, SI.

    All are common practice or engineering judgement, none was fitted to recordings: a data band of
    a hand-flown test is about half of each figure, so that a well-flown point passes with room to
    spare and a poorly flown one is shown with its reason.

    Examples
    --------
    >>> Bands().level_duration_s
    60.0
    >>> Bands(level_duration_s=90.0).level_duration_s
    90.0
    """

    # Time grid of the search. Timing itself is done on the samples as recorded.
    step_s: float = 0.5  # finer than any pilot's action, coarse enough to be quick
    gap_s: float = 12.0  # longer holes stay unknown; 0.2 Hz recordings have steps of 5 s to 10 s

    # Speeds on the ground.
    standing_ms: float = 2.0  # 4 kt: above the noise of a GPS at rest, below any taxi
    standing_s: float = 3.0  # a stop shorter than this is a rolling start (common practice)
    taxi_ms: float = 6.5  # 13 kt: taxi and line-up turns stay below (common practice)
    quick_start_s: float = 8.0  # from standing_ms to taxi_ms: 0.55 m/s2, slower is taxiing
    run_fraction: float = 0.45  # of the lift-off airspeed; allows a headwind of half of it
    run_least_ms: float = 10.0  # 19 kt: faster than a taxi where no lift-off airspeed is known
    run_s: float = 45.0  # from taxi_ms to flying speed; longer is not a take-off run
    engine_high: float = 0.75  # of the flight's highest engine speed: static rpm is 80 to 90 %
    power_high: float = 0.70  # of the flight's highest power, or manifold pressure
    runup_engine: float = 0.6  # of the flight's highest engine speed: run-ups at 63 to 75 %
    runup_s: float = 5.0  # at standstill
    static_airspeed_ms: float = 15.0  # 29 kt: indicated at standstill; more is flight, not ground

    # Airborne.
    gain_m: float = 15.0  # height gained that ends doubt (by GPS; brief of the search)
    gain_static_m: float = 25.0  # by static altitude: the jump under power reaches 14 m
    stay_s: float = 20.0  # stays up and fast: longer than a hop
    gain_within_s: float = 120.0  # from flying speed to that height
    obstacle_m: float = 15.24  # 50 ft, the screen height of take-off distances (definition)
    clear_m: float = 10.0  # up for sure, end of the search for lift-off
    contact_m: float = 4.0  # GPS height over the known ground at a touch-and-go: GPS noise
    contact_s: float = 2.0  # time down there; a low pass cannot be told from a touch

    # Climbs.
    climb_rate_ms: float = 0.75  # 150 ft/min over climb_slope_s
    climb_slope_s: float = 20.0  # longer than a gust or a pull on the stick
    climb_duration_s: float = 60.0  # or
    climb_gain_m: float = 150.0  # whichever comes first (brief of the search)
    climb_settled: float = 0.6  # of its median rate, at either end, over climb_edge_s
    climb_edge_s: float = 6.0  # short, so that the ends are sharp
    climb_least_s: float = 20.0  # never shorter, whatever the height gained
    climb_airspeed_ms: float = 4 * KNOT_MS  # each side of the median (common practice: 2 to 5 kt)
    climb_heading_rad: float = 0.35  # 20 deg each side: wandering, not turning
    climb_power: float = 0.87  # of the highest full-throttle ratio seen in climbs: power is noisy
    climb_manifold: float = 0.93  # the same by manifold pressure, which is not
    climb_engine: float = 0.92  # the same by engine speed, which follows the airspeed
    climb_window_m: float = 150.0  # each side of a reference altitude (about 500 ft)
    climb_window_least_m: float = 90.0  # climbed inside of it
    climb_window_least_s: float = 20.0  # time in it: a slope needs that much

    # Level runs.
    level_rate_ms: float = 0.5  # 100 ft/min, of the whole run (brief of the search)
    level_slope_s: float = 15.0  # within this time,
    level_slope_ms: float = 1.25  # 250 ft/min: faster is a climb or descent, not a wave
    level_wave_s: float = 8.0  # shorter excursions than this are bridged
    level_altitude_m: float = 15.0  # each side: 50 ft, the usual data band
    level_airspeed_ms: float = 1.5 * KNOT_MS  # each side of a slow trend, over smooth_s
    level_trend_ms: float = 1.0 * KNOT_MS  # that trend, over the run
    level_airspeed_rate_ms2: float = 0.04  # 4.7 kt a minute: power error of 40 ft/min at 100 kt
    level_gusty_ms: float = 3.0 * KNOT_MS  # the same in gusty air, where the run is longer:
    level_gusty_s: float = 90.0  # swings of half a minute average out over three of them
    level_power: float = 0.02  # each side, relative, over smooth_s
    level_heading_rad: float = 0.21  # 12 deg each side
    level_duration_s: float = 60.0  # 1 min stable (common practice)
    level_settling_s: float = 10.0  # dropped after a change
    level_noted_s: float = 30.0  # shorter level pieces are not worth a row
    level_speed_ratio: float = 1.2  # of the lift-off airspeed; slower is not cruise
    smooth_s: float = 8.0  # smoothing before bands are applied

    # Airspeed calibration patterns.
    leg_turn_rad_s: float = 0.021  # 1.2 deg/s over leg_turn_s: faster is a turn, not wandering
    leg_turn_s: float = 6.0  # wide enough for track in whole degrees at 1 Hz
    leg_noted_s: float = 8.0  # shorter straight pieces belong to the turn
    leg_duration_s: float = 20.0  # after trimming: gusts average out, the GPS has caught up
    leg_longest_s: float = 240.0  # straight, level and at one speed for longer is cruise, of which
    leg_kept_s: float = 120.0  # what is nearest to a pattern may begin or end it
    leg_settling_s: float = 3.0  # dropped after a turn: lag of GPS and airspeed up to about 1 s
    leg_leaving_s: float = 1.5  # dropped before the next: its turn shows late
    leg_smooth_s: float = 4.0  # smoothing of the direction before bands are applied
    leg_track_rad: float = 0.105  # 6 deg each side
    leg_edge_rad: float = 0.045  # 2.6 deg from the leg's median at either end: still turning
    leg_airspeed_ms: float = 4 * KNOT_MS  # each side, over smooth_s: swings average out
    leg_edge_airspeed_ms: float = 2 * KNOT_MS  # from the leg's median at either end
    leg_rate_ms: float = 0.75  # 150 ft/min over the leg: 20 s are too short for a finer figure
    leg_edge_rate_ms: float = 1.0  # 200 ft/min at either end, over leg_edge_s: still levelling off
    leg_edge_s: float = 8.0  # longer than a gust, shorter than levelling off
    pattern_gap_s: float = 150.0  # from leg to leg: a procedure turn takes two minutes
    pattern_airspeed_ms: float = 2.5 * KNOT_MS  # of a leg from the mean of those before
    pattern_altitude_m: float = 45.0  # the same: 150 ft
    pattern_excursion_m: float = 60.0  # in the turns: 200 ft
    pattern_sag_ms: float = 10 * KNOT_MS  # airspeed in the turns
    pattern_power: float = 0.10  # of the flight's highest: throttle moves to hold a low airspeed
    pattern_attempt_ms: float = 6 * KNOT_MS  # legs further apart than this were no attempt at one
    pattern_attempt_s: float = 150.0  # nor were legs longer than this
    pattern_same_rad: float = 0.35  # 20 deg: legs closer than this are on one direction
    pattern_span_rad: float = 2.4  # 140 deg from the first to the last of three directions
    pattern_apart_rad: float = 1.0  # 60 deg: less is a change of course, no attempt
    circle_turn_rad: float = 4.71  # 270 deg
    circle_arc_rad: float = 0.785  # 45 deg
    circle_airspeed_ms: float = 3 * KNOT_MS  # each side, over smooth_s
    circle_altitude_m: float = 30.0  # each side: 100 ft, a turn is held less closely than a leg
    circle_bank: float = 0.40  # each side, relative: 15 deg of bank held to about 5 deg
    circle_steepest_rad: float = 0.70  # 40 deg of bank: load factor 1.3, another airspeed error
    circle_edge_s: float = 2.0  # dropped at either end: rolling in and out

    # Level accelerations.
    accel_rate_ms2: float = 0.13  # 0.25 kt/s over accel_slope_s: less is too slow to tell
    accel_slope_s: float = 10.0  # longer than a gust, a fifth of a run
    accel_level_ms: float = 2.0  # 400 ft/min over accel_slope_s; height is accounted for
    accel_altitude_m: float = 30.0  # each side: 100 ft (common practice)
    accel_gain_ms: float = 15 * KNOT_MS  # less tells nothing over a range of airspeeds
    accel_noted_ms: float = 30 * KNOT_MS  # lost in a deceleration; less is every approach
    accel_smooth_s: float = 4.0  # smoothing of airspeed before it is cut into windows
    accel_window_ms: float = 5 * KNOT_MS  # airspeed gained in one window, a fifth of a range
    accel_window_s: float = 5.0  # least time of a window: a slope needs that much

    # Words about quality: limits of good and fair.
    scatter_airspeed_ms: tuple[float, float] = (1.0 * KNOT_MS, 2.0 * KNOT_MS)  # calm, bumpy air
    scatter_altitude_m: tuple[float, float] = (15 * FOOT_M, 30 * FOOT_M)  # hand flown
    liftoff_sigma_s: tuple[float, float] = (0.4, 0.8)  # 2 and 4 % of ground roll
    liftoff_worst_s: float = 3.0  # a sixth of a ground roll; less is known than the handbook says


#: The thresholds in force.
BANDS = Bands()
