"""Diode: one rectifier diode with charge storage and breakdown; alone behind the line it makes half a wave.

i = Is · (exp(v / (n kT/q)) - 1)  behind a series resistance, with junction capacitance and stored charge i ·
τ
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import THERMAL_VOLTAGE_25C_V
from coldiron.lamp.parts import Bridge as BridgeValues
from coldiron.parts.part import OPEN_OHM, Array, Duty, Part, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Rectifies
from coldiron.quantities import AMPERE, VOLT, Ampere, Farad, Ohm, Second, Volt

RATED_PULSE_S = 8.3e-3
"""Pulse length behind a surge current: half a wave of 60 Hz."""
SHORT_PULSE_RATIO = 10.0


class DiodeValues(PartValues):
    """Ratings and forward point of one diode; what charge storage and breakdown are follows the bridge's."""

    average_current_a: Annotated[Ampere, Field(ge=0.05, le=50)] = 1.0
    surge_current_a: Annotated[Ampere, Field(ge=1, le=1000)] = 30.0
    reverse_voltage_v: Annotated[Volt, Field(ge=50, le=3000)] = 1000.0
    forward_voltage_v: Annotated[Volt, Field(ge=0.4, le=2)] = 0.9
    forward_current_a: Annotated[Ampere, Field(ge=0.01, le=100)] = 0.5
    series_resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=5)] = 0.08
    junction_capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-9)] = 15e-12
    storage_time_s: Annotated[Second, Field(ge=1e-9, le=1e-4)] = 2e-6
    emission: Annotated[float, Field(ge=1, le=3)] = 1.8
    breakdown_voltage_v: Annotated[Volt, Field(ge=50, le=5000)] | None = None

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which it breaks down; unset, 10 % above its rating (typical) [V]."""
        return 1.1 * self.reverse_voltage_v if self.breakdown_voltage_v is None else self.breakdown_voltage_v


class Diode(Rectifies):
    """A diode from its first terminal (anode) to its second (cathode)."""

    values: DiodeValues
    kind: ClassVar[str] = "diode"
    model: ClassVar[type[PartValues]] = DiodeValues
    symbol: ClassVar[str] = "diode"
    known_by: ClassVar[str] = "average_current"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of the junction."""
        return {"x": junction(self.values)}

    def inner_nodes(self) -> tuple[str, ...]:
        """Between junction and series resistance."""
        return (self.inner("r"),)

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """At its cathode: hardly a current flows."""
        return dict.fromkeys(self.inner_nodes(), points_v.get(self.at[1], 0.0))

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage across its series resistance, over that [A]."""
        return between_v(w, self.inner("r"), self.n("b")) / self.values.series_resistance_ohm

    def out_a(self, w: PartWaveforms) -> Array:
        """Current out of its cathode [A]."""
        return self.current_a(w)

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which a diode breaks down [V]."""
        return self.values.breakdown_v

    @property
    def drop_v(self) -> float:
        """Forward voltage at its test current [V]."""
        return self.values.forward_voltage_v

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Mean and surge current, reverse voltage."""
        v = self.values
        if not duty.pulse:
            yield Rating("mean current", f"{self.name}_mean_A", v.average_current_a, "average_current")
            yield Rating("reverse voltage", f"{self.name}_reverse_V", v.reverse_voltage_v, "reverse_voltage")
            return
        most_a = v.surge_current_a
        most_a *= duty.longer_ratio(f"{self.name}_pulse_us", RATED_PULSE_S, SHORT_PULSE_RATIO)
        yield Rating("surge current", duty.id(f"{self.name}_peak_A"), most_a, "surge_current")
        reading = duty.id(f"{self.name}_reverse_V")
        yield Rating("reverse voltage", reading, v.reverse_voltage_v, "reverse_voltage")

    def junction_tests(self) -> Iterator[tuple[str, str, float]]:
        """From anode to cathode."""
        yield self.at[0], self.at[1], junction_test_v(self, self.values)

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Highest voltage the wrong way [V]."""
        return {"reverse_V": max(0.0, float(-self.across_v(w).min()))}

    def pulse_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Highest voltage the wrong way [V]."""
        return self.settled_readings(w)

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.reverse_voltage_v

    def text(self) -> tuple[str, ...]:
        """Its mean current and reverse voltage."""
        return AMPERE.format(self.values.average_current_a), VOLT.format(self.values.reverse_voltage_v)


@dataclass(frozen=True)
class Junction:
    """What the macro of a rectifier diode prints."""

    saturation_a: float
    emission: float
    series_ohm: float
    junction_f: float
    storage_s: float
    breakdown_v: float


JUNCTION_TEST_A = 1e-3
"""Current of the diode test of a meter (common practice, no source)."""


def junction_test_v(part: Part, values: DiodeValues | BridgeValues, ohm: float | None = None) -> float:
    """What the diode test of a meter shows of a junction, or of the ohms in its place [V].

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> bridge = load_lamp("kerbside-flood").circuit["bridge"]
    >>> round(junction_test_v(bridge, bridge.values), 2), junction_test_v(bridge, bridge.values, 1e7)
    (0.55, inf)
    """
    left_ohm = ohm if part.works else part.broken_ohm
    if left_ohm is not None:
        return JUNCTION_TEST_A * left_ohm if left_ohm < OPEN_OHM else math.inf
    x = junction(values)
    return x.emission * THERMAL_VOLTAGE_25C_V * math.log1p(JUNCTION_TEST_A / x.saturation_a)


def junction(values: DiodeValues | BridgeValues) -> Junction:
    """Junction through the forward point, behind its series resistance."""
    junction_v = values.forward_voltage_v - values.series_resistance_ohm * values.forward_current_a
    return Junction(
        saturation_a=values.forward_current_a
        / math.expm1(junction_v / (values.emission * THERMAL_VOLTAGE_25C_V)),
        emission=values.emission,
        series_ohm=values.series_resistance_ohm,
        junction_f=values.junction_capacitance_f,
        storage_s=values.storage_time_s,
        breakdown_v=values.breakdown_v,
    )
