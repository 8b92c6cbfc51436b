"""What a person can measure on a lamp: with which meter, how exactly, at what effort, and at what danger.

A measurement is named by what is measured and where: volts and ohms at one place are two measurements, and
only one of them needs the lamp plugged in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import EARTHED, MINUS
from coldiron.parts.roles import Lights, Regulates, Stores
from coldiron.quantities import AMPERE, FARAD, OHM, VOLT, WATT, Unit

Danger = Literal["plug", "live", "unplugged"]
"""At the plug, with the lamp closed; on live parts, with it open; with it unplugged and discharged."""


@dataclass(frozen=True)
class Kind:
    """A kind of measurement.

    Parameters
    ----------
    what : str
        As a file calls it.
    unit : Unit
    danger : str
    effort : float
        In units of reading a meter at the plug.
    tolerance_ratio, tolerance_least : float
        Tolerance of the meter: a share of what it shows, and an amount in the unit.
    least, most : float
        What the meter can show; "short" and "open" stand for the two ends where it is logarithmic.
    logarithmic : bool
        Whether a share of it counts the same at any size.
    """

    what: str
    unit: Unit
    danger: Danger
    effort: float
    tolerance_ratio: float
    tolerance_least: float
    least: float
    most: float
    logarithmic: bool = False

    def scaled(self, value: float) -> float:
        """Value on the scale on which readings are compared: itself, or its decimal logarithm.

        Examples
        --------
        >>> KINDS["resistance"].scaled(1000.0), KINDS["input power"].scaled(45.0)
        (3.0, 45.0)
        """
        if not self.logarithmic:
            return value
        return math.log10(min(max(value, self.least), self.most))

    def plain(self, scaled: float) -> float:
        """Value in the unit, of one on that scale."""
        return math.pow(10.0, scaled) if self.logarithmic else scaled

    def spread(self, scaled: float, tolerance_ratio: float | None = None) -> float:
        """Standard uncertainty of the meter on that scale: its tolerance over the square root of three.

        References
        ----------
        JCGM 100:2008 (GUM), clause 4.3.7: rectangular distribution.
        """
        ratio = self.tolerance_ratio if tolerance_ratio is None else tolerance_ratio
        if self.logarithmic:
            return (ratio + self.tolerance_least / self.plain(scaled)) / math.log(10.0) / math.sqrt(3.0)
        return (ratio * abs(scaled) + self.tolerance_least) / math.sqrt(3.0)

    def text(self, value: float) -> str:
        """Value as a person writes it, the ends of a meter as words."""
        if self.logarithmic and value >= 0.99 * self.most:
            return "open"
        if self.logarithmic and value <= 1.01 * self.least:
            return "short" if self.unit is OHM else "nothing"
        return self.unit.format(float(f"{value:.3g}"))


KINDS: Final = {
    kind.what: kind
    for kind in (
        Kind("input power", WATT, "plug", 1.0, 0.02, 0.3, 0.0, 5000.0),
        Kind("input current", AMPERE, "plug", 1.0, 0.02, 2e-3, 0.0, 100.0),
        Kind("mains voltage", VOLT, "plug", 1.0, 0.005, 0.0, 50.0, 500.0),
        Kind("voltage", VOLT, "live", 4.0, 0.01, 1.0, -1000.0, 1000.0),
        Kind("resistance", OHM, "unplugged", 1.0, 0.02, 0.1, 0.3, 20e6, logarithmic=True),
        Kind("capacitance", FARAD, "unplugged", 2.0, 0.03, 5e-12, 10e-12, 0.01, logarithmic=True),
        Kind("diode test", VOLT, "unplugged", 1.0, 0.01, 0.1, 0.0, 3.0),
        Kind("string test", VOLT, "unplugged", 2.0, 0.01, 1.0, 0.0, 600.0),
    )
}
"""Every kind of measurement by its word. Tolerances are those of a plain hand-held meter; a person's own can
stand beside a reading (common practice, no source). Effort: prototype figures of our own; a string test needs
a tester that drives a milliampere through the LEDs, a capacitance one leg lifted."""

SENSE: Final = "_sense"
"""What ends the name of the sense resistors of a part that regulates."""
STRING_TEST_A: Final = 1e-3
"""Current of a tester for LED strings (common practice, no source)."""


@dataclass(frozen=True)
class Measurable:
    """One measurement: its kind, and the points or the part it is taken at.

    `parts` are the names of the parts that lie there: of a voltage or a resistance those across its
    two points; `number` tells the junctions of one part apart.
    """

    kind: Kind
    where: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    number: int = 0

    @property
    def is_sense(self) -> bool:
        """Whether it is of a sense resistor, of which a lamp has several."""
        return self.kind.what == "resistance" and len(self.where) == 1

    @property
    def effort(self) -> float:
        """In units of reading a meter at the plug; each of several sense resistors has to be looked at."""
        return 1.5 if self.is_sense else self.kind.effort

    @property
    def name(self) -> str:
        """What and where, as people say it: "capacitance of film", "voltage bus to minus"."""
        if not self.where:
            return self.kind.what
        if len(self.where) == 1:
            odd = ", the one that is off" if self.is_sense else ""
            return f"{self.kind.what} of {self.where[0]}{odd}"
        return f"{self.kind.what} {self.where[0]} to {self.where[1]}"


def measurables(lamp: Lamp) -> tuple[Measurable, ...]:
    """Everything that can be measured on a lamp, at the plug first."""
    return tuple(_measurables(lamp))


def _measurables(lamp: Lamp) -> Iterator[Measurable]:
    circuit = lamp.circuit
    for what in ("input power", "input current", "mains voltage"):
        yield Measurable(KINDS[what])
    for point in live_points(lamp):
        yield Measurable(KINDS["voltage"], (point, MINUS), _across(lamp, point, MINUS))
    pairs: dict[frozenset[str], tuple[str, str]] = {}
    for part in circuit:
        if part.shown and len(part.at) == 2 and not set(part.at) & {*EARTHED}:
            pairs.setdefault(frozenset(part.at), (part.at[0], part.at[1]))
    # Each diode of a bridge lies between an input and an output of it.
    for part in circuit:
        if len(part.at) == 4:
            for one in part.at[:2]:
                for other in part.at[2:]:
                    pairs.setdefault(frozenset((one, other)), (one, other))
    pairs.setdefault(frozenset(("bus", MINUS)), ("bus", MINUS))
    pairs.setdefault(frozenset(("line", "neutral")), ("line", "neutral"))
    for one, other in pairs.values():
        yield Measurable(KINDS["resistance"], (one, other), _across(lamp, one, other))
    for part in circuit:
        if isinstance(part, Regulates) and part.odd_sense_ohm is not None:
            yield Measurable(KINDS["resistance"], (f"{part.name} sense",), (f"{part.name}{SENSE}",))
    for part in circuit:
        for number, (anode, cathode, _) in enumerate(part.junction_tests()):
            yield Measurable(KINDS["diode test"], (anode, cathode), (part.name,), number)
    for part in circuit:
        if isinstance(part, Stores) and part.shown and part.works:
            yield Measurable(KINDS["capacitance"], (part.name,), (part.name,))
    for part in circuit:
        if isinstance(part, Lights):
            yield Measurable(KINDS["string test"], (part.name,), (part.name,))


def live_points(lamp: Lamp) -> list[str]:
    """Points whose voltage against minus is worth a live reading: the bus, and where the regulators hang."""
    regulators = [part for part in lamp.circuit if isinstance(part, Regulates)]
    points = ["bus", *(part.at[0] for part in regulators)]
    return list(dict.fromkeys(point for point in points if point != MINUS and point in lamp.circuit.points))


def _across(lamp: Lamp, one: str, other: str) -> tuple[str, ...]:
    return tuple(part.name for part in lamp.circuit.between(one, other) if part.shown)
