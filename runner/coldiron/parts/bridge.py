"""Bridge rectifier: four diodes with junction capacitance, charge storage and breakdown.

Each diode is that of `coldiron.parts.diode`. Their series resistances are resistors of the deck: inside the
model they would hide nodes, whose voltage no start from a snapshot could give. They also serve as ammeters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import Bridge as BridgeValues
from coldiron.parts.diode import RATED_PULSE_S, SHORT_PULSE_RATIO, junction, junction_test_v
from coldiron.parts.part import (
    OPEN_OHM,
    SETTLED_BUS,
    SHORT_OHM,
    Array,
    Duty,
    FailureMode,
    PartConditions,
    PartWaveforms,
    Rating,
    between_v,
)
from coldiron.parts.roles import Rectifies
from coldiron.parts.tolerance import PRACTICE, Assumption, Tolerance
from coldiron.quantities import AMPERE
from coldiron.readings import sampling

CAPACITIVE_LOAD_RATIO = 0.8
"""Share of a bridge's average current that is left with a reservoir behind it (catalogue note)."""


DIODES = ("line-plus", "neutral-plus", "line-minus", "neutral-minus")
"""The four diodes, by the points between which they conduct."""


@dataclass(frozen=True, eq=False)
class Bridge(Rectifies):
    """Two inputs, a plus and a minus. `broken_diodes` are ohms in place of a diode, by its word."""

    values: BridgeValues
    broken_diodes: tuple[tuple[str, float], ...] = ()

    kind: ClassVar[str] = "bridge"
    model: ClassVar[type[PartValues]] = BridgeValues
    symbol: ClassVar[str] = "bridge"
    terminals: ClassVar[tuple[str, ...]] = ("line", "neutral", "plus", "minus")
    known_by: ClassVar[str] = "average_current"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of its diodes; `s` ends the names of a second bridge."""
        broken = dict(self.broken_diodes)
        return {"x": junction(self.values), "s": self.suffix, "broken": tuple(map(broken.get, DIODES))}

    def failures(self) -> Iterator[FailureMode]:
        """Each diode short or open; of a whole bridge nothing fails at once."""
        for how, ohm in (("short", SHORT_OHM), ("open", OPEN_OHM)):
            for diode in DIODES:
                yield FailureMode(f"{diode} {how}", replace(self, broken_diodes=((diode, ohm),)))

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """A diode that has failed short."""
        yield from super().resistances()
        for word, ohm in self.broken_diodes:
            if self.works and ohm < OPEN_OHM:
                yield *self._ends(word), ohm

    def junction_tests(self) -> Iterator[tuple[str, str, float]]:
        """Each diode the way it conducts."""
        broken = dict(self.broken_diodes)
        for word in DIODES:
            yield *self._ends(word), junction_test_v(self, self.values, broken.get(word))

    def _ends(self, diode: str) -> tuple[str, str]:
        """Points at anode and cathode of a diode."""
        supply, pole = diode.split("-")
        outer, inner = (self.at[self.terminals.index(name)] for name in (supply, pole))
        return (outer, inner) if pole == "plus" else (inner, outer)

    @property
    def broken_within(self) -> str:
        """Its broken diodes."""
        return ", ".join(f"{d} {'open' if ohm > 1.0 else 'short'}" for d, ohm in self.broken_diodes)

    @property
    def halves_alike(self) -> bool:
        """While all four diodes are whole."""
        return self.works and not self.broken_diodes

    @property
    def suffix(self) -> str:
        """What ends the names of its elements and nodes: nothing for the bridge of a lamp."""
        return "" if self.name == "bridge" else f"_{self.tag}"

    def inner_nodes(self) -> tuple[str, ...]:
        """Before its ammeter, and between each junction and its resistance."""
        return tuple(f"{node}{self.suffix}" for node in ("plus", "plus_l", "plus_n", "minus_l", "minus_n"))

    def kept(self) -> tuple[str, ...]:
        """Its ammeter, and what the currents of its diodes are told from."""
        return (f"i(vbridge{self.suffix.lower()})", *(f"v({node})" for node in self.inner_nodes()))

    def diodes(self, w: PartWaveforms) -> list[tuple[Array, Array]]:
        """Voltage and current of each of the four diodes [V, A], its resistance included."""
        ohm, s = self.values.series_resistance_ohm, self.suffix
        line, neutral, minus = self.n("line"), self.n("neutral"), self.n("minus")
        up = [(line, f"plus_l{s}"), (neutral, f"plus_n{s}")]
        low = [(line, f"minus_l{s}"), (neutral, f"minus_n{s}")]
        rows = [(between_v(w, leg, self.n("plus")), between_v(w, node, f"plus{s}") / ohm) for leg, node in up]
        return rows + [(between_v(w, minus, leg), between_v(w, minus, node) / ohm) for leg, node in low]

    def current_a(self, w: PartWaveforms) -> Array:
        """Current that enters from the line [A]."""
        (_, up), _, (_, low), _ = self.diodes(w)
        return np.asarray(up - low)

    def out_a(self, w: PartWaveforms) -> Array:
        """Current from its plus into the bus [A]."""
        return w.i(f"vbridge{self.suffix.lower()}")

    def watts(self, w: PartWaveforms) -> Array:
        """Power into all four diodes at each moment [W]."""
        return np.asarray(sum(volt * ampere for volt, ampere in self.diodes(w)))

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Mean power into all four diodes [W]."""
        return sum(sampling.mean_of_product(w.time_s, volt, ampere) for volt, ampere in self.diodes(w))

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which a diode breaks down [V]."""
        return self.values.breakdown_v

    @property
    def drop_v(self) -> float:
        """Two junctions [V]."""
        return 1.8

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Upper nodes at the bus."""
        bus_v = points_v.get(self.at[2], 0.0)
        return dict.fromkeys((f"plus{self.suffix}", f"plus_l{self.suffix}", f"plus_n{self.suffix}"), bus_v)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Mean and surge current, I²t, reverse voltage."""
        v = self.values
        if not duty.pulse:
            mean_a, note = v.average_current_a, ""
            if duty.smoothed:
                mean_a = CAPACITIVE_LOAD_RATIO * mean_a
                note = "80 % of the rating, with a reservoir behind it"
            yield Rating("mean current", f"{self.name}_mean_A", mean_a, "average_current", note)
            for bus in SETTLED_BUS:
                yield Rating("reverse voltage", bus, v.reverse_voltage_v, "reverse_voltage")
            return
        ratio = duty.longer_ratio(f"{self.name}_pulse_us", RATED_PULSE_S, SHORT_PULSE_RATIO)
        note = f"given for 8.3 ms; {ratio:.2g} times that for this pulse (common practice, no source)"
        most_a = ratio * v.surge_current_a
        yield Rating("surge current", duty.id(f"{self.name}_peak_A"), most_a, "surge_current", note)
        reading = duty.id(f"{self.name}_i2t_A2s")
        yield Rating("I²t", reading, v.i2t_limit_a2s, "i2t", unset=v.i2t_a2s is None)
        yield Rating("reverse voltage", duty.id("bus_peak_V"), v.reverse_voltage_v, "reverse_voltage")

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.reverse_voltage_v

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its forward voltage."""
        yield Tolerance("forward_voltage", 0.05, f"±5 % ({PRACTICE})")

    def assumptions(self) -> Iterator[Assumption]:
        """What a bench hardly sees of it."""
        rated = self.values.reverse_voltage_v / self.values.breakdown_v
        yield Assumption("breakdown_voltage", rated, max(1.2, 1.5 * rated), "its breakdown at 10 µA")
        yield Assumption("storage_time", 0.2, 5.0, "reverse recovery, by a pulse")
        yield Assumption("stray_capacitance", 0.3, 3.0, "capacitance, with the string off")

    def text(self) -> tuple[str, ...]:
        """Its mean current."""
        return (AMPERE.format(self.values.average_current_a),)
