"""What the notebooks of climb, level flight and the airplane model say in words."""

from __future__ import annotations

from pathlib import Path

from stdday import extract, tables_airplane, units
from stdday.airplane_tables import performance_table
from stdday.campaign import load_campaign
from stdday.display import with_label
from stdday.errors import InputError
from stdday.layout import Table, records
from stdday.notebook import Passage, campaign_folder
from stdday.results import Results
from stdday.results_airplane import level_fits
from stdday.words import capital

__all__ = ["agreement", "booked", "first_configuration", "level_flight", "model_choice", "polar"]

#: What is booked to a propeller, in the order in which it should be ruled out.
_BOOKED = (
    ("Cooling", "Cooling drag that changed with the propeller, by another cowl, inlet or spinner, "
     "reads as efficiency."),
    ("Mass", "A mass that was not declared reads as efficiency too, most of all at low airspeed."),
    ("Blades", "Where an engine speed is governed, the drag of the blades on turning is kept apart "
     "when runs are carried to another day: thinner air does not make it smaller in proportion."),
)  # fmt: skip


def first_configuration(results: Results) -> str:
    """Configuration to begin with: the reference configuration, where there are several.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> first_configuration(made())
    'A'
    """
    return extract.configurations(results)[0]


def model_choice(results: Results) -> Passage:
    """Say which model each configuration has, and by what evidence it was chosen.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Passage

    Examples
    --------
    >>> from tests.made_results import made
    >>> model_choice(made())
    No level run, so no model of the airplane.
    """
    parts = []
    for name, one in results.meta.get("airplane_model", {}).items():
        text = f"no curve: {one['reason']}" if one["reason"] else one["choice"]
        parts.append((with_label(results.meta, name), f"{capital(str(text))}."))
    return Passage(parts or [("", "No level run, so no model of the airplane.")])


def booked(results: Results) -> Passage:
    """Say what else a ratio of installed efficiencies may hold.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Passage

    Examples
    --------
    >>> from tests.made_results import made
    >>> booked(made())
    No ratio is stated, so nothing is booked to a propeller.
    """
    if not len(results.table("efficiency_ratio")):
        return Passage([("", "No ratio is stated, so nothing is booked to a propeller.")])
    return Passage(_BOOKED)


def polar(results: Results) -> Passage:
    """Say what level flight tells of the polar, configuration by configuration.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Passage
        A polar that is common to several is said once.

    Examples
    --------
    >>> from tests.made_results import made
    >>> polar(made())
    No fitted curve, so no polar.
    """
    models = results.meta.get("airplane_model", {})
    own = {name: one for name, one in models.items()
           if one["polar"] and one["kind"] in ("reference", "own")}  # fmt: skip
    parts = [(with_label(results.meta, name), f"{one['polar']}.") for name, one in own.items()]
    return Passage(parts or [("", "No fitted curve, so no polar.")])


def agreement(results: Results, *tests: str) -> Passage:
    """Say which tests agree, and name every one that contradicts the others with likely reasons.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    *tests : str
        Kinds of test, such as ``climbs``; all of them, unless given.

    Returns
    -------
    Passage

    Examples
    --------
    >>> from tests.made_results import made
    >>> agreement(made())
    No two kinds of test to hold against each other.
    """
    parts = tables_airplane.agreement_words(results, *tests)
    return Passage(parts or [("", "No two kinds of test to hold against each other.")])


def level_flight(
    results: Results,
    configuration: str,
    *powers: str,
    weight: str = "",
    altitude: str = "",
    warmer: str = "0 K",
    folder: Path | str | None = None,
) -> Table:
    """Level flight of a configuration at any power, weight, altitude and temperature.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    configuration : str
        Configuration.
    *powers : str
        Shares of rated power, such as ``"65 %"``.
    weight, altitude : str, optional
        Weight and pressure altitude with their units; those of the reference unless given.
    warmer : str, optional
        How much warmer than the reference day, such as ``"10 K"``.
    folder : Path or str, optional
        Campaign folder; the one the notebook stands in where not given.

    Returns
    -------
    Table
        Nominal values; without rows where the configuration has no fitted curve.

    Raises
    ------
    InputError
        A quantity that cannot be read.

    Examples
    --------
    >>> from tests.made_results import made
    >>> level_flight(made(), "A", "65 %")
    Configuration  Power [% of rated]
    (none)
    """
    fits = level_fits(results.table("level_model"), results.curve_points)
    if configuration not in fits:
        return tables_airplane.performance_rows(results, [])
    campaign = load_campaign(Path(folder) if folder is not None else campaign_folder())
    reference = campaign.reference_for(campaign.configurations[configuration].airplane)
    weight_kg = units.parse_quantity(weight, "mass") if weight else reference.weight_kg
    altitude_m = (
        units.parse_quantity(altitude, "length") if altitude
        else reference.cruise_pressure_altitude_m
    )  # fmt: skip
    shares = [units.parse_quantity(power, "fraction") for power in powers]
    table = performance_table(
        campaign, fits[configuration], shares, weight_kg, altitude_m, _kelvin(warmer)
    )
    return tables_airplane.performance_rows(results, records(table))


def _kelvin(warmer: str) -> float:
    """Difference of temperature [K]; a kelvin is as large as a degree Celsius."""
    size, _, unit = warmer.strip().partition(" ")
    if unit not in ("K", "°C", "degC"):
        raise InputError(f'warmer must be a difference such as "10 K"; got {warmer!r}')
    return units.parse_number(size)
