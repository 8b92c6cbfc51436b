"""How far good parts are off their value: two lamps of one kind do not read alike.

Every value here is taken as evenly spread within its half-width, whatever is known of the lamp in the file:
the broken lamp on the bench need not be the one that the file was written from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import written_key
from coldiron.parts.part import Part
from coldiron.parts.roles import Lights, Regulates, Resists, Stores
from coldiron.spread.values import parts_of, value_of, with_values

WIDER: Final[Mapping[str, float]] = {"sense_voltage": 0.05, "sense_resistor": 0.02, "slope": 0.20}
"""Half-widths wider than the tolerance that a kind tells of itself: chips of one reel are off together, so
that their mean is no better known than one of them; the slope of an LED stands in few data sheets (common
practice, no source)."""
UNSEEN: Final = ("avalanche_voltage", "drain_capacitor")
"""Values whose spread no meter shows on a lamp at rest or on undisturbed mains."""
SEEN: Final = (Lights, Regulates, Resists, Stores)
"""What moves a reading by its spread; a diode or a clamp moves none by as much as a meter's tolerance."""
MAINS: Final = "mains"
MAINS_HALF_WIDTH: Final = 0.03
"""How far the mains are off their value while nobody has read them (common practice, no source)."""


class Spread(NamedTuple):
    """One value of a lamp that is spread: its dotted key, and the half-width as a share of it.

    `of_leds` tells that it is a value of what makes light.
    """

    key: str
    half_width: float
    of_leds: bool = False


def spreads(lamp: Lamp) -> tuple[Spread, ...]:
    """Every value of a lamp that is spread, and the mains last.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> found = spreads(load_lamp("pantry-bulb"))
    >>> [f"{one.key} {one.half_width:g}" for one in found[:2]], found[-1].key
    (['line_fusing.resistance 0.05', 'film.capacitance 0.1'], 'mains')
    """
    found = [
        Spread(f"{table}.{key}", half_width, isinstance(part, Lights))
        for table, part in parts_of(lamp)
        if isinstance(part, SEEN)
        for key, half_width in _half_widths(part)
    ]
    return (*found, Spread(MAINS, MAINS_HALF_WIDTH))


def _half_widths(part: Part) -> Iterator[tuple[str, float]]:
    ratios = {one.key: one.ratio for one in part.tolerances() if one.key not in UNSEEN}
    for field in type(part.values).model_fields:
        key, value = written_key(field), getattr(part.values, field)
        half_width = max(ratios.get(key, 0.0), WIDER.get(key, 0.0))
        if half_width and isinstance(value, float) and value:
            yield key, half_width


def moved(lamp: Lamp, mains_v: float, shares: Sequence[tuple[Spread, float]]) -> tuple[Lamp, float]:
    """Lamp and mains [V] with some values moved, each by a share of itself."""
    numbers: dict[str, float] = {}
    for spread, share in shares:
        if spread.key == MAINS:
            mains_v *= 1.0 + share
        else:
            value = value_of(lamp, spread.key)
            assert value is not None
            numbers[spread.key] = value.number * (1.0 + share)
    return (with_values(lamp, numbers) if numbers else lamp), mains_v


def drawn(lamp: Lamp, mains_v: float, rng: np.random.Generator, factor: float = 1.0) -> tuple[Lamp, float]:
    """A random lamp of the same kind on random mains, every spread `factor` times as wide as assumed."""
    shares = [(one, factor * one.half_width * rng.uniform(-1.0, 1.0)) for one in spreads(lamp)]
    return moved(lamp, mains_v, shares)
