"""Electrolytic capacitor: a reservoir, or any other capacitor with losses.

    v = R_e(T) · i + v_loss + v_c,    i = C · dv_c/dt,    energy ½ C v_c²

The loss of the dielectric is a resistor with a capacitor across it: its series resistance is the told one at
120 Hz and nothing at 100 kHz, where the electrolyte alone is left. Judged by the voltage across its
dielectric, v_c. Valid from 50 Hz to about 1 MHz (no inductance) and from -25 °C to its rated temperature.

References
----------
Makers' application guides to aluminium electrolytics: ESR = D / (2 pi f C) + ESR_hf.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import ESR_HZ
from coldiron.lamp.parts import ReservoirCapacitor as ElectrolyticValues
from coldiron.parts.part import (
    SETTLED_BUS,
    Array,
    Duty,
    FailureMode,
    PartConditions,
    PartWaveforms,
    Rating,
    between_v,
)
from coldiron.parts.roles import Ages
from coldiron.parts.tolerance import PRACTICE, Assumption, Tolerance
from coldiron.preferred import E6, E12, Bought
from coldiron.quantities import AMPERE, FARAD, VOLT
from coldiron.readings import sampling

LOSS_CORNER = 3.0
"""Corner of the branch that stands for the loss of the dielectric, over the 120 Hz at which its ESR is told.

One corner for the fall with 1/f: at 1 kHz a tenth of the loss is left, at 10 kHz a thousandth.
"""

RIPPLE_RATIO_100HZ = 0.95
"""Share of a ripple rating, given for 120 Hz, left at 100 Hz (catalogue of 400 V types)."""

DRIED_RATIO, DRIED_ESR_RATIO = 0.4, 8.0
"""What is left of a dried one: 0.2 to 0.5 of its capacitance, 3 to 20 times its ESR (from memory)."""
LEAKY_A = 0.01
"""Leakage of a leaky one at its rated voltage (our choice: it takes watts, and no fuse sees it)."""


@dataclass(frozen=True)
class Branches:
    """An electrolytic at a temperature: its electrolyte, and the loss of its dielectric.

    The loss is a resistor with a capacitor across it, in series with the capacitance.
    """

    temperature_c: float
    capacitance_f: float
    electrolyte_ohm: float
    loss_ohm: float
    loss_f: float


@dataclass(frozen=True, eq=False)
class Electrolytic(Ages):
    """A capacitor with losses; its first terminal is the positive one. `leak_ohm`: of a leaky one."""

    values: ElectrolyticValues
    leak_ohm: float | None = None

    kind: ClassVar[str] = "electrolytic"
    model: ClassVar[type[PartValues]] = ElectrolyticValues
    symbol: ClassVar[str] = "electrolytic"
    known_by: ClassVar[str] = "capacitance"
    bought: ClassVar[Mapping[str, Bought]] = {
        "capacitance": Bought(series=E6),
        "voltage": Bought(values=(160.0, 200.0, 250.0, 350.0, 400.0, 450.0, 500.0)),
        "esr": Bought(series=E12),
    }
    validity: ClassVar[str] = "50 Hz to 1 MHz, -25 °C to its rated temperature"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its branches; `s` ends the names of all but the reservoir's."""
        return {
            "x": branches(self.values, conditions.temperature_c("electrolytic")),
            "s": "" if self.name == "reservoir" else f"_{self.tag}",
            "leak_ohm": self.leak_ohm,
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind its ammeter, behind the electrolyte, and across the dielectric."""
        return self.inner("a"), self.inner("r"), self.tag

    def kept(self) -> tuple[str, ...]:
        """Voltage of its dielectric, and its ammeter."""
        return f"v({self.tag.lower()})", f"i(v{self.tag.lower()})"

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        return self.values.capacitance_f

    @property
    def rated_ripple_a(self) -> float | None:
        """Ripple it is rated for at 120 Hz [A]."""
        return self.values.ripple_current_a

    @property
    def rated_life_h(self) -> float:
        """Life at its rated temperature and ripple [h]."""
        return self.values.rated_life_h

    @property
    def rated_temperature_c(self) -> float:
        """Temperature it is rated for [°C]."""
        return self.values.rated_temperature_c

    def dielectric_v(self, w: PartWaveforms) -> Array:
        """Voltage across its dielectric [V]."""
        return between_v(w, self.tag, self.n("b"))

    def current_a(self, w: PartWaveforms) -> Array:
        """Current into its first terminal [A]."""
        return w.i(f"v{self.tag.lower()}")

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Mean power into what is no dielectric [W]."""
        lost_v, inside_v = self.across_v(w) - self.dielectric_v(w), self.dielectric_v(w)
        lost_w = sampling.mean_of_product(w.time_s, lost_v, self.current_a(w))
        if self.leak_ohm is None:
            return lost_w
        return lost_w + sampling.mean_of_product(w.time_s, inside_v, inside_v) / self.leak_ohm

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """The leak of a leaky one."""
        yield from super().resistances()
        if self.works and self.leak_ohm is not None:
            yield self.at[0], self.at[1], self.leak_ohm

    @property
    def broken_within(self) -> str:
        """Its leakage."""
        return "" if self.leak_ohm is None else "leaky"

    def failures(self) -> Iterator[FailureMode]:
        """Short, dried out, leaky, open: in the order of failure-mode tables (from memory)."""
        v = self.values
        yield self.broken("short")
        yield self.drifted(
            "dried out",
            f"{DRIED_RATIO:.0%} of its capacitance and {DRIED_ESR_RATIO:g} times its series resistance left",
            capacitance_f=DRIED_RATIO * v.capacitance_f,
            esr_ohm=DRIED_ESR_RATIO * v.series_ohm,
            esr_100khz_ohm=DRIED_ESR_RATIO * v.high_series_ohm,
        )
        leaky = replace(self, leak_ohm=v.voltage_v / LEAKY_A)
        yield FailureMode("leaky", leaky, f"{AMPERE.format(LEAKY_A)} at its rated voltage")
        yield self.broken("open")

    def energy_j(self, w: PartWaveforms) -> Array:
        """½ C v² of its dielectric [J]."""
        return np.asarray(0.5 * self.stored_f * self.dielectric_v(w) ** 2)

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Charged to its terminals."""
        return dict.fromkeys(self.inner_nodes(), points_v.get(self.at[0], 0.0))

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Voltage across its dielectric, surge voltage, ripple current."""
        v = self.values
        if duty.pulse:
            note = "across its dielectric; its surge voltage, IEC 60384-4, from memory"
            yield Rating("voltage", duty.id(f"{self.name}_peak_V"), v.surge_voltage_v, "voltage", note)
            return
        # Settled, the capacitor's own voltage; at rest nothing drops across its resistance.
        own = f"{self.name}_highest_V"
        for reading in (own, *SETTLED_BUS[1:]) if self.lies_across_the_bus else (own,):
            yield Rating("voltage", reading, v.voltage_v, "voltage")
        if v.ripple_current_a is not None:
            share = ripple_share(duty.frequency_hz)
            note = f"{100 * share:.0f} % of the rating for 120 Hz, at {2 * duty.frequency_hz:g} Hz"
            most_a = share * v.ripple_current_a
            yield Rating("ripple current", f"{self.name}_ripple_A", most_a, "ripple_current", note)

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.voltage_v

    def tolerances(self) -> Iterator[Tolerance]:
        """Those of its capacitance, and of its losses when new."""
        source = "±20 % when new (IEC 60384-4, code M)"
        yield Tolerance("capacitance", self.values.tolerance_ratio, source, spends="tolerance")
        source = f"loss factor 0.09 to 0.21 of at most 0.25 ({PRACTICE})"
        moves = () if self.values.esr_100khz_ohm is None else (("esr_100khz", 1.0),)
        yield Tolerance("esr", 0.4, source, moves=moves)

    def assumptions(self) -> Iterator[Assumption]:
        """Its losses: a dried one has some times as much, a low-loss type a fifth."""
        yield Assumption("esr", 0.2, 4.0, "ESR at 100 Hz, out of circuit")
        yield Assumption("esr_100khz", 0.25, 1.0, "ESR at 100 kHz, out of circuit")

    def text(self) -> tuple[str, ...]:
        """Capacitance and rated voltage."""
        return FARAD.format(self.stored_f), VOLT.format(self.values.voltage_v)


def branches(values: ElectrolyticValues, temperature_c: float) -> Branches:
    """Branches that have the part's ESR at 120 Hz and at 100 kHz.

    A resistor R with C across it has the series resistance R / (1 + (f/fc)²): at 120 Hz, R / (1 + 1/9).
    """
    dielectric_ohm = max(values.series_ohm - values.high_series_ohm, 1e-4 * values.series_ohm)
    loss_ohm = dielectric_ohm * (1.0 + LOSS_CORNER**-2)
    return Branches(
        temperature_c=temperature_c,
        capacitance_f=values.capacitance_f,
        electrolyte_ohm=values.electrolyte_ohm(temperature_c),
        loss_ohm=loss_ohm,
        loss_f=1.0 / (2 * math.pi * LOSS_CORNER * ESR_HZ * loss_ohm),
    )


def ripple_share(frequency_hz: float) -> float:
    """Share of a ripple rating, given for 120 Hz, that is left on a mains, whose ripple is twice as fast.

    Examples
    --------
    >>> ripple_share(50.0), ripple_share(60.0)
    (0.95, 1.0)
    """
    return RIPPLE_RATIO_100HZ if frequency_hz < 55.0 else 1.0
