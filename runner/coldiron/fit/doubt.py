"""How far off a value may be that a fit holds: what nobody measured is known within limits only."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from coldiron.fit.free import FreeValue, free_value, with_values
from coldiron.lamp.model import Part, Provenance
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp


class Doubt(NamedTuple):
    """Standard uncertainty of a typical value: a share of it, or an amount in its unit."""

    ratio: float = 0.0
    amount: float = 0.0


DOUBTS: dict[str, Doubt] = {
    "mains.resistance": Doubt(0.5),
    "line_fusing.resistance": Doubt(0.03),
    "neutral_fusing.resistance": Doubt(0.03),
    "bridge.forward_voltage": Doubt(amount=0.06),
    "reservoir.capacitance": Doubt(0.12),
    "reservoir.esr": Doubt(0.5),
    "string.forward_voltage": Doubt(0.03),
    "string.slope": Doubt(0.25),
    "string.emission": Doubt(0.1),
    "string.tempco": Doubt(0.25),
    "string.radiant": Doubt(0.15),
    "sinks.sense_voltage": Doubt(0.03),
    "sinks.sense_resistor": Doubt(0.006),
    "sinks.on_resistance": Doubt(0.3),
    "sinks.foldback_knee": Doubt(amount=20.0),
    "sinks.foldback_slope": Doubt(0.4),
    "sinks.foldback_floor": Doubt(0.4),
    "heat.die_to_board": Doubt(0.3),
    "heat.string_to_board": Doubt(0.3),
    "heat.board_to_housing": Doubt(0.3),
    "heat.housing_to_ambient": Doubt(0.3),
    "heat.housing_area": Doubt(0.2),
    "heat.housing_height": Doubt(0.3),
    "heat.housing_emissivity": Doubt(0.1),
}
"""Values that can move a bench reading, and the standard uncertainty of a typical one (common practice, no
source): for passive parts the tolerance of the common series over √3 (5 % resistors, 1 % sense resistors,
20 % electrolytics); a forward voltage lies within its bin, a foldback knee within some 35 K of the
usual one; heat paths are guesses. What is not named here moves no bench reading, or only with its part."""

_SHARES: dict[Provenance, float] = {
    "typical": 1.0, "given": 1.0, "study": 1.0, "data sheet": 0.5, "fitted": 0.5, "measured": 0.0,
}  # fmt: skip
"""Part of the doubt that is left when a value is known better than typically; a measured one is certain."""
_SHAPE_KEYS = ("heat.housing_height", "heat.housing_emissivity")
"""What only a housing whose loss is computed from its area depends on."""
_HOT_KEYS = ("heat.", "sinks.foldback", "string.radiant")
"""What no cold reading depends on."""
FURTHEST = 3.0
"""A held value is looked for within so many of its standard uncertainties."""
LIKELY_NEED = 2.5
"""A held value that is off by fewer of its standard uncertainties is suspected before any reading."""


class HeldValue(NamedTuple):
    """A value that a fit holds, with the standard uncertainty of its logarithm; `least`, `most` bound it."""

    value: FreeValue
    uncertainty: float
    least: float
    most: float


def log_uncertainty(value: FreeValue) -> float:
    """Standard uncertainty of the logarithm of a value that nobody fits; 0 for one that is certain.

    >>> from coldiron.fit.free import free_values
    >>> from coldiron.lamp.load import load_lamp
    >>> lamp = load_lamp("kerbside-flood")
    >>> [log_uncertainty(free) for free in free_values(lamp, ["string.forward_voltage", "film.capacitance"])]
    [0.015, 0.0]
    """
    doubt = DOUBTS.get(value.key, Doubt())
    return _SHARES[value.provenance] * (doubt.ratio + doubt.amount / abs(value.start))


def held_values(lamp: LinearSinksLamp, free: Sequence[FreeValue]) -> list[HeldValue]:
    """Values of a lamp that a fit of the free ones holds although they are not certain."""
    fitted = {value.key for value in free}
    return [held(lamp, value) for value in _doubted(lamp) if value.key not in fitted]


def held(lamp: LinearSinksLamp, value: FreeValue) -> HeldValue:
    """A value as a held one, within what makes a lamp."""
    uncertainty = log_uncertainty(value)
    ends = [_possible(lamp, value, sign * FURTHEST * uncertainty) for sign in (-1.0, 1.0)]
    return HeldValue(value, uncertainty, ends[0], ends[1])


def _doubted(lamp: LinearSinksLamp) -> Iterator[FreeValue]:
    cold = all(reading.state == "cold" for reading in lamp.reading)
    for key in DOUBTS:
        part_key, _, name = key.partition(".")
        part: Part | None = getattr(lamp, part_key)
        value = None if part is None else free_value(part_key, part, name)
        shaped = key in _SHAPE_KEYS and lamp.heat.housing_area_m2 is None
        idle = shaped or (cold and key.startswith(_HOT_KEYS))
        if value is not None and not idle and log_uncertainty(value) > 0.0:
            yield value


def _possible(lamp: LinearSinksLamp, value: FreeValue, end: float) -> float:
    """The end of a search, drawn in until its value makes a lamp."""
    for _ in range(8):
        at = value.start * math.exp(end)
        moved = with_values(lamp, [(value, at)])
        if value.least <= at <= value.most and not [
            *getattr(moved, value.part).inconsistencies(),
            *moved.inconsistencies(),
        ]:
            return end
        end *= 0.6
    return math.copysign(1e-9, end)
