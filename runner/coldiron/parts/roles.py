"""What parts can do, asked by everything that must not know their kinds.

A role is a class between `Part` and a kind. Where a part sits is a fact of the circuit and no role: a part in
series on a rail of the mains carries the mains current, a resistor across the bus bleeds it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

import numpy as np

from coldiron.lamp.varistor import Disc
from coldiron.parts.part import Array, Part, PartWaveforms


class Lights(Part):
    """Makes light."""

    @property
    def two_way(self) -> bool:
        """It conducts one way."""
        return not self.works

    @property
    def leds(self) -> int:
        """LEDs in series."""
        raise NotImplementedError

    @property
    def parallel(self) -> int:
        """LEDs in parallel."""
        raise NotImplementedError

    def shining_a(self, w: PartWaveforms) -> Array:
        """Sum over all its LEDs of the current that each lights with, over those in series [A]."""
        return self.current_a(w)

    def row_a(self, w: PartWaveforms) -> Array:
        """Current of the LED that carries most at each moment [A]."""
        return np.asarray(self.current_a(w) / self.parallel)

    @property
    def light_tempco_per_k(self) -> float:
        """Change of light with temperature [1/K]."""
        raise NotImplementedError

    @property
    def radiant_ratio(self) -> float:
        """Share of its watts that leave as light."""
        raise NotImplementedError

    @property
    def maximum_junction_c(self) -> float:
        """Hottest its junctions may be [°C]."""
        raise NotImplementedError

    def voltage_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage at a current and a junction temperature [V]."""
        raise NotImplementedError

    def tester_v(self, current_a: float) -> float:
        """What a tester that drives a current through the cold LEDs shows [V]."""
        return self.voltage_v(current_a)


class Regulates(Part):
    """Holds a current, by one regulator or several side by side."""

    @property
    def two_way(self) -> bool:
        """It conducts one way."""
        return not self.works

    @property
    def count(self) -> int:
        """Separate regulators."""
        raise NotImplementedError

    @property
    def set_current_a(self) -> float:
        """Current that all of them hold together, cold [A]."""
        raise NotImplementedError

    @property
    def held_a(self) -> float:
        """Most that one of them lets through while it regulates, cold [A]."""
        raise NotImplementedError

    def each_a(self, w: PartWaveforms) -> list[Array]:
        """Current of each [A]."""
        raise NotImplementedError

    def each_w(self, w: PartWaveforms) -> list[float]:
        """Mean power into each [W]."""
        raise NotImplementedError

    def allowed_a(self, w: PartWaveforms, die_c: float) -> Array:
        """Current that all of them together let through at each moment [A]: less where they fold back."""
        raise NotImplementedError

    @property
    def shut_off_c(self) -> float | None:
        """Die temperature at which they switch off [°C]; None where they never do."""
        raise NotImplementedError

    @property
    def restarts_c(self) -> float | None:
        """Die temperature at which they come back [°C]."""
        raise NotImplementedError

    @property
    def breakdown_v(self) -> float:
        """Voltage at which one breaks down [V]."""
        raise NotImplementedError

    @property
    def odd_sense_ohm(self) -> float | None:
        """Sense resistor that is furthest off its value [Ω]; None where they cannot be got at."""
        return None

    def headroom_v(self, w: PartWaveforms) -> Array:
        """Voltage across its transistor [V]."""
        raise NotImplementedError

    @property
    def drain_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        raise NotImplementedError

    @property
    def on_ohm(self) -> float:
        """Resistance of all of them side by side while they are fully on [Ω]."""
        raise NotImplementedError

    def limited_by(self, w: PartWaveforms) -> str:
        """What set its largest current in a disturbance."""
        raise NotImplementedError

    def foldback_ratio(self, die_c: float) -> float:
        """Share of the cold current that is left at a die temperature."""
        raise NotImplementedError

    @property
    def foldback_floor_ratio(self) -> float:
        """Share that is left at any die temperature."""
        raise NotImplementedError

    @property
    def maximum_die_c(self) -> float:
        """Hottest its dies may be [°C]."""
        raise NotImplementedError

    @property
    def each_power_w(self) -> float:
        """Watts one of them may take [W]."""
        raise NotImplementedError


class Stores(Part):
    """Stores charge between two points."""

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        raise NotImplementedError

    def dielectric_v(self, w: PartWaveforms) -> Array:
        """Voltage across its dielectric [V]."""
        raise NotImplementedError


class Ages(Stores):
    """Dries out: its life hangs on its temperature and its ripple."""

    @property
    def rated_ripple_a(self) -> float | None:
        """Ripple it is rated for at 120 Hz [A]."""
        raise NotImplementedError

    @property
    def rated_life_h(self) -> float:
        """Life at its rated temperature and ripple [h]."""
        raise NotImplementedError

    @property
    def rated_temperature_c(self) -> float:
        """Temperature it is rated for [°C]."""
        raise NotImplementedError


class Resists(Part):
    """A resistance whose heat is I²t times its ohms."""

    @property
    def cold_ohm(self) -> float:
        """Resistance, cold [Ω]."""
        raise NotImplementedError

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """Its own, while it is whole."""
        yield from super().resistances()
        if self.works:
            yield self.at[0], self.at[1], self.cold_ohm


class WarmsItself(Resists):
    """Sits on the board by a thermal resistance of its own, and resists by how warm it stands."""

    def ohm(self, temperature_c: float) -> float:
        """Resistance at a temperature of its own [Ω]."""
        raise NotImplementedError

    @property
    def loss_k_per_w(self) -> float:
        """From it to what it sits on [K/W]."""
        raise NotImplementedError

    @property
    def cools_s(self) -> float:
        """Time constant with which it cools [s]."""
        raise NotImplementedError


class Clamps(Part):
    """Begins to conduct above a voltage, so that others do not see it."""

    @property
    def discs(self) -> tuple[Disc, ...]:
        """Good discs that may be fitted, the highest first; none where it is no disc."""
        return ()

    @property
    def clamps_from_v(self) -> float:
        """Voltage at which it begins to conduct a milliampere [V]."""
        raise NotImplementedError


class Rectifies(Part):
    """Lets current through one way."""

    @property
    def two_way(self) -> bool:
        """It conducts one way."""
        return not self.works

    @property
    def drop_v(self) -> float:
        """Voltage it takes while it conducts [V]."""
        raise NotImplementedError

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which it breaks down [V]."""
        raise NotImplementedError

    @property
    def is_on_the_mains(self) -> bool:
        """Whether it stands between the mains and the bus."""
        return len(self.at) > 2 or (self.seat == "series" and self.at[1].startswith("bus"))

    def out_a(self, w: PartWaveforms) -> Array:
        """Current it gives [A]."""
        raise NotImplementedError


class Opens(Part):
    """A safety part that is meant to open; `opens_by` says by what."""

    opens_by: ClassVar[str] = "heat"


class Melts(Opens):
    """Opens by the integral of its current squared, or by a current above its rated one for long."""

    @property
    def rated_a(self) -> float:
        """Rated current [A]."""
        raise NotImplementedError

    @property
    def carries_ratio(self) -> float:
        """Multiple of its rated current that it carries for ever."""
        raise NotImplementedError

    @property
    def melting_a2s(self) -> tuple[float, float]:
        """Integral at which it may be open, and at which it is [A²s]."""
        raise NotImplementedError

    def melts_after_s(self, rms_a: float) -> tuple[float, float]:
        """Time after which it may be open, and after which it is [s]; infinite where it is not."""
        raise NotImplementedError

    @property
    def cold_ohm(self) -> float:
        """Resistance, cold [Ω]."""
        raise NotImplementedError


class OpensHot(Opens):
    """Opens above one temperature of the board and closes again below another."""

    @property
    def opens_c(self) -> float:
        """Temperature at which it opens [°C]."""
        raise NotImplementedError

    @property
    def closes_c(self) -> float:
        """Temperature at which it closes again [°C]."""
        raise NotImplementedError
