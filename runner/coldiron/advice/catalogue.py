"""The catalogue of generic parts that can be bought: data of our own, and preferred numbers."""

from __future__ import annotations

import math
from functools import cache
from typing import Annotated, Final

from pydantic import Field

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.model import Closed
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import M, understand
from coldiron.preferred import E6, E12, E24
from coldiron.quantities import (
    Ampere,
    Farad,
    Hour,
    Joule,
    JoulePerKelvin,
    Metre,
    Ohm,
    Volt,
    Watt,
    WattPerKelvin,
)
from coldiron.resources import resource_dir

SERIES: Final = {"E6": E6, "E12": E12, "E24": E24}
"""Preferred numbers, one decade each."""

Price = Annotated[float, Field(gt=0, le=1000)]


class LifeRow(Closed):
    """A class of life, and what it costs more."""

    hours_h: Annotated[Hour, Field(ge=100, le=1e6)]
    price_factor: Annotated[float, Field(ge=1, le=100)]


class ElectrolyticRow(Closed):
    """An electrolytic of the 400 V class."""

    capacitance_f: Annotated[Farad, Field(ge=1e-7, le=1e-2)]
    ripple_a: Annotated[Ampere, Field(ge=1e-3, le=100)]
    esr_ohm: Annotated[Ohm, Field(ge=1e-3, le=1e4)]
    diameter_m: Annotated[Metre, Field(ge=2e-3, le=0.2)]
    height_m: Annotated[Metre, Field(ge=2e-3, le=0.2)]
    price: Price


class Electrolytics(Closed):
    """Electrolytics by capacitance, classes of voltage and of life."""

    voltages_v: tuple[Annotated[Volt, Field(ge=50, le=1000)], ...]
    life: tuple[LifeRow, ...]
    row: tuple[ElectrolyticRow, ...]

    def case_of(self, number: int, voltage_v: float) -> ElectrolyticRow:
        """Row whose case a capacitor of another voltage class has: the next above 400 V, two before below."""
        shift = 0 if voltage_v == _CASES_V else 1 if voltage_v > _CASES_V else -2
        return self.row[min(max(number + shift, 0), len(self.row) - 1)]


class ResistorRow(Closed):
    """A rating of a resistor."""

    power_w: Annotated[Watt, Field(ge=0.05, le=50)]
    pulse_energy_j: Annotated[Joule, Field(ge=1e-3, le=1e3)] | None = None
    diameter_m: Annotated[Metre, Field(ge=1e-3, le=0.1)]
    price: Price


class Resistors(Closed):
    """Resistors of one use: the series, where it begins and ends, and the ratings."""

    series: str
    least_ohm: Annotated[Ohm, Field(ge=0.01, le=1e9)]
    most_ohm: Annotated[Ohm, Field(ge=0.01, le=1e9)]
    row: tuple[ResistorRow, ...]


class ResistorFile(Closed):
    """Resistors by their use."""

    fusing: Resistors
    sense: Resistors
    bleed: Resistors


class DiscRow(Closed):
    """A diameter of varistor."""

    diameter_m: Annotated[Metre, Field(ge=2e-3, le=0.1)]
    peak_current_a: Annotated[Ampere, Field(ge=10, le=1e5)]
    energy_j: Annotated[Joule, Field(ge=0.1, le=1e4)]
    height_m: Annotated[Metre, Field(ge=2e-3, le=0.2)]
    price: Price


class Discs(Closed):
    """Diameters of varistors."""

    disc: tuple[DiscRow, ...]


class ThermistorRow(Closed):
    """A diameter of thermistor, with its values and the most current of each."""

    diameter_m: Annotated[Metre, Field(ge=2e-3, le=0.1)]
    loss_w_per_k: Annotated[WattPerKelvin, Field(ge=1e-4, le=1)]
    heat_j_per_k: Annotated[JoulePerKelvin, Field(ge=1e-3, le=100)]
    height_m: Annotated[Metre, Field(ge=2e-3, le=0.2)]
    price: Price
    r25_ohm: tuple[Annotated[Ohm, Field(ge=0.2, le=1e4)], ...]
    largest_current_a: tuple[Annotated[Ampere, Field(ge=0.01, le=100)], ...]


class Thermistors(Closed):
    """Diameters of thermistors."""

    disc: tuple[ThermistorRow, ...]


_CASES_V: Final = 400.0
"""Voltage class that the cases are told for."""


@cache
def electrolytics() -> Electrolytics:
    """Electrolytics that can be bought."""
    return _file(Electrolytics, "electrolytics")


@cache
def resistors() -> ResistorFile:
    """Resistors that can be bought."""
    return _file(ResistorFile, "resistors")


@cache
def varistor_discs() -> tuple[DiscRow, ...]:
    """Diameters of varistors that can be bought."""
    return _file(Discs, "varistors").disc


@cache
def thermistor_discs() -> tuple[ThermistorRow, ...]:
    """Diameters of thermistors that can be bought."""
    return _file(Thermistors, "thermistors").disc


def _file(model: type[M], stem: str) -> M:
    path = resource_dir("variants") / "catalogue" / "purchasable" / f"{stem}.toml"
    problems: list[Problem] = []
    understood = understand(model, read_toml(path), str(path), problems)
    if understood is None:
        raise FileProblems(problems)
    return understood


def preferred(series: str, least: float, most: float) -> list[float]:
    """Numbers of a series between two ends, both included.

    Parameters
    ----------
    series : str
        "E6", "E12" or "E24".
    least, most : float
        Above zero.

    Examples
    --------
    >>> preferred("E6", 4.0, 33.0)
    [4.7, 6.8, 10.0, 15.0, 22.0, 33.0]
    """
    first, last = math.floor(math.log10(least)), math.ceil(math.log10(most))
    numbers = (
        float(f"{step * 10.0**decade:.3g}") for decade in range(first, last + 1) for step in SERIES[series]
    )
    slack = 1e-9
    return [number for number in numbers if least * (1 - slack) <= number <= most * (1 + slack)]
