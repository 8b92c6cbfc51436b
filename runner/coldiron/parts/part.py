"""A part of a circuit: what it is, where it sits, what it prints, draws and dissipates.

A kind of part is one module of this package and one Jinja macro of the same name under `netlists/parts/`. The
kind owns everything that is known about such a part; the rest of the program iterates over the parts of a
lamp and asks. Nobody asks a part for its kind: roles (`coldiron.parts.roles`) say what it can do, its points
say where it is.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.varistor import Disc
from coldiron.parts.tolerance import Assumption, Tolerance
from coldiron.preferred import Bought
from coldiron.readings import sampling

if TYPE_CHECKING:
    from coldiron.parts.element import Element

Array = NDArray[np.float64]

MINUS = "minus"
"""Negative end of the rectifier. It is node 0 of every deck; in the real lamp it is at mains potential."""
EARTHED = ("earth", "housing")
NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,15}\Z")

State = Literal["fitted", "removed", "open", "short"]
Seat = Literal["shunt", "series", "leg"]

OPEN_OHM = 10e6
"""Leakage of a part that has broken open (typical)."""
SHORT_OHM = 50e-3
"""What a part that has failed short still resists (typical)."""
REMOVED_OHM = 1e9
"""Air where a part in series was taken out: what is behind it hangs on something."""

KINDS: dict[str, type[Part]] = {}
"""Every kind of part by its word in a lamp file."""


@dataclass(frozen=True)
class PartConditions:
    """What a deck exposes the parts to.

    `temperatures_c` by thermal seat ("die", "string", or the name of a part that has a seat of its own) [°C];
    what is not named is at `ambient_c`. `inductors_a` are the currents that inductors begin with [A], by
    element name. `pulse` marks a run of microseconds to milliseconds, in which no part warms by its
    surroundings; `shut` one in which regulators hold their current off, as when they are too hot. `disc` is
    which good disc a varistor is.
    """

    temperatures_c: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    inductors_a: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    ambient_c: float = 25.0
    pulse: bool = False
    shut: bool = False
    disc: Disc = "nominal"

    def temperature_c(self, seat: str) -> float:
        """Temperature of a thermal seat [°C]."""
        return self.temperatures_c.get(seat, self.ambient_c)

    def inductor_a(self, element: str) -> float:
        """Current an inductor begins with [A]."""
        return self.inductors_a.get(element.lower(), 0.0)


class PartWaveforms(Protocol):
    """What a part may ask of a run: voltages between nodes, currents of ammeters, over time."""

    @property
    def time_s(self) -> Array:
        """Instants [s]."""
        ...

    @property
    def conditions(self) -> PartConditions:
        """What the run exposed the lamp to."""
        ...

    def v(self, plus: str, minus: str = "0") -> Array:
        """Voltage between two nodes [V]."""
        ...

    def i(self, element: str) -> Array:
        """Current through a voltage source or an inductor [A]."""
        ...


class Rating(NamedTuple):
    """A rating of a part and the reading it is held to.

    `most` is in the reading's unit; `key` the written key that gives it, `unset` says that it only follows
    from another by a rule of thumb.
    """

    what: str
    reading: str
    most: float
    key: str
    note: str = ""
    unset: bool = False


@dataclass(frozen=True)
class Duty:
    """What parts are rated for: settled work, or one disturbance.

    Parameters
    ----------
    frequency_hz : float
        Of the mains [Hz].
    smoothed : bool
        Whether a capacitor that stores for milliseconds lies across the bus.
    reservoir_tolerance_ratio : float
        By how much more than its value that capacitor may store.
    pulse : str
        First word of the readings of the disturbance; "" for settled work.
    readings : mapping
        What was read, by id.
    """

    frequency_hz: float
    smoothed: bool = False
    reservoir_tolerance_ratio: float = 0.0
    pulse: str = ""
    readings: Mapping[str, float | str] = field(default_factory=lambda: MappingProxyType({}))

    def id(self, reading: str) -> str:
        """Id of a reading of this duty."""
        return f"{self.pulse}_{reading}" if self.pulse else reading

    def longer_ratio(self, reading: str, rated_s: float, most: float) -> float:
        """By how much a pulse rating grows for the width that was read in microseconds."""
        return short_pulse_ratio(rated_s, 1e-6 * float(self.readings[self.id(reading)]), most)


SETTLED_BUS = ("bus_highest_V", "unplug_bus_V", "off_bus_V")
"""Voltages that the bus may hold for hours: settled, when unplugged, behind an open switch."""


def short_pulse_ratio(rated_s: float, width_s: float, most: float) -> float:
    """By how much a current rating for a pulse of one length grows for a shorter one.

    The heat of a short pulse spreads as the square root of time, so the current that heats a junction alike
    grows with √(rated/width); bond wires and contacts set an end to that, here at `most`. A longer pulse
    gains nothing.

    References
    ----------
    √t rule: common practice, no source. The end at `most`: our choice.

    Examples
    --------
    >>> round(short_pulse_ratio(1e-4, 25e-6, 3.0), 6), short_pulse_ratio(1e-4, 1e-3, 3.0)
    (2.0, 1.0)
    """
    if width_s <= 0.0:
        return most
    return min(most, max(1.0, math.sqrt(rated_s / width_s)))


class FailureMode(NamedTuple):
    """A way a part breaks: its word, what the part becomes, and what that means in a few words."""

    word: str
    becomes: Part
    says: str = ""


@dataclass(frozen=True, eq=False)
class Part:
    """One component between points of a circuit.

    Parameters
    ----------
    name : str
        As the lamp file calls it.
    at : tuple of str
        Points, in the order of `terminals`.
    values : PartValues
        The kind's own table of a lamp file.
    word : str
        What its elements are called in a deck; its name where empty.
    state : str
        "fitted", "removed", or broken "open" or "short".
    seat : str
        How it was placed: across two points, in a rail, or in the leg of another part.
    """

    name: str
    at: tuple[str, ...]
    values: Any
    word: str = ""
    state: State = "fitted"
    seat: Seat = "shunt"

    registry: ClassVar[dict[str, type[Part]]] = KINDS
    kind: ClassVar[str] = ""
    model: ClassVar[type[PartValues]]
    placeable: ClassVar[bool] = True
    """Whether a lamp file may put one anywhere."""
    terminals: ClassVar[tuple[str, ...]] = ("a", "b")
    symbol: ClassVar[str] = "resistor"
    known_by: ClassVar[str] = ""
    """Written key that a person knows such a part by."""
    shares_readings: ClassVar[bool] = False
    """Whether its readings are the worst of all parts alike, so that one of them is rated for all."""
    lossless: ClassVar[bool] = False
    """Whether it takes no watts worth a reading."""
    ends_on: ClassVar[str] = ""
    """Point that its last terminal has to be on, where its macro holds anything to node 0."""
    hidden: ClassVar[bool] = False
    """Whether it is no part to a person (strays)."""
    bought: ClassVar[Mapping[str, Bought]] = MappingProxyType({})
    """Values that a person changes by buying another such part, by written key: which ones there are."""
    guards: ClassVar[str] = ""
    """What it protects while the lamp works without it all the same, in a few words."""
    validity: ClassVar[str] = ""
    """Range in which the model holds, as `check` prints it."""

    def __init_subclass__(cls, **options: Any) -> None:
        """Enter the kind by its word."""
        super().__init_subclass__(**options)
        if "kind" in cls.__dict__ and cls.kind:
            cls.registry[cls.kind] = cls

    # --- what a kind may say for itself --------------------------------------------------------

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values its macro prints, by name."""
        return {}

    @classmethod
    def template(cls) -> str:
        """File of its macros in `netlists/`: the room and the module of its kind."""
        return "{}/{}.cir.j2".format(*cls.__module__.split(".")[-2:])

    @property
    def macro(self) -> str:
        """Which macro of its file prints it."""
        return "part"

    def inner_nodes(self) -> tuple[str, ...]:
        """Nodes of its own, which a start from a snapshot has to give."""
        return ()

    def inductors(self) -> tuple[str, ...]:
        """Inductors of its own, by element name in small letters."""
        return ()

    def kept(self) -> tuple[str, ...]:
        """Vectors that its readings need beyond the voltages of its terminals: its inner nodes."""
        return tuple(f"v({node.lower()})" for node in self.inner_nodes())

    def current_a(self, w: PartWaveforms) -> Array:
        """Current into its first terminal [A]."""
        raise NotImplementedError(f"{self.kind} does not say its current")

    def watts(self, w: PartWaveforms) -> Array:
        """Power that goes into it at each moment [W]: voltage times current of two terminals."""
        return self.across_v(w) * self.current_a(w)

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Mean power it takes over a window [W]; kinds whose watts are a product give it exactly."""
        return sampling.mean_of_product(w.time_s, self.across_v(w), self.current_a(w))

    def energy_j(self, w: PartWaveforms) -> Array:
        """Energy stored in it [J]; nothing where it stores none."""
        return np.zeros_like(w.time_s)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """What it may see in settled work, or in a disturbance."""
        yield from ()

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Readings of a settled cycle that only such a part has, by what follows its name in their ids."""
        return {}

    def pulse_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Readings of a disturbance that only such a part has, by what follows its name in their ids."""
        return {}

    def elements(self) -> Iterator[Element]:
        """Resistive elements of it that heat and open when they take far too many watts."""
        yield from ()

    def failures(self) -> Iterator[FailureMode]:
        """Ways in which it breaks: open and short, unless its kind knows better."""
        if self.shown and self.symbol != "wire":
            yield self.broken("open")
            yield self.broken("short")

    def to_buy(self) -> Mapping[str, Bought]:
        """Values that another such part is bought with; `bought` where a kind says no more."""
        return self.bought

    def tolerances(self) -> Iterator[Tolerance]:
        """How far off its values may be as it is bought."""
        yield from ()

    def assumptions(self) -> Iterator[Assumption]:
        """Between what its values lie where nobody has measured them."""
        yield from ()

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """What an ohmmeter whose test voltage is below any junction finds between its points [Ω]."""
        if self.state == "short":
            yield from ((self.at[0], point, self.broken_ohm) for point in self.at[1:])

    def junction_tests(self) -> Iterator[tuple[str, str, float]]:
        """What the diode test of a meter shows from one of its points to another [V]; inf: open."""
        yield from ()

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Voltages its inner nodes may begin with, from those of its points [V]."""
        return {}

    def text(self) -> tuple[str, ...]:
        """Its value in short lines, as beside a symbol."""
        return ()

    @property
    def thermal_seat(self) -> str:
        """Node of the thermal network that its watts go to."""
        return "board"

    # --- the same for every kind ---------------------------------------------------------------

    @property
    def tag(self) -> str:
        """Word of its elements."""
        return self.word or self.name

    def n(self, terminal: str) -> str:
        """Node of a terminal in a deck."""
        point = self.at[self.terminals.index(terminal)]
        return "0" if point == MINUS else point

    def e(self, letter: str, suffix: str = "") -> str:
        """Name of one of its elements."""
        return f"{letter}{self.tag}{suffix}"

    def inner(self, suffix: str) -> str:
        """Name of one of its inner nodes."""
        return f"{self.tag}_{suffix}"

    def rms(self, w: PartWaveforms, values: Array) -> float:
        """Root of the mean square of something over a window."""
        return sampling.rms(w.time_s, values)

    @property
    def voltage_rating_v(self) -> float | None:
        """Voltage it is rated for [V], of the sine or of the peak; None where it has no such rating."""
        return None

    @property
    def rated_in_rms(self) -> bool:
        """Whether that rating is one of the r.m.s. value of a sine."""
        return False

    @property
    def reaches_the_bus(self) -> bool:
        """Whether it stands between the bus and minus, as a shunt or as the rectifier."""
        return {"bus", MINUS} <= set(self.at)

    @property
    def lies_across_the_bus(self) -> bool:
        """Whether its two ends are the bus and minus."""
        return set(self.at) == {"bus", MINUS}

    def across_v(self, w: PartWaveforms) -> Array:
        """Voltage between its first two terminals [V]."""
        return between_v(w, self.n(self.terminals[0]), self.n(self.terminals[1]))

    @property
    def shown(self) -> bool:
        """Whether drawings have it."""
        return not self.hidden

    @property
    def two_way(self) -> bool:
        """Whether it does the same to a current either way."""
        return True

    @property
    def broken_ohm(self) -> float:
        """What is left of it between its first terminal and each other once it is broken or gone [Ω]."""
        return {"open": OPEN_OHM, "short": SHORT_OHM, "removed": REMOVED_OHM}[self.state]

    def broken_w(self, w: PartWaveforms) -> float:
        """Mean power in what is left of it [W]."""
        first, *others = [self.n(terminal) for terminal in self.terminals]
        volts = [between_v(w, first, other) for other in others]
        return sum(sampling.mean_of_product(w.time_s, v, v) for v in volts) / self.broken_ohm

    @property
    def broken_within(self) -> str:
        """What of it is broken while the rest of it works, in a few words."""
        return ""

    @property
    def works(self) -> bool:
        """Whether it does what its kind does."""
        return self.state == "fitted"

    @property
    def halves_alike(self) -> bool:
        """Whether a rectifier of it does the same to both halves of the mains."""
        return self.works

    def broken(self, how: Literal["open", "short"], word: str = "", says: str = "") -> FailureMode:
        """Failure that leaves nothing of it but a resistance."""
        return FailureMode(word or how, replace(self, state=how), says)

    def drifted(self, word: str, says: str = "", **values: object) -> FailureMode:
        """Failure that leaves it working with other values, by their field names."""
        return FailureMode(word, replace(self, values=self.values.model_copy(update=values)), says)


def between_v(w: PartWaveforms, plus: str, minus: str) -> Array:
    """Voltage between two nodes of which either may be node 0 [V]."""
    if plus == "0":
        return np.zeros_like(w.time_s) if minus == "0" else -w.v(minus)
    return w.v(plus, minus)
