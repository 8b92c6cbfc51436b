"""The whole lamp as differential equations of our own, integrated by scipy: a second opinion without SPICE.

Nothing here is shared with the decks but the lamp's part values. The circuit is written as charge balances:

* supply inductance, current i:        L di/dt = R_damping (i_in - i)
* node of the varistor, voltage v:     C_v dv/dt = i_in - i_bridge - i_varistor(v)
* bus, voltage b:                      C_b db/dt = i_rect - b / R_bleed - i_r - i_string(b - d)
* reservoir, voltage q, behind its electrolyte and the loss of its dielectric, voltage p:
  C_r dq/dt = i_r = (b - p - q) / R_e, C_p dp/dt = i_r - p / R_p
* drain node, voltage d:               C_d dd/dt = i_string(b - d) - sum of the sinks' currents

Junctions are exponential with a series resistance and are solved in closed form by Wright's omega function,
so every right-hand side is explicit. The loop through the bridge (two diodes and every resistor in series
with them) is one such junction.

Left out, because they act within microseconds: charge storage and capacitance of the bridge, and the control
loop of the sinks, which here hold their set current at once, or pass what their resistances let through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.constants import elementary_charge, k, zero_Celsius
from scipy.integrate import solve_ivp
from scipy.special import wrightomega

from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp

Floats = NDArray[np.float64]

THERMAL_V = k * (zero_Celsius + 25.0) / elementary_charge
_INDUCTOR, _VARISTOR, _BUS, _RESERVOIR, _DRAIN, _LOSS = range(6)
_RELATIVE = _ABSOLUTE = 1e-5
_PERIODIC_V = 2e-3
_MOST_HALF_CYCLES = 400
_POINTS_A_STEP = 8


@dataclass(frozen=True)
class Junction:
    """V = n kT/q ln(1 + I/Is) + R I, solved for I."""

    saturation_a: float
    slope_v: float
    series_ohm: float

    def current_a(self, volt: Floats) -> Floats:
        """Current at a voltage; w + ln w = z has the solution w = omega(z)."""
        scale_a = self.slope_v / self.series_ohm
        offset = self.saturation_a / scale_a
        z = volt / self.slope_v + offset + math.log(offset)
        return np.asarray(scale_a * wrightomega(z) - self.saturation_a)


@dataclass(frozen=True)
class Flows:
    """Voltages and currents that follow from the state, one value an instant."""

    terminal_v: Floats
    input_a: Floats
    bridge_a: Floats
    bridge_v: Floats
    varistor_a: Floats
    bus_v: Floats
    bleed_a: Floats
    reservoir_a: Floats
    loss_v: Floats
    string_v: Floats
    string_a: Floats
    drain_v: Floats
    sinks_a: Floats


class LampEquations:
    """Right-hand sides of one cold lamp on one supply, t = 0 at a phase of the sine."""

    def __init__(self, lamp: Lamp, voltage_v: float, frequency_hz: float, phase_deg: float = 0.0) -> None:
        self.lamp = lamp
        self.peak_v = math.sqrt(2.0) * voltage_v
        self.frequency_hz = frequency_hz
        self._omega = 2.0 * math.pi * frequency_hz
        self._phase = math.radians(phase_deg)

        bridge = lamp.bridge
        slope_v = bridge.emission * THERMAL_V
        at_junction_v = bridge.forward_voltage_v - bridge.series_resistance_ohm * bridge.forward_current_a
        self._rectifier_is_a = bridge.forward_current_a / math.expm1(at_junction_v / slope_v)
        self._rectifier_slope_v = slope_v

        led = lamp.string
        slope_v = led.emission * THERMAL_V
        led_ohm = led.dynamic_ohm - slope_v / led.forward_current_a
        junction_v = led.forward_voltage_v - led_ohm * led.forward_current_a
        led_is_a = led.forward_current_a / math.expm1(junction_v / slope_v)
        self._string = Junction(
            led_is_a * led.parallel, slope_v * led.series, led_ohm * led.series / led.parallel
        )

        sinks = lamp.sinks
        fan = np.linspace(-1.0, 1.0, sinks.count) if sinks.count > 1 else np.zeros(1)
        self._set_a = (sinks.sense_voltage_v / sinks.sense_resistor_ohm) * (1.0 + sinks.spread_ratio * fan)
        # Square law, fully on.
        channel_ohm = 1.0 / (sinks.gain_a_per_v2 * sinks.gate_headroom_v)
        self._open_ohm = sinks.on_resistance_ohm + sinks.sense_resistor_ohm + channel_ohm
        self._drain_f = (sinks.drain_capacitor_f or 0.0) + sinks.count * sinks.output_capacitance_f

        # The dielectric's loss by one corner at 360 Hz, so that the ESR at 120 Hz is the one told.
        esr = lamp.reservoir
        dielectric_ohm = esr.series_ohm - esr.high_series_ohm if esr else 1.0
        self.loss_ohm = dielectric_ohm * (1.0 + (120.0 / 360.0) ** 2)
        self._loss_f = 1.0 / (2.0 * math.pi * 360.0 * self.loss_ohm)

        self._bus_f = bridge.stray_capacitance_f + (lamp.film.capacitance_f if lamp.film else 0.0)

    @property
    def fusing_ohm(self) -> tuple[float, float]:
        """Fusing resistance before and behind the varistor; all of it before when there is none."""
        line = self.lamp.line_fusing.resistance_ohm if self.lamp.line_fusing else 0.0
        neutral = self.lamp.neutral_fusing.resistance_ohm if self.lamp.neutral_fusing else 0.0
        if self.lamp.varistor is None:
            return line + neutral, 0.0
        return {
            "mains terminals": (0.0, line + neutral),
            "behind line fusing": (line, neutral),
            "behind both fusing": (line + neutral, 0.0),
        }[self.lamp.varistor.place]

    def _loop_a(self, source_v: Floats, bus_v: Floats, series_ohm: float) -> Floats:
        """Current a source drives through resistance and two diodes into the bus, signed as the source."""
        pair = Junction(
            self._rectifier_is_a,
            2.0 * self._rectifier_slope_v,
            series_ohm + 2.0 * self.lamp.bridge.series_resistance_ohm,
        )
        return pair.current_a(source_v - bus_v) - pair.current_a(-source_v - bus_v)

    def _varistor_a(self, volt: Floats) -> Floats:
        """Power law through both catalogue points; its series resistance is nothing at a mains current."""
        varistor = self.lamp.varistor
        assert varistor is not None
        # The nominal disc: a catalogue tells the clamping voltage of the one at the upper tolerance.
        at_clamping_v = (
            varistor.clamping_voltage_v / (1.0 + varistor.tolerance_ratio)
            - varistor.series_resistance_ohm * varistor.clamping_current_a
        )
        exponent = math.log(varistor.clamping_current_a / 1e-3) / math.log(
            at_clamping_v / varistor.one_milliamp_voltage_v
        )
        return np.asarray(np.sign(volt) * 1e-3 * (np.abs(volt) / varistor.one_milliamp_voltage_v) ** exponent)

    def flows(self, time_s: Floats, state: Floats) -> Flows:
        """Voltages and currents of the parts.

        Parameters
        ----------
        time_s : () or (n,) array
        state : (6,) or (6, n) array
        """
        inductor_a, varistor_v, bus_v, reservoir_v, drain_v, loss_v = state
        lamp, before_ohm, behind_ohm = self.lamp, *self.fusing_ohm
        source_v = self.peak_v * np.sin(self._omega * time_s + self._phase)
        # Source behind the damping resistor; the inductor's own current adds a voltage across it.
        thevenin_v = source_v + lamp.mains.damping_ohm * inductor_a
        thevenin_ohm = lamp.mains.resistance_ohm + lamp.mains.damping_ohm
        if lamp.varistor is None:
            input_a = bridge_a = self._loop_a(thevenin_v, bus_v, thevenin_ohm + before_ohm)
            varistor_a = np.zeros_like(input_a)
        else:
            input_a = (thevenin_v - varistor_v) / (thevenin_ohm + before_ohm)
            bridge_a = self._loop_a(varistor_v, bus_v, behind_ohm)
            varistor_a = self._varistor_a(varistor_v)
        terminal_v = thevenin_v - thevenin_ohm * input_a
        bridge_v = terminal_v - before_ohm * input_a - behind_ohm * bridge_a
        string_v = bus_v - drain_v
        esr = lamp.reservoir
        return Flows(
            terminal_v=terminal_v,
            input_a=input_a,
            bridge_a=bridge_a,
            bridge_v=bridge_v,
            varistor_a=varistor_a,
            bus_v=bus_v,
            bleed_a=bus_v / lamp.bleed.resistance_ohm if lamp.bleed else np.zeros_like(bus_v),
            reservoir_a=(bus_v - loss_v - reservoir_v) / esr.high_series_ohm if esr else np.zeros_like(bus_v),
            loss_v=loss_v,
            string_v=string_v,
            string_a=self._string.current_a(string_v),
            drain_v=drain_v,
            sinks_a=np.minimum.outer(self._set_a, drain_v / self._open_ohm),
        )

    def slopes(self, time_s: Floats, state: Floats) -> Floats:
        """Time derivatives of the state; a state that the lamp does not have stands still."""
        now, lamp = self.flows(time_s, state), self.lamp
        slopes = np.zeros_like(state)
        mains = lamp.mains
        slopes[_INDUCTOR] = mains.damping_ohm * (now.input_a - state[_INDUCTOR]) / mains.inductance_h
        if lamp.varistor:
            slopes[_VARISTOR] = (now.input_a - now.bridge_a - now.varistor_a) / lamp.varistor.terminal_f
        rectified_a = np.abs(now.bridge_a)
        slopes[_BUS] = (rectified_a - now.bleed_a - now.reservoir_a - now.string_a) / self._bus_f
        if lamp.reservoir:
            slopes[_RESERVOIR] = now.reservoir_a / lamp.reservoir.capacitance_f
            slopes[_LOSS] = (now.reservoir_a - state[_LOSS] / self.loss_ohm) / self._loss_f
        slopes[_DRAIN] = (now.string_a - now.sinks_a.sum(axis=0)) / self._drain_f
        return slopes

    def integrate(self, state: Floats, start_s: float, stop_s: float) -> tuple[Floats, Floats]:
        """Instants and states of a run, several points within each step of the solver."""
        run = solve_ivp(
            self.slopes,
            (start_s, stop_s),
            state,
            method="Radau",
            rtol=_RELATIVE,
            atol=_ABSOLUTE,
            max_step=0.01 / self.frequency_hz,
            vectorized=True,
            dense_output=True,
        )
        assert run.success, run.message
        assert run.sol is not None
        within = np.arange(_POINTS_A_STEP) / _POINTS_A_STEP
        time_s = np.append((run.t[:-1, None] + np.diff(run.t)[:, None] * within).ravel(), stop_s)
        return time_s, run.sol(time_s)


def mean(time_s: Floats, values: Floats) -> float:
    """Time mean by the trapezium rule."""
    return float(np.trapezoid(values, time_s) / (time_s[-1] - time_s[0]))


def steady(lamp: Lamp, voltage_v: float, frequency_hz: float) -> dict[str, float]:
    """Readings of the cold lamp over a half cycle that repeats the one before, by the ids of the benches."""
    equations = LampEquations(lamp, voltage_v, frequency_hz)
    half_s = 0.5 / frequency_hz
    state = np.zeros(6)
    state[_BUS] = state[_RESERVOIR] = 0.9 * equations.peak_v if lamp.reservoir else 0.5 * equations.peak_v
    mirror = np.array([-1.0, -1.0, 1.0, 1.0, 1.0, 1.0])
    for _ in range(_MOST_HALF_CYCLES):
        # Both half waves are alike: each begins at phase 0 in the mirror image of how the last one ended.
        time_s, states = equations.integrate(state, 0.0, half_s)
        ended = mirror * states[:, -1]
        change_v = np.abs(ended - state)[_BUS:].max()
        state = ended
        if change_v < _PERIODIC_V:
            return _readings(lamp, time_s, equations.flows(time_s, states), equations)
    raise RuntimeError(f"not periodic after {_MOST_HALF_CYCLES} half cycles")


def _readings(lamp: Lamp, time_s: Floats, found: Flows, equations: LampEquations) -> dict[str, float]:
    def watts(volt: Floats, ampere: Floats) -> float:
        return mean(time_s, volt * ampere)

    def rms(values: Floats) -> float:
        return math.sqrt(mean(time_s, values**2))

    before_ohm, behind_ohm = equations.fusing_ohm
    input_w = watts(found.terminal_v, found.input_a)
    return {
        "input_power_W": input_w,
        "input_current_A": rms(found.input_a),
        "power_factor": input_w / (rms(found.terminal_v) * rms(found.input_a)),
        "bus_mean_V": mean(time_s, found.bus_v),
        "bus_ripple_V": float(np.ptp(found.bus_v)),
        "led_current_A": mean(time_s, found.string_a),
        "string_W": watts(found.string_v, found.string_a),
        "sinks_W": watts(found.drain_v, found.sinks_a.sum(axis=0)),
        "sink_worst_W": max(watts(found.drain_v, each_a) for each_a in found.sinks_a),
        "fusing_W": before_ohm * rms(found.input_a) ** 2 + behind_ohm * rms(found.bridge_a) ** 2,
        "bridge_W": watts(found.bridge_v, found.bridge_a) - watts(found.bus_v, np.abs(found.bridge_a)),
        "bleed_W": watts(found.bus_v, found.bleed_a),
        "reservoir_W": watts(found.reservoir_a, found.reservoir_a) * lamp.reservoir.high_series_ohm
        + watts(found.loss_v, found.loss_v) / equations.loss_ohm
        if lamp.reservoir
        else 0.0,
    }


def inrush_peak_a(lamp: Lamp, voltage_v: float, frequency_hz: float, angle_deg: float) -> float:
    """Largest input current from connecting an empty lamp at an angle to just past the sine's peak [A]."""
    equations = LampEquations(lamp, voltage_v, frequency_hz, angle_deg)
    stop_s = (max(0.0, 90.0 - angle_deg) / 360.0 + 0.1) / frequency_hz
    time_s, states = equations.integrate(np.zeros(6), 0.0, stop_s)
    return float(np.abs(equations.flows(time_s, states).input_a).max())


def switched_on(lamp: Lamp, voltage_v: float, frequency_hz: float, angle_deg: float) -> dict[str, float]:
    """Highest bus and I²t of an empty lamp connected at an angle, half wave by half wave until it is charged.

    I²t counts up to the first half wave in which the bus comes within 1 % of the highest it ever reaches.
    """
    equations = LampEquations(lamp, voltage_v, frequency_hz, angle_deg)
    half_s = 0.5 / frequency_hz
    state, tops_v = np.zeros(6), [0.0]
    each_a2s: list[float] = []
    while len(tops_v) < 8 or tops_v[-1] - tops_v[-4] > 3e-4 * tops_v[-1]:
        began_s = len(each_a2s) * half_s
        time_s, states = equations.integrate(state, began_s, began_s + half_s)
        state = states[:, -1]
        found = equations.flows(time_s, states)
        tops_v.append(float(found.bus_v.max()))
        each_a2s.append(float(np.trapezoid(found.input_a**2, time_s)))
    charged = next(n for n, top_v in enumerate(tops_v) if top_v >= 0.99 * max(tops_v))
    return {"bus_peak_V": max(tops_v), "inrush_i2t_A2s": sum(each_a2s[:charged])}
