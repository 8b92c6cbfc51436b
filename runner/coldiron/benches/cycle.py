"""One settled mains cycle of a lamp, cut out of a run once, with the voltage and current of every part."""

from __future__ import annotations

import numpy as np

from coldiron.engine.waves import Array, Waves
from coldiron.lamp.lamp import Lamp
from coldiron.readings import sampling


class Window:
    """Vectors of a run between two moments.

    Parameters
    ----------
    lamp : Lamp
        Tells which parts there are.
    waves : Waves
    start_s, stop_s : float
        The window [s]; its ends are interpolated.
    """

    def __init__(self, lamp: Lamp, waves: Waves, start_s: float, stop_s: float) -> None:
        self.lamp = lamp
        names = tuple(waves.vectors)
        self.time_s, rows = sampling.cut(
            waves.time_s, np.stack([waves[name] for name in names]), start_s, stop_s
        )
        self._rows = dict(zip(names, rows, strict=True))

    def v(self, plus: str, minus: str = "0") -> Array:
        """Voltage between two nodes [V]."""
        low = self._rows[f"v({minus})"] if minus != "0" else 0.0
        return np.asarray(self._rows[f"v({plus})"] - low)

    def i(self, ammeter: str) -> Array:
        """Current through an ammeter [A]."""
        current_a: Array = self._rows[f"i({ammeter})"]
        return current_a

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
    def mains_v(self) -> Array:
        """Voltage at the lamp's terminals [V]."""
        return self.v("line", "neutral")

    @property
    def input_a(self) -> Array:
        """Current into the lamp [A]."""
        return self.i("vinput")

    @property
    def varistor_a(self) -> Array:
        """Current through the varistor [A], 0 without one."""
        return self.i("vvaristor") if self.lamp.varistor else np.zeros_like(self.time_s)

    @property
    def varistor_v(self) -> Array:
        """Voltage across the varistor [V]."""
        if self.lamp.varistor is None:
            return np.zeros_like(self.time_s)
        plus, minus = {
            "mains terminals": ("line", "neutral"),
            "behind line fusing": (self._line_f, "neutral"),
            "behind both fusing": (self._line_f, self._neutral_f),
        }[self.lamp.varistor.place]
        return self.v(plus, minus)

    @property
    def _line_f(self) -> str:
        return "line_f" if self.lamp.line_fusing else "line"

    @property
    def _neutral_f(self) -> str:
        return "neutral_f" if self.lamp.neutral_fusing else "neutral"

    @property
    def line_fusing_a(self) -> Array:
        """Current in the line fusing resistor [A], 0 without one."""
        if self.lamp.line_fusing is None:
            return np.zeros_like(self.time_s)
        return self.v("line", "line_f") / self.lamp.line_fusing.resistance_ohm

    @property
    def neutral_fusing_a(self) -> Array:
        """Current in the neutral fusing resistor [A], 0 without one."""
        if self.lamp.neutral_fusing is None:
            return np.zeros_like(self.time_s)
        return self.v("neutral_f", "neutral") / self.lamp.neutral_fusing.resistance_ohm

    @property
    def bridge_in_a(self) -> Array:
        """Current that enters the bridge from the line leg [A]: the input less what the varistor takes."""
        return self.input_a - self.varistor_a

    @property
    def bridge_out_a(self) -> Array:
        """Current from the bridge into the bus [A]."""
        return self.i("vbridge")

    @property
    def bridge_in_v(self) -> Array:
        """Voltage between the two inputs of the bridge [V]."""
        return self.v(self._line_f, self._neutral_f)

    @property
    def string_a(self) -> Array:
        """Current in the LED string [A]."""
        return self.i("vstring")

    def sink_a(self, number: int) -> Array:
        """Current into the drain of one sink [A]: over its sense resistor, and what the chip itself takes."""
        sinks = self.lamp.sinks
        own_a = 0.0 if sinks.supply_current_a is None else sinks.supply_a(self.v("drain"))
        return np.asarray(self.v(f"sense{number}") / sinks.sense_resistor_ohm + own_a)

    @property
    def sinks_a(self) -> Array:
        """Currents of all sinks [A], one row a sink."""
        return np.stack([self.sink_a(number) for number in range(1, self.lamp.sinks.count + 1)])

    @property
    def reservoir_a(self) -> Array:
        """Current into the reservoir capacitor [A], 0 without one."""
        if self.lamp.reservoir is None:
            return np.zeros_like(self.time_s)
        return self.i("vreservoir")

    @property
    def reservoir_v(self) -> Array:
        """Voltage across the dielectric of the reservoir capacitor [V], 0 without one."""
        return self.v("reservoir") if self.lamp.reservoir else np.zeros_like(self.time_s)
