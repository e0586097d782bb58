"""A campaign in memory: frozen records in SI, safe to hand to other processes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from stdday.errors import InputError, Problem
from stdday.flight_rows import Flight
from stdday.money import Money

if TYPE_CHECKING:
    from stdday.calibrate import Calibration

__all__ = [
    "Airfield",
    "Airplane",
    "Between",
    "Campaign",
    "Configuration",
    "Propeller",
    "Reference",
    "Runway",
]

#: A change between blocks or flights: a share of the value, or an amount in SI.
Between = tuple[Literal["relative", "absolute"], float]


@dataclass(frozen=True)
class Reference:
    """What results are corrected to.

    Parameters
    ----------
    weight_kg : float
        Weight [kg].
    temperature_offset_k : float
        Temperature minus the standard one [K].
    takeoff_pressure_altitude_m, cruise_pressure_altitude_m : float
        Pressure altitudes [m].
    climb_pressure_altitudes_m : tuple of float
        Pressure altitudes of climbs [m].
    cruise_power_fraction : tuple of float
        Cruise powers as shares of rated power [-].
    liftoff_airspeed_ms, climb_airspeed_ms : float
        Common calibrated airspeeds [m/s].
    runway_slope : float
        Slope, positive uphill [-].
    runway_surface : str
        Surface.
    """

    weight_kg: float
    temperature_offset_k: float
    takeoff_pressure_altitude_m: float
    climb_pressure_altitudes_m: tuple[float, ...]
    cruise_pressure_altitude_m: float
    cruise_power_fraction: tuple[float, ...]
    liftoff_airspeed_ms: float
    climb_airspeed_ms: float
    runway_slope: float
    runway_surface: str


@dataclass(frozen=True)
class Airplane:
    """One airplane; None where the campaign does not say.

    Parameters
    ----------
    id, name : str
        Key in the file, and name.
    maximum_weight_kg, empty_weight_kg : float
        Weights [kg]; the empty one may be None.
    wing_area_m2, wing_span_m : float
        Wing area [m^2] and span [m].
    induction : str
        ``naturally aspirated`` or ``turbocharged``.
    critical_altitude_m : float or None
        Critical altitude of a turbocharged engine [m].
    rated_power_w : float
        Rated power [W].
    rated_engine_speed_rps, continuous_engine_speed_rps : float
        Engine speeds [rev/s]; the continuous one may be None.
    gear_ratio : float
        Engine speed over propeller speed [-].
    fuel_density_kg_m3 : float
        Density of the fuel [kg/m^3].
    power_from : str
        ``logged power``, ``fuel flow`` or ``power chart``.
    power_chart : tuple of (float, float, float) or None
        Engine speed [rev/s], manifold pressure [Pa] and power at standard temperature [W].
    specific_consumption_kg_j : float or None
        Specific fuel consumption [kg/J].
    airspeed_calibration : str or tuple of (float, float)
        ``none``, ``from flights``, or pairs of indicated and calibrated airspeed [m/s].
    assumed_efficiency : tuple of float
        Propulsive efficiency in climb and in cruise [-].
    takeoff_exponents : dict or None
        The owner's exponents of the ground roll, with their source as ``standing``.
    limits : dict of str to float
        Operating limits in SI.
    reference_overrides : dict
        Fields of `Reference` that differ for this airplane.
    static_share_of_airspeed_error : float or None
        Share of the airspeed error that comes from static pressure and falsifies the altimeter as
        well [-]; drawn from 0 to 1 where not given.
    temperature_recovery_factor : float or None
        Share of the temperature rise of the air it meets that the probe takes up [-]; drawn from 0
        to 1 where not given.
    """

    id: str
    name: str
    maximum_weight_kg: float
    empty_weight_kg: float | None
    wing_area_m2: float
    wing_span_m: float
    induction: str
    critical_altitude_m: float | None
    rated_power_w: float
    rated_engine_speed_rps: float
    continuous_engine_speed_rps: float | None
    gear_ratio: float
    fuel_density_kg_m3: float
    power_from: str
    specific_consumption_kg_j: float | None
    airspeed_calibration: str | tuple[tuple[float, float], ...]
    assumed_efficiency: tuple[float, float]
    takeoff_exponents: dict[str, float | str] | None = None
    limits: dict[str, float] = field(default_factory=dict)
    reference_overrides: dict[str, Any] = field(default_factory=dict)
    static_share_of_airspeed_error: float | None = None
    temperature_recovery_factor: float | None = None
    power_chart: tuple[tuple[float, float, float], ...] | None = None


@dataclass(frozen=True)
class Propeller:
    """A propeller.

    Parameters
    ----------
    blades : int
        Number of blades.
    diameter_m : float
        Diameter [m].
    control : str
        ``fixed pitch`` or ``constant speed``.
    mass_kg : float or None
        Mass [kg].
    price : str or None
        Price, in words.
    """

    blades: int
    diameter_m: float
    control: str
    mass_kg: float | None = None
    price: str | None = None


@dataclass(frozen=True)
class Configuration:
    """An airplane with what is fitted to it.

    Parameters
    ----------
    id, airplane, label : str
        Key in the file, airplane it is of, and what it is called.
    changed : tuple of str
        What may differ from the reference configuration; empty where the campaign does not say.
    propeller : Propeller
        Propeller.
    rpm_schedule : tuple of (float, float) or None
        Calibrated airspeed [m/s] and engine speed [rev/s] that the governor holds.
    """

    id: str
    airplane: str
    label: str
    changed: tuple[str, ...]
    propeller: Propeller
    rpm_schedule: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True)
class Runway:
    """One direction of a runway.

    Parameters
    ----------
    name : str
        Name.
    true_bearing_rad : float
        True bearing of take-off [rad].
    slope : float
        Slope, positive uphill [-].
    surface : str
        Surface.
    length_m : float or None
        Length [m].
    """

    name: str
    true_bearing_rad: float
    slope: float
    surface: str
    length_m: float | None = None


@dataclass(frozen=True)
class Airfield:
    """One airfield.

    Parameters
    ----------
    id : str
        Key in the file.
    elevation_m : float
        Elevation [m].
    time_zone_offset_s : float
        Local time minus UTC [s].
    runways : tuple of Runway
        Runways, each direction its own.
    """

    id: str
    elevation_m: float
    time_zone_offset_s: float
    runways: tuple[Runway, ...] = ()


@dataclass(frozen=True)
class Decide:
    """What a decision about the change weighs besides performance; None where not given.

    Parameters
    ----------
    fuel_price : Money or None
        Price of one cubic metre of fuel.
    hours_a_year : float or None
        Hours flown in a year [h].
    resale : Money or None
        What the present part would sell for.
    runway_m : float or None
        Runway that must do [m].
    """

    fuel_price: Money | None = None
    hours_a_year: float | None = None
    resale: Money | None = None
    runway_m: float | None = None


@dataclass(frozen=True)
class Campaign:
    """A campaign without errors.

    Parameters
    ----------
    folder : Path
        Its folder, absolute.
    title, question : str
        As written.
    display : dict of str to str
        Unit of each kind of quantity in tables and figures.
    compare_reference : str
        Configuration that the others are compared with; of one configuration, itself.
    primary : tuple of str
        Metrics that answer the question.
    reference : Reference
        Reference conditions; `reference_for` gives those of one airplane.
    matters : dict of str to float
        Difference that would matter, by metric, in SI.
    airplanes, configurations, airfields : dict
        By id, in the order of the file.
    uncertainty : dict
        One sigma in SI by key; ``between_blocks`` and ``between_flights`` hold `Between` by metric.
    defaults_used : tuple of str
        Keys of `UNCERTAINTY_DEFAULTS` that the campaign does not give.
    flights : tuple of Flight
        In the order of their dates.
    costs : tuple of Problem
        What absent entries cost.
    decide : Decide
        What a decision weighs besides performance.
    calibrations : dict of (installation, flaps) to Calibration
        Airspeed calibrations from flights; filled by `stdday.outcome.analyse`.
    at_equal_load : bool
        Whether `reference_of` adds what a configuration weighs more than the reference one.
    """

    folder: Path
    title: str
    question: str
    display: dict[str, str]
    compare_reference: str
    primary: tuple[str, ...]
    reference: Reference
    matters: dict[str, float]
    airplanes: dict[str, Airplane]
    configurations: dict[str, Configuration]
    airfields: dict[str, Airfield]
    uncertainty: dict[str, Any]
    defaults_used: tuple[str, ...]
    flights: tuple[Flight, ...]
    costs: tuple[Problem, ...] = ()
    decide: Decide = Decide()
    calibrations: dict[tuple[str, str], Calibration] = field(default_factory=dict, repr=False)
    at_equal_load: bool = False

    def reference_for(self, airplane: str) -> Reference:
        """Give the reference conditions of one airplane.

        Parameters
        ----------
        airplane : str
            Id of the airplane.

        Returns
        -------
        Reference
            The campaign's, with what the airplane overrides.

        Raises
        ------
        InputError
            If there is no such airplane.
        """
        if airplane not in self.airplanes:
            raise InputError(f"airplane must be one of {', '.join(self.airplanes)}; "
                             f"got {airplane!r}")
        return replace(self.reference, **self.airplanes[airplane].reference_overrides)

    def reference_of(self, configuration: str) -> Reference:
        """Give the reference conditions of one configuration.

        Parameters
        ----------
        configuration : str
            Id of the configuration.

        Returns
        -------
        Reference
            Those of its airplane; at equal load with its own extra mass on top of the weight.

        Raises
        ------
        InputError
            If there is no such configuration.
        """
        reference = self.reference_for(self.airplane_of(configuration).id)
        if not self.at_equal_load:
            return reference
        extra = self.extra_mass_kg(configuration) or 0.0
        return replace(reference, weight_kg=reference.weight_kg + extra)

    def extra_mass_kg(self, configuration: str) -> float | None:
        """Give what a configuration weighs more than the reference configuration.

        Parameters
        ----------
        configuration : str
            Id of the configuration.

        Returns
        -------
        float or None
            Propeller mass over that of the reference configuration [kg]; 0 on another airplane,
            which has a reference weight of its own; None where a mass is not given.

        Raises
        ------
        InputError
            If there is no such configuration.
        """
        airplane, base = self.airplane_of(configuration).id, self.compare_reference
        if base not in self.configurations or configuration == base:
            return 0.0
        if self.configurations[base].airplane != airplane:
            return 0.0
        own, other = (self.configurations[one].propeller.mass_kg for one in (configuration, base))
        return None if own is None or other is None else own - other

    def airplane_of(self, configuration: str) -> Airplane:
        """Give the airplane of a configuration.

        Parameters
        ----------
        configuration : str
            Id of the configuration.

        Returns
        -------
        Airplane
            Its airplane.

        Raises
        ------
        InputError
            If there is no such configuration.
        """
        if configuration not in self.configurations:
            raise InputError(f"configuration must be one of {', '.join(self.configurations)}; "
                             f"got {configuration!r}")
        return self.airplanes[self.configurations[configuration].airplane]

    def sigma(self, key: str) -> float:
        """Give one uncertainty, as given or by default.

        Parameters
        ----------
        key : str
            Key of `UNCERTAINTY_DEFAULTS`. For the tables of changes use `between`.

        Returns
        -------
        float
            One sigma in SI; a share [-] where the default is in per cent.

        Raises
        ------
        InputError
            If the key is none that holds a single value.
        """
        value = self.uncertainty.get(key)
        if not isinstance(value, float):
            known = [name for name, one in self.uncertainty.items() if isinstance(one, float)]
            raise InputError(f"key must be one of {', '.join(known)}; got {key!r}")
        return value

    def between(self, table: Literal["between_blocks", "between_flights"], metric: str) -> Between:
        """Give the change of a metric between blocks or flights, as given or by default.

        Parameters
        ----------
        table : {"between_blocks", "between_flights"}
            Which change.
        metric : str
            Name of the metric.

        Returns
        -------
        Between
            ``relative`` and a share [-], or ``absolute`` and one sigma in SI.

        Raises
        ------
        InputError
            If the campaign and the defaults have none for that metric.
        """
        found: dict[str, Between] = self.uncertainty[table]
        if metric not in found:
            raise InputError(f"metric must be one of {', '.join(found)} in {table}; got {metric!r}")
        return found[metric]
