"""Linear sinks: separate constant-current regulators on a common drain, each with its sense resistor.

    di/dt = 2π · bandwidth · (reference - v_sense),    gate between 0 and its rail, drive limited to some 0.1
    mA

A power MOSFET over a sense resistor, its gate driven by an error amplifier of limited current: it saturates
while the bus is too low, but does not wind up. The drain breaks down at its avalanche voltage.

Where a lamp file gives them: above a drain voltage the reference falls as one over what a low-pass shows of
it (power foldback); the chips take a current of their own; and too hot they hold their gates down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, NamedTuple

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import SUPPLY_FULL_V, THERMAL_VOLTAGE_25C_V
from coldiron.lamp.parts import Sinks as LinearSinkValues
from coldiron.parts.element import Element
from coldiron.parts.part import (
    MINUS,
    OPEN_OHM,
    SHORT_OHM,
    Array,
    Duty,
    FailureMode,
    PartConditions,
    PartWaveforms,
    Rating,
    between_v,
)
from coldiron.parts.roles import Regulates
from coldiron.parts.tolerance import PRACTICE, Assumption, Tolerance
from coldiron.preferred import E24, Bought
from coldiron.quantities import AMPERE, OHM
from coldiron.readings import sampling

CLAMP_SATURATION_A = 1e-14
"""Of the diodes that hold a gate between zero and its rail."""
SHORT_OF_SHUT_OFF_K = 0.1
"""A die has to stay this far below its shut-off: one that blinks is never above it."""
SINK_SHORT_OHM = 0.5
"""Of a chip that has failed from drain to source: what is left of its silicon (from memory)."""
FOLDBACK_OHM = 10e3
"""Of the low-pass through which a power foldback sees the drain; any will do, the delay is the lamp's."""


@dataclass(frozen=True)
class SinkValues:
    """One of the separate sinks."""

    number: int
    reference_v: float
    sense_ohm: float
    foldback_v: float | None
    short_ohm: float | None = None


@dataclass(frozen=True)
class SinkBankValues:
    """All sinks and the model they share."""

    count: int
    each: tuple[SinkValues, ...]
    rail_v: float
    clamp_a: float
    drive_a: float
    gain_per_v: float
    threshold_v: float
    kp: float
    on_ohm: float
    gate_f: float
    reverse_f: float
    output_f: float
    breakdown_v: float
    foldback_ohm: float
    foldback_f: float | None
    supply_a: float | None
    supply_full_v: float


class BrokenSink(NamedTuple):
    """The one of the separate sinks that is broken, and how.

    `reference_ratio` scales what it regulates to: 0 and below hold it off, a large one drives it fully on.
    """

    number: int
    reference_ratio: float = 1.0
    sense_ohm: float | None = None
    short_ohm: float | None = None


@dataclass(frozen=True, eq=False)
class LinearSink(Regulates):
    """All separate sinks between a drain and a low end; one of them may be broken."""

    values: LinearSinkValues
    one: BrokenSink | None = None

    kind: ClassVar[str] = "linear sink"
    ends_on: ClassVar[str] = MINUS
    model: ClassVar[type[PartValues]] = LinearSinkValues
    symbol: ClassVar[str] = "sinks"
    known_by: ClassVar[str] = "count"
    bought: ClassVar[Mapping[str, Bought]] = {
        "count": Bought(whole=True),
        "sense_resistor": Bought(series=E24),
        "drain_voltage": Bought(values=(500.0, 600.0, 650.0, 700.0)),
    }

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of every sink and the models they share."""
        x = regulators(self.values, conditions.temperature_c(self.thermal_seat), shut=conditions.shut)
        if self.one is not None:
            x = replace(x, each=tuple(self._as_broken(sink) for sink in x.each))
        return {
            "x": x,
            "s": self.suffix,
            "low": "" if self.n("b") == "0" else f",{self.n('b')}",
        }

    def _as_broken(self, sink: SinkValues) -> SinkValues:
        if self.one is None or sink.number != self.one.number:
            return sink
        one = self.one
        return replace(
            sink,
            reference_v=sink.reference_v * one.reference_ratio,
            sense_ohm=self.sense_ohm(sink.number),
            short_ohm=one.short_ohm,
        )

    @property
    def broken_within(self) -> str:
        """The one that is broken."""
        if self.one is None:
            return ""
        if self.one.short_ohm is not None:
            return "one short"
        if self.one.reference_ratio != 1.0:
            return "one off" if self.one.reference_ratio <= 0.0 else "one fully on"
        sense = self.one.sense_ohm or 0.0
        told = "open" if sense >= OPEN_OHM else "short" if sense <= SHORT_OHM else "drifted"
        return f"one sense {told}"

    def failures(self) -> Iterator[FailureMode]:
        """One of them from drain to source, off, fully on, its sense resistor; all at once."""
        ohm, middle = self.values.sense_resistor_ohm, (self.values.count + 1) // 2

        def one(word: str, says: str, **how: float) -> FailureMode:
            return FailureMode(f"one {word}", replace(self, one=BrokenSink(middle, **how)), says)

        yield one("short", "drain to source; its sense resistor takes what comes", short_ohm=SINK_SHORT_OHM)
        yield one("fully on", "its reference or its amplifier is lost", reference_ratio=100.0)
        yield one("sense short", "its sense resistor is short", sense_ohm=SHORT_OHM)
        yield one("sense drifted +20 %", "its sense resistor has drifted up", sense_ohm=1.2 * ohm)
        says = "its sense resistor is open"
        if self.values.count == 1:  # the only one: none is left that the floating source could be told from
            yield self.broken("open", "one sense open", says)
        else:
            yield one("sense open", says, sense_ohm=OPEN_OHM)
        if self.values.count > 1:
            yield one("off", "its chip holds it off", reference_ratio=-1.0)
        yield self.broken("short", says="from drain to minus")
        yield self.broken("open", says="all of them off")

    @property
    def odd_sense_ohm(self) -> float:
        """That of the broken one; they are alike while none is [Ω]."""
        return self.sense_ohm(1 if self.one is None else self.one.number)

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """One that has failed from drain to source, over its sense resistor."""
        yield from super().resistances()
        if self.works and self.one is not None and self.one.short_ohm is not None:
            yield self.at[0], self.at[1], self.one.short_ohm + self.sense_ohm(self.one.number)

    def sense_ohm(self, number: int) -> float:
        """Sense resistor of one of them [Ω]."""
        told = None if self.one is None or self.one.number != number else self.one.sense_ohm
        return self.values.sense_resistor_ohm if told is None else told

    def elements(self) -> Iterator[Element]:
        """Sense resistor of the sink that is broken: the others carry what they regulate."""
        if self.one is None or not self.works:
            return
        one, number = self.one, self.one.number
        ohm = self.sense_ohm(number)
        yield Element(
            self,
            f"{self.name} sense",
            ohm,
            self.values.sense_power_w,
            lambda w: self.each_sense_w(w)[number - 1],
            lambda w: np.asarray(between_v(w, f"sense{number}{self.suffix}", self.n("b")) / ohm),
            lambda times: replace(self, one=one._replace(sense_ohm=times * ohm)),
            opens_as="one sense open",
            alone=False,
        )

    def each_sense_w(self, w: PartWaveforms) -> list[float]:
        """Mean power into each sense resistor [W]."""
        low = self.n("b")
        volts = [between_v(w, f"sense{k}{self.suffix}", low) for k in range(1, self.values.count + 1)]
        return [
            sampling.mean_of_product(w.time_s, v, v) / self.sense_ohm(k) for k, v in enumerate(volts, start=1)
        ]

    @property
    def suffix(self) -> str:
        """What ends the names of a further group of sinks."""
        return "" if self.name == "sinks" else f"_{self.tag}"

    @property
    def thermal_seat(self) -> str:
        """The dies."""
        return "die"

    def inner_nodes(self) -> tuple[str, ...]:
        """Rail, gates and sense resistors, and the drain as a power foldback sees it."""
        numbers = range(1, self.values.count + 1)
        folds = ("follow", "foldback") if self.values.foldback_power_w is not None else ()
        shared = (f"{x}{self.suffix}" for x in ("rail", *folds))
        return (*shared, *(f"{x}{k}{self.suffix}" for k in numbers for x in ("gate", "sense")))

    def kept(self) -> tuple[str, ...]:
        """Voltages of the sense resistors."""
        return tuple(f"v(sense{k}{self.suffix})".lower() for k in range(1, self.values.count + 1))

    def each_a(self, w: PartWaveforms) -> list[Array]:
        """Current into the drain of each [A]: over its sense resistor, and what the chip itself takes."""
        numbers, low, v = range(1, self.values.count + 1), self.n("b"), self.values
        own_a = 0.0 if v.supply_current_a is None else v.supply_a(self.across_v(w))
        return [
            np.asarray(between_v(w, f"sense{k}{self.suffix}", low) / self.sense_ohm(k) + own_a)
            for k in numbers
        ]

    def current_a(self, w: PartWaveforms) -> Array:
        """Current of all [A]."""
        return np.asarray(np.sum(self.each_a(w), axis=0))

    def each_w(self, w: PartWaveforms) -> list[float]:
        """Mean power into each, its sense resistor included [W]."""
        volt = self.across_v(w)
        return [sampling.mean_of_product(w.time_s, volt, row) for row in self.each_a(w)]

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Mean power into all [W]."""
        return float(sum(self.each_w(w)))

    @property
    def count(self) -> int:
        """Separate sinks."""
        return self.values.count

    @property
    def set_current_a(self) -> float:
        """Current of all, cold [A]."""
        return self.values.set_current_a

    @property
    def held_a(self) -> float:
        """Most that one takes while it regulates, cold, its own supply included [A]."""
        return (1.0 + self.values.spread_ratio) * self.values.each_a + (self.values.supply_current_a or 0.0)

    def allowed_a(self, w: PartWaveforms, die_c: float) -> Array:
        """Current that all of them together let through at each moment [A]: less where they fold back."""
        folded = np.maximum(1.0, self.across_v(w) / self.values.foldback_drain_v(die_c))
        return np.asarray(self.set_current_a * self.foldback_ratio(die_c) / folded)

    @property
    def shut_off_c(self) -> float | None:
        """Die temperature at which they switch off [°C]; None where they never do."""
        return self.values.shut_off_c

    @property
    def restarts_c(self) -> float | None:
        """Die temperature at which they come back [°C]."""
        return self.values.restarts_c

    @property
    def breakdown_v(self) -> float:
        """Voltage at which one breaks down [V]."""
        return self.values.breakdown_v

    def headroom_v(self, w: PartWaveforms) -> Array:
        """Voltage across the transistor of the first [V]."""
        return between_v(w, self.n("a"), f"sense1{self.suffix}")

    @property
    def drain_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.drain_voltage_v

    @property
    def on_ohm(self) -> float:
        """Resistance of all of them side by side while they are fully on [Ω]."""
        return (self.values.on_resistance_ohm + self.values.sense_resistor_ohm) / self.count

    def limited_by(self, w: PartWaveforms) -> str:
        """What set its largest current in a disturbance."""
        return limit_of(self.values, self.each_a(w), self.across_v(w))

    def foldback_ratio(self, die_c: float) -> float:
        """Share of the cold current that is left at a die temperature."""
        return self.values.foldback_ratio(die_c)

    @property
    def foldback_floor_ratio(self) -> float:
        """Share that is left at any die temperature; all of it where nothing folds back."""
        return self.values.foldback_floor_ratio if self.values.foldback_slope_per_k > 0.0 else 1.0

    @property
    def maximum_die_c(self) -> float:
        """Hottest its dies may be [°C]."""
        return self.values.maximum_die_c

    @property
    def each_power_w(self) -> float:
        """Watts one of them may take [W]."""
        return self.values.power_w

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Drain voltage, watts, die; avalanche energy and peak current of one."""
        v = self.values
        if not duty.pulse:
            yield Rating("drain voltage", "drain_highest_V", v.drain_voltage_v, "drain_voltage")
            yield Rating("watts of one", "sink_worst_W", v.power_w, "power")
            yield Rating("die temperature", "sink_die_worst_C", v.maximum_die_c, "maximum_die")
            if v.shut_off_c is not None:
                most_c, note = v.shut_off_c - SHORT_OF_SHUT_OFF_K, "where it shuts off the light goes out"
                yield Rating("thermal shut-off", "sink_die_worst_C", most_c, "shut_off", note)
            return
        note = f"above it the drain avalanches, at {v.breakdown_v:.0f} V"
        yield Rating("drain voltage", duty.id("drain_peak_V"), v.drain_voltage_v, "drain_voltage", note)
        note, most_mj = "energy of the current above the set current", 1e3 * v.avalanche_energy_j
        yield Rating("pulse energy of one", duty.id("sink_excess_mJ"), most_mj, "avalanche_energy", note)
        yield Rating("peak current of one", duty.id("sink_peak_A"), v.peak_current_a, "peak_current")

    def tolerances(self) -> Iterator[Tolerance]:
        """Those of one chip's reference, of the sense resistors, and of the drain's breakdown."""
        yield from sink_tolerances(self.values)

    def assumptions(self) -> Iterator[Assumption]:
        """What no data sheet of such a chip gives."""
        yield from sink_assumptions(self.values)

    def text(self) -> tuple[str, ...]:
        """How many, what each holds, and by which resistor."""
        v = self.values
        return f"{v.count} × {AMPERE.format(v.each_a, 3)}", f"{OHM.format(v.sense_resistor_ohm)} each"


def sink_references_v(sinks: LinearSinkValues, die_c: float) -> list[float]:
    """Sense voltages of the separate sinks at a die temperature, fanned evenly over the spread [V].

    Examples
    --------
    >>> from coldiron.lamp.parts import Sinks
    >>> [round(v, 4) for v in sink_references_v(Sinks(count=3, sense_resistor_ohm=10.0), 25.0)]
    [0.582, 0.6, 0.618]
    """
    held = sinks.sense_voltage_v * sinks.foldback_ratio(die_c)
    if sinks.count == 1:
        return [held]
    fan = np.linspace(-sinks.spread_ratio, sinks.spread_ratio, sinks.count)
    return [held * (1.0 + float(share)) for share in fan]


def _each_sink(sinks: LinearSinkValues, die_c: float, *, shut: bool) -> Iterator[SinkValues]:
    for number, reference_v in enumerate(sink_references_v(sinks, die_c), start=1):
        foldback_v = None
        if sinks.foldback_power_w is not None and not shut:
            # Each sink holds the same power, from the drain voltage at which its own set current makes it.
            foldback_v = sinks.foldback_power_w * sinks.sense_resistor_ohm / reference_v
        # A shut sink's amplifier pulls its gate down as hard as it can.
        held_v = -sinks.sense_voltage_v if shut else reference_v
        yield SinkValues(number, held_v, sinks.sense_resistor_ohm, foldback_v)


def regulators(sinks: LinearSinkValues, die_c: float, *, shut: bool = False) -> SinkBankValues:
    """Values of every regulator at a die temperature [°C]; `shut` holds them off."""
    gate_f = sinks.gate_capacitance_f + sinks.reverse_capacitance_f
    return SinkBankValues(
        count=sinks.count,
        each=tuple(_each_sink(sinks, die_c, shut=shut)),
        # The clamp lets the gate pass the rail by its forward voltage, so the rail is set lower by that.
        rail_v=sinks.gate_rail_v
        - THERMAL_VOLTAGE_25C_V * math.log1p(sinks.gate_drive_a / CLAMP_SATURATION_A),
        clamp_a=CLAMP_SATURATION_A,
        drive_a=sinks.gate_drive_a,
        gain_per_v=2 * math.pi * sinks.bandwidth_hz * gate_f / sinks.gate_drive_a,
        threshold_v=sinks.gate_threshold_v,
        kp=sinks.gain_a_per_v2,
        on_ohm=sinks.on_resistance_ohm,
        gate_f=sinks.gate_capacitance_f,
        reverse_f=sinks.reverse_capacitance_f,
        output_f=sinks.output_capacitance_f,
        breakdown_v=sinks.breakdown_v,
        foldback_ohm=FOLDBACK_OHM,
        foldback_f=None if sinks.foldback_lag_s is None else sinks.foldback_lag_s / FOLDBACK_OHM,
        supply_a=None if sinks.supply_current_a is None else sinks.count * sinks.supply_current_a,
        supply_full_v=SUPPLY_FULL_V,
    )


HELD_RATIO = 1.1
"""A sink that passes less than this times its set current is held by its loop."""
GATE_KEYS = ("gate_threshold", "gate_headroom", "gate_drive", "transconductance")
"""Values of the sinks that set a current which nothing else limits."""


def limit_of(sinks: LinearSinkValues, each_a: list[Array], drain_v: Array) -> str:
    """What set the largest current of a single regulator.

    Parameters
    ----------
    sinks : Sinks
    each_a : list of (n,) array
        Currents of the separate regulators [A].
    drain_v : (n,) array
        Voltage across each of them [V].

    Returns
    -------
    str
        "avalanche": the drain broke down; "set current": the loop held it; "circuit": the transistor was
        fully on, string and resistors set the current; "gate drive": the transistor passed what the
        amplifier had driven its gate to. That is a ceiling which no data sheet gives: it moves with the gate
        rail, and against an avalanche it says nothing. With ", assumed" where the file does not tell all of
        `GATE_KEYS`.
    """
    rows_a = np.stack(each_a)
    if (drain_v - sinks.sense_resistor_ohm * rows_a).max() >= sinks.breakdown_v:
        return "avalanche"
    one, moment = np.unravel_index(int(rows_a.argmax()), rows_a.shape)
    peak_a = float(rows_a[one, moment])
    if peak_a <= HELD_RATIO * (1.0 + sinks.spread_ratio) * sinks.each_a:
        return "set current"
    channel_v = drain_v[moment] - peak_a * (sinks.sense_resistor_ohm + sinks.on_resistance_ohm)
    # Square law: this overdrive the current takes; with less across the channel it is fully on.
    if channel_v < math.sqrt(2.0 * peak_a / sinks.gain_a_per_v2):
        return "circuit"
    assumed = any(sinks.provenance(key) == "typical" for key in GATE_KEYS)
    return "gate drive, assumed" if assumed else "gate drive"


def sink_tolerances(values: LinearSinkValues) -> Iterator[Tolerance]:
    """Tolerances of sinks, whatever they hang on.

    `spread` fans the chips of one lamp evenly over plus and minus a share. They are independent, so that
    the mean of N of them is off by that share over the root of N.
    """
    source = f"±3 % to ±5 % from chip to chip, independent: the mean of {values.count}"
    yield Tolerance("sense_voltage", values.spread_ratio / math.sqrt(values.count), source)
    yield Tolerance("sense_resistor", 0.01, f"±1 %, of one reel ({PRACTICE})", of_a_reel=True)
    yield Tolerance("avalanche_voltage", 0.045, f"5 % to 15 % above the rating ({PRACTICE})")
    if values.drain_capacitor_f is not None:
        yield Tolerance("drain_capacitor", 0.1, f"±10 % ({PRACTICE})")


def sink_assumptions(values: LinearSinkValues) -> Iterator[Assumption]:
    """What is assumed of sinks, whatever they hang on."""
    rated = values.drain_voltage_v / values.breakdown_v
    by_probe = "none but the surge current itself, by a current probe"
    by_die = "input current against the die's temperature"
    yield Assumption("avalanche_voltage", rated, max(1.15, 1.25 * rated), "the drain's breakdown at 1 mA")
    yield Assumption("on_resistance", 0.5, 2.0, "drain to sense voltage of a sink that is fully on")
    yield Assumption("gate_drive", 0.1, 10.0, by_probe)
    yield Assumption("gate_headroom", 0.7, 2.0, by_probe)
    yield Assumption("transconductance", 0.5, 2.0, by_probe)
    yield Assumption("bandwidth", 0.3, 3.0, by_probe)
    yield Assumption("output_capacitance", 0.5, 2.0, "capacitance drain to source at 25 V")
    yield Assumption("foldback_knee", 0.85, 1.2, by_die)
    yield Assumption("foldback_slope", 0.5, 2.0, by_die)
