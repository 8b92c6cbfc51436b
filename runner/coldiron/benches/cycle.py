"""A stretch of a run of a lamp, cut out once: what every part may be asked of it."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from coldiron.engine.waves import Array, Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import Part, PartConditions
from coldiron.parts.roles import Lights, Regulates
from coldiron.readings import sampling


class Window:
    """Vectors of a run between two moments, as parts ask for them.

    Parameters
    ----------
    lamp : Lamp
        Tells which parts there are.
    waves : Waveforms
    start_s, stop_s : float
        The window [s]; its ends are interpolated.
    conditions : PartConditions, optional
        What the run exposed the parts to; cold when absent.
    """

    def __init__(
        self,
        lamp: Lamp,
        waves: Waveforms,
        start_s: float,
        stop_s: float,
        conditions: PartConditions | None = None,
    ) -> None:
        self.lamp = lamp
        self.conditions = conditions or PartConditions()
        self.waves, self._cut = waves, sampling.Cut(waves.time_s, start_s, stop_s)
        self.time_s = self._cut.time_s
        self._rows: dict[str, Array] = {}

    def _row(self, name: str) -> Array:
        if name not in self._rows:
            self._rows[name] = self._cut.of(self.waves[name])
        return self._rows[name]

    def v(self, plus: str, minus: str = "0") -> Array:
        """Voltage between two nodes [V]."""
        high = self._row(f"v({plus.lower()})")
        return high - self._row(f"v({minus.lower()})") if minus != "0" else high

    def i(self, element: str) -> Array:
        """Current through a voltage source or an inductor [A]."""
        return self._row(f"i({element.lower()})")

    def mean(self, values: Array) -> float:
        """Time mean over the window."""
        return sampling.mean(self.time_s, values)

    def rms(self, values: Array) -> float:
        """Root of the mean square over the window."""
        return sampling.rms(self.time_s, values)

    def watts(self, voltage_v: Array, current_a: Array) -> float:
        """Mean power into a part [W]."""
        return sampling.mean_of_product(self.time_s, voltage_v, current_a)

    @property
    def nothing(self) -> Array:
        """Zero at every moment."""
        return np.zeros_like(self.time_s)

    @property
    def mains_v(self) -> Array:
        """Voltage at the lamp's terminals [V]."""
        return self.v("line", "neutral")

    @property
    def input_a(self) -> Array:
        """Current into the lamp [A]."""
        return self.i("vinput")

    def part(self, name: str) -> Part | None:
        """Part of a name that works; None where the lamp has none."""
        circuit = self.lamp.circuit
        return circuit[name] if name in circuit and circuit[name].works else None

    def current_a(self, name: str) -> Array:
        """Current into a part of a name [A], 0 where the lamp has none."""
        part = self.part(name)
        return self.nothing if part is None else part.current_a(self)

    @property
    def strings(self) -> list[Lights]:
        """Parts that make light."""
        return self.lamp.circuit.lights

    @cached_property
    def strings_a(self) -> Array:
        """Currents of the parts that make light [A], one row a part; nothing where none makes any."""
        if not self.strings:
            return self.nothing[np.newaxis]
        return np.stack([string.current_a(self) for string in self.strings])

    @cached_property
    def string_a(self) -> Array:
        """Current of the LEDs, the mean over all that stand in series [A]."""
        weights = np.array([string.leds for string in self.strings] or [1], dtype=float)
        return np.asarray(weights @ self.strings_a / weights.sum())

    @property
    def regulators(self) -> list[Regulates]:
        """Parts that hold a current."""
        return self.lamp.circuit.regulators

    @cached_property
    def sinks_a(self) -> Array:
        """Currents of all separate regulators [A], one row each; no row where there is none."""
        rows = [row for sink in self.regulators for row in sink.each_a(self)]
        return np.stack(rows) if rows else np.zeros((0, len(self.time_s)))

    @cached_property
    def drains_v(self) -> Array:
        """Voltage across each separate regulator [V], in the rows of `sinks_a`."""
        rows = [sink.across_v(self) for sink in self.regulators for _ in range(sink.count)]
        return np.stack(rows) if rows else np.zeros((0, len(self.time_s)))
