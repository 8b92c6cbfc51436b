"""Element values and node names of one lamp in one state: everything a template prints, computed here.

Templates do no sums. What a part needs from another part is computed in `coldiron.lamp`; what only the
engine needs (saturation currents, tables, gains) is computed in this module.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.parts import (
    ESR_HZ,
    THERMAL_VOLTAGE_25C_V,
    Bridge,
    LedString,
    ReservoirCapacitor,
    Sinks,
    Varistor,
)

CLAMP_SATURATION_A = 1e-14
"""Of the diodes that hold a gate between zero and its rail."""
STRING_LEAKAGE_OHM = 1e10
"""Gives the drain a path to the bus while the string is dark: 20 nA at 200 V, next to nothing."""
SMALLEST_SATURATION_A = 1e-26
"""The engine takes any saturation current below 1e-28 A for 1e-28 A and says nothing (measured)."""


@dataclass(frozen=True)
class State:
    """What one deck exposes the lamp to: supply, phase and temperatures.

    `phase_deg` is where the sine stands at t = 0; `reservoir_c` the temperature of the reservoir capacitor.
    """

    voltage_v: float
    frequency_hz: float
    phase_deg: float = 0.0
    die_c: float = 25.0
    string_c: float = 25.0
    reservoir_c: float = 25.0

    @property
    def peak_v(self) -> float:
        """Peak of the supply [V]."""
        return math.sqrt(2.0) * self.voltage_v

    @property
    def cycle_s(self) -> float:
        """One mains cycle [s]."""
        return 1.0 / self.frequency_hz


@dataclass(frozen=True)
class MainsValues:
    """Supply stage; `feed` is the node it ends on, `inductor_a` the current it starts with."""

    peak_v: float
    frequency_hz: float
    phase_deg: float
    resistance_ohm: float
    inductance_h: float
    damping_ohm: float
    feed: str
    inductor_a: float


@dataclass(frozen=True)
class FusingValues:
    """Fusing resistors; None where a leg has none."""

    line_ohm: float | None
    neutral_ohm: float | None


@dataclass(frozen=True)
class VaristorValues:
    """Varistor between two nodes; the table holds rows of "volt,ampere" pairs."""

    plus: str
    minus: str
    table_rows: tuple[str, ...]
    series_ohm: float
    capacitance_f: float


@dataclass(frozen=True)
class BridgeValues:
    """The four diodes and the nodes they sit on."""

    line: str
    neutral: str
    saturation_a: float
    emission: float
    series_ohm: float
    junction_f: float
    storage_s: float
    breakdown_v: float


@dataclass(frozen=True)
class ReservoirValues:
    """The reservoir capacitor at a temperature: its electrolyte, and the loss of its dielectric.

    The loss is a resistor with a capacitor across it, in series with the capacitance.
    """

    temperature_c: float
    capacitance_f: float
    electrolyte_ohm: float
    loss_ohm: float
    loss_f: float


@dataclass(frozen=True)
class BusValues:
    """What hangs across the bus; None where a part is absent."""

    film_f: float | None
    bleed_ohm: float | None
    reservoir: ReservoirValues | None
    stray_f: float


@dataclass(frozen=True)
class StringValues:
    """One scaled junction, and what stands in series with it.

    `offset_v` is the drift of the forward voltage with temperature, and what a saturation current too small
    for the engine would have added.
    """

    series: int
    parallel: int
    temperature_c: float
    saturation_a: float
    emission: float
    series_ohm: float
    offset_v: float
    leakage_ohm: float


@dataclass(frozen=True)
class SinkValues:
    """One of the separate sinks."""

    number: int
    reference_v: float
    sense_ohm: float


@dataclass(frozen=True)
class SinksValues:
    """All sinks and the model they share."""

    count: int
    each: tuple[SinkValues, ...]
    drain_capacitor_f: float | None
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


@dataclass(frozen=True)
class Circuit:
    """Everything the lamp stages print."""

    mains: MainsValues
    fusing: FusingValues
    varistor: VaristorValues | None
    bridge: BridgeValues
    bus: BusValues
    string: StringValues
    sinks: SinksValues


def varistor_table(
    one_milliamp_v: float, exponent: float, top_a: float = 2e4, points: int = 72
) -> np.ndarray:
    """Points of the law I = 1 mA · (V / V1mA)^a, mirrored to negative voltage.

    The points are spaced evenly in log current from 1 nA up, dense enough that straight lines between them
    stay within 2 % of the law; a table cannot overflow, as a power can while the engine iterates.

    Returns
    -------
    numpy.ndarray, shape (2 * points + 1, 2)
        Voltage [V] and current [A], rising.

    Examples
    --------
    >>> table = varistor_table(430.0, 21.58)
    >>> bool(abs(np.interp(430.0, table[:, 0], table[:, 1]) / 1e-3 - 1) < 0.02)
    True
    """
    ampere = np.geomspace(1e-9, top_a, points)
    volt = one_milliamp_v * (ampere / 1e-3) ** (1.0 / exponent)
    half = np.column_stack([volt, ampere])
    return np.vstack([-half[::-1], [[0.0, 0.0]], half])


def _varistor(varistor: Varistor, line_f: str, neutral_f: str) -> VaristorValues:
    plus, minus = {
        "mains terminals": ("line", "neutral"),
        "behind line fusing": (line_f, "neutral"),
        "behind both fusing": (line_f, neutral_f),
    }[varistor.place]
    return VaristorValues(
        plus=plus,
        minus=minus,
        table_rows=_table_rows(varistor.one_milliamp_voltage_v, varistor.exponent),
        series_ohm=varistor.series_resistance_ohm,
        capacitance_f=varistor.capacitance_f,
    )


@lru_cache(maxsize=64)
def _table_rows(one_milliamp_v: float, exponent: float) -> tuple[str, ...]:
    """Rows of five printed pairs: a surge prints the same table many times."""
    pairs = [f"{volt:.6g},{ampere:.5g}" for volt, ampere in varistor_table(one_milliamp_v, exponent)]
    return tuple(", ".join(pairs[i : i + 5]) for i in range(0, len(pairs), 5))


def _bridge(bridge: Bridge, line: str, neutral: str) -> BridgeValues:
    junction_v = bridge.forward_voltage_v - bridge.series_resistance_ohm * bridge.forward_current_a
    return BridgeValues(
        line=line,
        neutral=neutral,
        saturation_a=bridge.forward_current_a
        / math.expm1(junction_v / (bridge.emission * THERMAL_VOLTAGE_25C_V)),
        emission=bridge.emission,
        series_ohm=bridge.series_resistance_ohm,
        junction_f=bridge.junction_capacitance_f,
        storage_s=bridge.storage_time_s,
        breakdown_v=bridge.breakdown_v,
    )


LOSS_CORNER = 3.0
"""Corner of the branch that stands for the loss of the dielectric, over the 120 Hz at which its ESR is told.

One corner for the fall with 1/f: at 1 kHz a tenth of the loss is left, at 10 kHz a thousandth.
"""


def _reservoir(reservoir: ReservoirCapacitor, temperature_c: float) -> ReservoirValues:
    """Branches that have the part's ESR at 120 Hz and at 100 kHz.

    A resistor R with C across it has the series resistance R / (1 + (f/fc)²): at 120 Hz, R / (1 + 1/9).
    """
    dielectric_ohm = max(reservoir.series_ohm - reservoir.high_series_ohm, 1e-4 * reservoir.series_ohm)
    loss_ohm = dielectric_ohm * (1.0 + LOSS_CORNER**-2)
    return ReservoirValues(
        temperature_c=temperature_c,
        capacitance_f=reservoir.capacitance_f,
        electrolyte_ohm=reservoir.electrolyte_ohm(temperature_c),
        loss_ohm=loss_ohm,
        loss_f=1.0 / (2 * math.pi * LOSS_CORNER * ESR_HZ * loss_ohm),
    )


def _string(string: LedString, temperature_c: float) -> StringValues:
    saturation_a = string.led_saturation_a * string.parallel
    emission = string.emission * string.series
    # n·Vt·ln(I/Is) is the same law for any Is once n·Vt·ln(Is'/Is) stands in series.
    engine_saturation_a = max(saturation_a, SMALLEST_SATURATION_A)
    raised_v = emission * THERMAL_VOLTAGE_25C_V * math.log(engine_saturation_a / saturation_a)
    return StringValues(
        series=string.series,
        parallel=string.parallel,
        temperature_c=temperature_c,
        saturation_a=engine_saturation_a,
        emission=emission,
        series_ohm=string.led_series_ohm * string.series / string.parallel,
        offset_v=raised_v + string.series * string.tempco_v_per_k * (temperature_c - 25.0),
        leakage_ohm=STRING_LEAKAGE_OHM,
    )


def sink_references_v(sinks: Sinks, die_c: float) -> list[float]:
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


def _sinks(sinks: Sinks, die_c: float) -> SinksValues:
    gate_f = sinks.gate_capacitance_f + sinks.reverse_capacitance_f
    return SinksValues(
        count=sinks.count,
        each=tuple(
            SinkValues(number, reference, sinks.sense_resistor_ohm)
            for number, reference in enumerate(sink_references_v(sinks, die_c), start=1)
        ),
        drain_capacitor_f=sinks.drain_capacitor_f,
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
    )


def circuit(lamp: Lamp, state: State, *, feed: str = "feed", inductor_a: float = 0.0) -> Circuit:
    """Element values of a lamp in a state.

    Parameters
    ----------
    lamp : Lamp
    state : State
        Supply, phase at t = 0, temperatures.
    feed : str
        Node the supply stage ends on.
    inductor_a : float
        Current in the supply inductance at t = 0 [A].
    """
    line_f = "line" if lamp.line_fusing is None else "line_f"
    neutral_f = "neutral" if lamp.neutral_fusing is None else "neutral_f"
    return Circuit(
        mains=MainsValues(
            peak_v=state.peak_v,
            frequency_hz=state.frequency_hz,
            phase_deg=state.phase_deg,
            resistance_ohm=lamp.mains.resistance_ohm,
            inductance_h=lamp.mains.inductance_h,
            damping_ohm=lamp.mains.damping_ohm,
            feed=feed,
            inductor_a=inductor_a,
        ),
        fusing=FusingValues(
            line_ohm=lamp.line_fusing.resistance_ohm if lamp.line_fusing else None,
            neutral_ohm=lamp.neutral_fusing.resistance_ohm if lamp.neutral_fusing else None,
        ),
        varistor=_varistor(lamp.varistor, line_f, neutral_f) if lamp.varistor else None,
        bridge=_bridge(lamp.bridge, line_f, neutral_f),
        bus=BusValues(
            film_f=lamp.film.capacitance_f if lamp.film else None,
            bleed_ohm=lamp.bleed.resistance_ohm if lamp.bleed else None,
            reservoir=_reservoir(lamp.reservoir, state.reservoir_c) if lamp.reservoir else None,
            stray_f=lamp.bridge.stray_capacitance_f,
        ),
        string=_string(lamp.string, state.string_c),
        sinks=_sinks(lamp.sinks, state.die_c),
    )
