"""Standard Day: a flight-test workbook for light propeller airplanes."""

__version__ = "0.1.0"
