"""A lamp with linear sinks reduced to one half wave of its mains: what filters and orders candidates.

    (|v(t)| - 2 Vf - v_b) / R  =  i_string(v_b) + (v_b - v_c) / (ESR + dt/C) + C_f dv_b/dt + v_b / R_b

with the current from the mains never negative: source and legs are one resistance, the bridge two constant
drops, the string its own curve in series with the fully driven sinks up to their set current, the reservoir
a capacitance behind its resistance at 120 Hz. Each step is an implicit one, solved for the bus; half waves
follow one another until the capacitors end as they began. Left out: the inductance of the mains, storage in
the bridge, the loop of the sinks, temperature.

Valid for a bridge, one string and linear sinks, with parts in series with the mains as resistances; within 3
% of the decks on watts, mean light and ripple with a reservoir. It is a filter and an order. No number of it
is ever shown as a reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.parts import THERMAL_VOLTAGE_25C_V
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.parts.roles import Resists
from coldiron.readings.flicker import svm_threshold

Array = NDArray[np.float64]

STEPS: Final = 250
"""Steps of a half wave: with twice as many no reading moves by more than 0.5 %."""
MOST_HALF_WAVES: Final = 60
SETTLED_RATIO: Final = 3e-4
_CURVE: Final = 700
"""Points of the curve of string and sinks, over the crest of the mains."""
_TOGETHER: Final = 4096
"""Lamps computed side by side."""
_SVM_EXPONENT: Final = 3.7
_SVM_HIGHEST_HZ: Final = 2000.0
_SPAN: Final = 1.3


class Curve(NamedTuple):
    """String and fully driven sinks: N·(n·Vt·ln(1 + i/Is) + R·i) + R_on·i up to the set current."""

    series: int
    emission_v: float
    saturation_a: float
    series_ohm: float
    set_a: float
    on_ohm: float

    def string_v(self, amps: Array) -> Array:
        """Voltage of the string at currents [V]."""
        return np.asarray(
            self.series * (self.emission_v * np.log1p(amps / self.saturation_a) + self.series_ohm * amps)
        )


READINGS: Final = (
    "input_power_W", "input_current_A", "line_fusing_W", "neutral_fusing_W", "sinks_W", "sink_worst_W",
    "bleed_W", "bridge_mean_A", "bus_mean_V", "bus_highest_V", "led_held_A", "light_A", "flicker_pct", "svm",
    "reservoir_ripple_A", "reservoir_highest_V", "discharge_50V_s",
)  # fmt: skip
"""Ids of what it gives."""


@dataclass(frozen=True)
class Reduced:
    """A lamp as the half wave sees it; `curve` tells which string and sinks it has."""

    peak_v: float
    voltage_v: float
    frequency_hz: float
    source_ohm: float
    line_ohm: float
    neutral_ohm: float
    drops_v: float
    reservoir_f: float
    esr_ohm: float
    film_f: float
    bleed_ohm: float
    count: int
    spread_ratio: float
    curve: Curve


def reduced(lamp: Lamp, voltage_v: float, frequency_hz: float) -> Reduced | None:
    """Reduce a lamp on a supply; None where the half wave cannot stand for it."""
    # A topology made from this one has parts that it does not know.
    if type(lamp) is not LinearSinksLamp or lamp.states:
        return None
    circuit, sinks, string = lamp.circuit, lamp.sinks, lamp.string
    legs = circuit.carrying_mains()
    resists = [part for part in legs if isinstance(part, Resists)]
    if any(not any(part.name == further.name for part in resists) for further in lamp.further):
        return None
    if sinks.foldback_power_w is not None or len(circuit.lights) != 1:
        return None
    bridge, reservoir = lamp.bridge, lamp.reservoir
    ohm = {part.name: part.cold_ohm for part in resists}
    return Reduced(
        peak_v=math.sqrt(2.0) * voltage_v,
        voltage_v=voltage_v,
        frequency_hz=frequency_hz,
        source_ohm=lamp.mains.resistance_ohm + sum(ohm.values()) + 2.0 * bridge.series_resistance_ohm,
        line_ohm=ohm.get("line_fusing", 0.0),
        neutral_ohm=ohm.get("neutral_fusing", 0.0),
        drops_v=2.0 * (bridge.forward_voltage_v - bridge.series_resistance_ohm * bridge.forward_current_a),
        reservoir_f=reservoir.capacitance_f if reservoir else 0.0,
        esr_ohm=reservoir.series_ohm if reservoir else 0.0,
        film_f=bridge.stray_capacitance_f + (lamp.film.capacitance_f if lamp.film else 0.0),
        bleed_ohm=lamp.bleed.resistance_ohm if lamp.bleed else math.inf,
        count=sinks.count,
        spread_ratio=sinks.spread_ratio,
        curve=Curve(
            series=string.series,
            emission_v=string.emission * THERMAL_VOLTAGE_25C_V,
            saturation_a=string.led_saturation_a * string.parallel,
            series_ohm=string.led_series_ohm / string.parallel,
            set_a=sinks.set_current_a,
            on_ohm=(sinks.on_resistance_ohm + sinks.sense_resistor_ohm) / sinks.count,
        ),
    )


def half_cycle_readings(lamps: Sequence[Reduced]) -> dict[str, Array]:
    """Settled readings of lamps by the ids that the benches have, one value a lamp.

    Parameters
    ----------
    lamps : sequence of Reduced
        On any supplies.
    """
    parts = [_side_by_side(lamps[first : first + _TOGETHER]) for first in range(0, len(lamps), _TOGETHER)]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]} if parts else {}


def _side_by_side(lamps: Sequence[Reduced]) -> dict[str, Array]:
    def column(name: str) -> Array:
        return np.array([getattr(lamp, name) for lamp in lamps], dtype=float)

    peak_v, source_ohm, drops_v = column("peak_v"), column("source_ohm"), column("drops_v")
    half_s = 0.5 / column("frequency_hz")
    step_s = half_s / STEPS
    stored_f, film_f = column("reservoir_f"), column("film_f")
    has = stored_f > 0.0
    with np.errstate(divide="ignore"):
        store_s = np.where(has, 1.0 / (column("esr_ohm") + step_s / np.where(has, stored_f, 1.0)), 0.0)
        bleed_s = 1.0 / column("bleed_ohm")
    film_s, mains_s = film_f / step_s, 1.0 / source_ohm
    curves = _Curves(lamps, _SPAN * float(peak_v.max()))
    still_v = 0.97 * peak_v - drops_v
    bus_v, own_v = still_v.copy(), np.where(has, still_v, 0.0)
    rows = np.zeros((7, STEPS, len(lamps)))
    for _ in range(MOST_HALF_WAVES):
        began_v, began_own_v = bus_v, own_v
        for step in range(STEPS):
            ahead_v = peak_v * math.sin(math.pi * (step + 1) / STEPS) - drops_v
            held = film_s * bus_v + store_s * own_v
            bus_v, led_a, string_v = curves.solve(bus_v, ahead_v, mains_s, film_s + store_s + bleed_s, held)
            store_a = store_s * (bus_v - own_v)
            own_v = own_v + np.where(has, step_s * store_a / np.where(has, stored_f, 1.0), 0.0)
            rows[0, step], rows[1, step] = np.maximum(ahead_v - bus_v, 0.0) * mains_s, led_a
            rows[2, step], rows[3, step], rows[4, step] = bus_v, store_a, own_v
            rows[5, step], rows[6, step] = string_v, ahead_v + drops_v
        moved_v = np.maximum(np.abs(own_v - began_own_v), np.where(has, 0.0, np.abs(bus_v - began_v)))
        if bool((moved_v < SETTLED_RATIO * peak_v).all()):
            break
    return _read(lamps, rows, bleed_s)


def _read(lamps: Sequence[Reduced], rows: Array, bleed_s: Array) -> dict[str, Array]:
    """Readings of settled half waves."""
    input_a, led_a, bus_v, store_a, own_v, string_v, mains_v = rows

    def column(name: str) -> Array:
        return np.array([getattr(lamp, name) for lamp in lamps], dtype=float)

    line_ohm, neutral_ohm = column("line_ohm"), column("neutral_ohm")
    count, spread_ratio, frequency_hz = column("count"), column("spread_ratio"), column("frequency_hz")
    square = np.mean(input_a**2, axis=0)
    watts = np.mean(mains_v * input_a, axis=0)
    sinks_w = np.mean((bus_v - string_v) * led_a, axis=0)
    high, low = led_a.max(axis=0), led_a.min(axis=0)
    has = column("reservoir_f") > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        flicker = 100.0 * (high - low) / (high + low)
    found = {
        "input_power_W": watts,
        "input_current_A": np.sqrt(square),
        "line_fusing_W": line_ohm * square,
        "neutral_fusing_W": neutral_ohm * square,
        "sinks_W": sinks_w,
        "sink_worst_W": sinks_w / count * (1.0 + np.where(count > 1, spread_ratio, 0.0)),
        "bleed_W": np.mean(bus_v**2, axis=0) * bleed_s,
        "bridge_mean_A": np.mean(input_a, axis=0),
        "bus_mean_V": np.mean(bus_v, axis=0),
        "bus_highest_V": bus_v.max(axis=0),
        "led_held_A": np.sort(led_a, axis=0)[-max(1, STEPS // 10)],
        "light_A": np.mean(led_a, axis=0),
        "flicker_pct": flicker,
        "svm": _svm(led_a, frequency_hz),
        "reservoir_ripple_A": np.where(has, np.sqrt(np.mean(store_a**2, axis=0)), np.nan),
        "reservoir_highest_V": np.where(has, own_v.max(axis=0), np.nan),
    }
    found["discharge_50V_s"] = _emptied_s(lamps, found["bus_highest_V"], 50.0)
    return found


def _emptied_s(lamps: Sequence[Reduced], from_v: Array, to_v: float) -> Array:
    """Time in which the bleed resistor alone brings the bus down [s]: R C ln(V0/V)."""
    tau_s = np.array([lamp.bleed_ohm * (lamp.reservoir_f + lamp.film_f) for lamp in lamps])
    return np.asarray(tau_s * np.log(np.maximum(from_v / to_v, 1.0)))


def _svm(led_a: Array, frequency_hz: Array) -> Array:
    """Stroboscopic visibility of lights that repeat each half wave."""
    lines = np.abs(np.fft.rfft(led_a, axis=0)) * 2.0 / len(led_a)
    orders = np.arange(1, len(lines))
    at_hz = 2.0 * frequency_hz[None, :] * orders[:, None]
    seen = at_hz <= _SVM_HIGHEST_HZ
    with np.errstate(divide="ignore", invalid="ignore"):
        share = 2.0 * lines[1:] / lines[0]
    visible = np.where(seen, share / svm_threshold(at_hz), 0.0)
    return np.asarray(np.sum(visible**_SVM_EXPONENT, axis=0) ** (1.0 / _SVM_EXPONENT))


class _Curves:
    """Current of string and fully driven sinks over the bus, as straight lines."""

    def __init__(self, lamps: Sequence[Reduced], highest_v: float) -> None:
        keys = list(dict.fromkeys(lamp.curve for lamp in lamps))
        place = {key: row for row, key in enumerate(keys)}
        self._row = np.array([place[lamp.curve] for lamp in lamps])
        self._dv = highest_v / (_CURVE - 1)
        grid_v = np.linspace(0.0, highest_v, _CURVE)
        self._amps = np.empty((len(keys), _CURVE))
        self._volts = np.empty((len(keys), _CURVE))
        for row, key in enumerate(keys):
            amps = np.concatenate([[0.0], np.geomspace(1e-7, 1.0, 400)]) * key.set_a
            volts = key.string_v(amps)
            own = np.interp(grid_v, volts + amps * key.on_ohm, amps)
            self._amps[row], self._volts[row] = own, np.interp(own, amps, volts)

    def solve(
        self, bus_v: Array, ahead_v: Array, mains_s: Array, held_s: Array, held_a: Array
    ) -> tuple[Array, Array, Array]:
        """Bus after a step, current and voltage of the string: Newton's steps on straight lines."""
        for _ in range(6):
            led_a, slope_s, _ = self._at(bus_v)
            feeds = ahead_v > bus_v
            excess_a = np.where(feeds, (ahead_v - bus_v) * mains_s, 0.0) - led_a - held_s * bus_v + held_a
            step_v = excess_a / (np.where(feeds, mains_s, 0.0) + slope_s + held_s)
            # Across the corner where the bridge opens a whole step may swing to and fro: end on the corner.
            new_v = bus_v + step_v
            crosses = (new_v > ahead_v) & feeds
            new_v = np.where(crosses & (bus_v < ahead_v - 1e-9), np.maximum(ahead_v, bus_v), new_v)
            bus_v = np.maximum(new_v, 0.0)
            if float(np.abs(step_v).max()) < 1e-3:
                break
        led_a, _, string_v = self._at(bus_v)
        return bus_v, led_a, string_v

    def _at(self, bus_v: Array) -> tuple[Array, Array, Array]:
        place = np.clip(bus_v / self._dv, 0.0, _CURVE - 1.000001)
        left = place.astype(np.intp)
        share = place - left
        low_a, high_a = self._amps[self._row, left], self._amps[self._row, left + 1]
        low_v, high_v = self._volts[self._row, left], self._volts[self._row, left + 1]
        return low_a + share * (high_a - low_a), (high_a - low_a) / self._dv, low_v + share * (high_v - low_v)
