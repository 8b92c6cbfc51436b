"""The parts of a lamp as branches of a charge network, from laws of our own: nothing of the decks is used.

From the lamp comes nothing but the values of its parts; from them this derives every law a second time. What
it shares with the decks is said in `independent_pulses`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from charge_network import ChannelLaw, Floats, Law, Network
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.varistor import Disc, Varistor
from independent_lamp import THERMAL_V

LARGEST_A = 3e3
"""No junction carries more: beyond it its exponential goes on as a straight line, which keeps it finite."""


RECTIFIER_BUILT_IN_V, BODY_BUILT_IN_V = 1.0, 0.8
BREAKDOWN_A = 1e-5
"""Current at which a junction counts as broken down."""
CLAMP_SATURATION_A = BODY_SATURATION_A = 1e-14


def exponential(
    saturation_a: float, slope_v: float, breakdown_v: float = math.inf, breakdown_a: float = 0.0
) -> Law:
    """I = Is (exp(v/s) - 1), less a breakdown current that grows by e each kT/q beyond a voltage."""
    most = math.log(LARGEST_A / saturation_a)

    def law(v: Floats) -> tuple[Floats, Floats]:
        value, slope = _exp(v / slope_v, most)
        current, conductance = saturation_a * (value - 1.0), saturation_a * slope / slope_v
        if breakdown_v < math.inf:
            value, slope = _exp(-(v + breakdown_v) / THERMAL_V, math.log(LARGEST_A / breakdown_a))
            current = current - breakdown_a * value
            conductance = conductance + breakdown_a * slope / THERMAL_V
        return current, conductance + 1e-12

    return law


def _exp(u: Floats, most: float) -> tuple[Floats, Floats]:
    held = np.exp(np.minimum(u, most))
    return held * (1.0 + np.maximum(u - most, 0.0)), held


def junction_charge(
    zero_f: float, built_in_v: float, stored: Law | None = None, storage_s: float = 0.0
) -> Law:
    """Charge of C0/sqrt(1 - v/V0), straight on above half V0, and what a current stores."""
    half_v = 0.5 * built_in_v

    def law(v: Floats) -> tuple[Floats, Floats]:
        root = np.sqrt(1.0 - np.minimum(v, half_v) / built_in_v)
        beyond = np.maximum(v - half_v, 0.0)
        capacitance = zero_f / root * (1.0 + beyond / (2.0 * (built_in_v - half_v)))
        charge = 2.0 * zero_f * built_in_v * (1.0 - root)
        charge = charge + zero_f / root * (beyond + beyond**2 / (4.0 * (built_in_v - half_v)))
        if stored is not None:
            current, conductance = stored(v)
            charge, capacitance = charge + storage_s * current, capacitance + storage_s * conductance
        return charge, capacitance

    return law


def power_law(one_milliamp_v: Floats | float, exponent: Floats | float) -> Law:
    """I = 1 mA (v/V1)^a, of either sign; a straight line above 20 kA."""
    most_v = one_milliamp_v * (20e3 / 1e-3) ** (1.0 / exponent)

    def law(v: Floats) -> tuple[Floats, Floats]:
        size = np.minimum(np.abs(v), most_v)
        current = 1e-3 * (size / one_milliamp_v) ** exponent
        slope = 1e-3 * exponent / one_milliamp_v * (size / one_milliamp_v) ** (exponent - 1.0)
        return np.sign(v) * (current + slope * (np.abs(v) - size)), slope + 1e-12

    return law


def square_law(gain_a_per_v2: float, threshold_v: float, on_ohm: float) -> ChannelLaw:
    """Channel K/2 (u^2 - (u - w)^2) behind a resistance, w its own drain voltage, at most u = Vgs - Vt.

    With w = V - R I the resistance leads to a quadratic in w.
    """
    k, r = gain_a_per_v2, on_ohm

    def law(gate_v: Floats, drain_v: Floats) -> tuple[Floats, Floats, Floats]:
        u = np.maximum(gate_v - threshold_v, 0.0)
        saturated = drain_v - r * 0.5 * k * u**2 >= u
        b = 1.0 + k * r * u
        own_v = np.where(saturated, u, (b - np.sqrt(np.maximum(b**2 - 2.0 * k * r * drain_v, 0.0))) / (k * r))
        by_drain = np.where(saturated, 0.0, k * (u - own_v))
        damped = 1.0 + r * by_drain
        return k * (u * own_v - 0.5 * own_v**2), k * own_v / damped, by_drain / damped + 1e-12

    return law


def add_lamp(network: Network, lamp: Lamp, discs: Sequence[Disc], sections: int = 1) -> None:
    """Add the lamp from its terminals, line and neutral; the reference is the minus of its bridge.

    `discs` are those of the varistor, one for all runs or one a run. A string in `sections` has the nodes
    "joint 1" and so on between them.
    """
    line, neutral = "line", "neutral"
    if lamp.line_fusing:
        line = "line_f"
        network.resistor("line", line, lamp.line_fusing.resistance_ohm)
    if lamp.neutral_fusing:
        neutral = "neutral_f"
        network.resistor("neutral", neutral, lamp.neutral_fusing.resistance_ohm)
    if lamp.varistor:
        a, b = varistor_ends(lamp)
        network.resistor(a, "disc", lamp.varistor.series_resistance_ohm)
        network.current(power_law(*disc_law(lamp.varistor, discs)), ("disc", b))
        network.capacitor(a, b, lamp.varistor.terminal_f)

    bridge = lamp.bridge
    slope_v = bridge.emission * THERMAL_V
    at_junction_v = bridge.forward_voltage_v - bridge.series_resistance_ohm * bridge.forward_current_a
    rectifier = exponential(
        bridge.forward_current_a / math.expm1(at_junction_v / slope_v),
        slope_v,
        bridge.breakdown_voltage_v or 1.1 * bridge.reverse_voltage_v,
        BREAKDOWN_A,
    )
    pairs = ((line, "line up"), (neutral, "neutral up"), ("line down", line), ("neutral down", neutral))
    network.current(rectifier, *pairs)
    network.charge(
        junction_charge(
            bridge.junction_capacitance_f, RECTIFIER_BUILT_IN_V, rectifier, bridge.storage_time_s
        ),
        *pairs,
    )
    for joint, far in (("line up", "bus"), ("neutral up", "bus"), ("line down", "0"), ("neutral down", "0")):
        network.resistor(joint, far, bridge.series_resistance_ohm)

    network.capacitor(
        "bus", "0", bridge.stray_capacitance_f + (lamp.film.capacitance_f if lamp.film else 0.0)
    )
    if lamp.bleed:
        network.resistor("bus", "0", lamp.bleed.resistance_ohm)
    if lamp.reservoir:
        # The loss of the dielectric by one corner at 360 Hz, so that the ESR at 120 Hz is the one told.
        reservoir = lamp.reservoir
        loss_ohm = (reservoir.series_ohm - reservoir.high_series_ohm) * (1.0 + (120.0 / 360.0) ** 2)
        network.resistor("bus", "electrolyte", reservoir.high_series_ohm)
        network.resistor("electrolyte", "reservoir", loss_ohm)
        network.capacitor("electrolyte", "reservoir", 1.0 / (2.0 * math.pi * 360.0 * loss_ohm))
        network.capacitor("reservoir", "0", reservoir.capacitance_f)

    led = lamp.string
    slope_v = led.emission * THERMAL_V
    led_ohm = led.dynamic_ohm - slope_v / led.forward_current_a
    led_a = led.forward_current_a / math.expm1(
        (led.forward_voltage_v - led_ohm * led.forward_current_a) / slope_v
    )
    ends = ["bus", *(f"joint {n}" for n in range(1, sections)), "drain"]
    insides = ["string", *(f"string {n}" for n in range(2, sections + 1))]
    each = list(zip(ends, insides, ends[1:], strict=False))
    law = exponential(led_a * led.parallel, slope_v * led.series / sections)
    network.current(law, *((upper, inside) for upper, inside, _ in each))
    for _, inside, lower in each:
        network.resistor(inside, lower, led_ohm * led.series / led.parallel / sections)
    add_sinks(network, lamp)


def disc_law(varistor: Varistor, discs: Sequence[Disc]) -> tuple[Floats, Floats]:
    """Voltage at 1 mA and exponent of some discs, each a column.

    The catalogue tells the nominal disc at 1 mA and the high one at its clamping current: nominal clamping is
    lower by the tolerance, and all of the low disc lower than the nominal one by as much again.
    """
    one_milliamp_v, clamping_v = varistor.one_milliamp_voltage_v, varistor.clamping_voltage_v
    up, down = 1.0 + varistor.tolerance_ratio, 1.0 - varistor.tolerance_ratio
    points_v = {
        "high": (one_milliamp_v, clamping_v),
        "nominal": (one_milliamp_v, clamping_v / up),
        "low": (down * one_milliamp_v, down * clamping_v / up),
    }
    at_v, top_v = np.array([points_v[disc] for disc in discs]).T[:, :, None]
    drop_v = varistor.series_resistance_ohm * varistor.clamping_current_a
    return at_v, math.log(varistor.clamping_current_a / 1e-3) / np.log((top_v - drop_v) / at_v)


def varistor_ends(lamp: Lamp) -> tuple[str, str]:
    """Nodes that the varistor lies between."""
    assert lamp.varistor is not None
    line = "line_f" if lamp.line_fusing and lamp.varistor.place != "mains terminals" else "line"
    behind_both = lamp.neutral_fusing and lamp.varistor.place == "behind both fusing"
    return line, "neutral_f" if behind_both else "neutral"


def add_sinks(network: Network, lamp: Lamp) -> None:
    """Add the sinks from the drain node to the reference."""
    sinks = lamp.sinks
    fan = np.linspace(-1.0, 1.0, sinks.count) if sinks.count > 1 else np.zeros(1)
    references_v = sinks.sense_voltage_v * (1.0 + sinks.spread_ratio * fan)
    input_f = sinks.gate_capacitance_f + sinks.reverse_capacitance_f
    gain_per_v = 2.0 * math.pi * sinks.bandwidth_hz * input_f / sinks.gate_drive_a
    # With all of the drive in its clamp the gate stands at threshold, sense voltage and headroom.
    clamp_v = THERMAL_V * math.log1p(sinks.gate_drive_a / CLAMP_SATURATION_A)
    held_v = sinks.gate_threshold_v + sinks.sense_voltage_v + sinks.gate_headroom_v - clamp_v
    gain_a_per_v2 = sinks.transconductance_a_per_v2 or 2.0 * sinks.peak_current_a / 1.4**2
    clamp = exponential(CLAMP_SATURATION_A, THERMAL_V)

    def amplifier(v: Floats) -> tuple[Floats, Floats]:
        # All sinks come in one array, in their order.
        share = np.tanh(gain_per_v * (references_v - v))
        return sinks.gate_drive_a * share, -sinks.gate_drive_a * gain_per_v * (1.0 - share**2)

    def high_clamp(v: Floats) -> tuple[Floats, Floats]:
        return clamp(v - held_v)

    names = [(f"gate {n}", f"sense {n}") for n in range(sinks.count)]
    network.controlled(amplifier, *(("0", gate, sense, "0") for gate, sense in names))
    network.current(clamp, *(("0", gate) for gate, _ in names))
    network.current(high_clamp, *((gate, "0") for gate, _ in names))
    network.transistors(
        square_law(gain_a_per_v2, sinks.gate_threshold_v, sinks.on_resistance_ohm),
        *(("drain", gate, sense) for gate, sense in names),
    )
    body = exponential(BODY_SATURATION_A, THERMAL_V, breakdown_v(lamp), BREAKDOWN_A)
    network.current(body, *((sense, "drain") for _, sense in names))
    network.charge(
        junction_charge(sinks.output_capacitance_f, BODY_BUILT_IN_V),
        *((sense, "drain") for _, sense in names),
    )
    for gate, sense in names:
        network.capacitor(gate, sense, sinks.gate_capacitance_f)
        network.capacitor("drain", gate, sinks.reverse_capacitance_f)
        network.resistor(sense, "0", sinks.sense_resistor_ohm)
    if sinks.drain_capacitor_f:
        network.capacitor("drain", "0", sinks.drain_capacitor_f)


def breakdown_v(lamp: Lamp) -> float:
    """Drain voltage at which the sinks break down, 10 % above the rating unless the lamp tells [V]."""
    return lamp.sinks.avalanche_voltage_v or 1.1 * lamp.sinks.drain_voltage_v


def add_mains(
    network: Network,
    lamp: Lamp,
    voltage_v: float,
    frequency_hz: float,
    phases_deg: Sequence[float],
    *,
    back: str = "neutral",
    feed: str,
) -> None:
    """Add the supply, t = 0 at a phase a run, between the neutral and a node."""
    phases = np.radians(phases_deg)
    peak_v, omega = math.sqrt(2.0) * voltage_v, 2.0 * math.pi * frequency_hz
    network.source(
        "wiring", back, lamp.mains.resistance_ohm, lambda time_s: peak_v * np.sin(omega * time_s + phases)
    )
    network.coil("mains coil", "wiring", feed, lamp.mains.inductance_h)
    network.resistor("wiring", feed, lamp.mains.damping_ohm)
