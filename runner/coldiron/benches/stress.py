"""What every rated part may see, on every bench: which reading is held to which rating.

Any reading that has a rating is held to it, whatever bench took it. Ratings come from the lamp; what a rating
means for a pulse shorter than the one it was given for is decided here, and said in its note.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part, written_key
from coldiron.lamp.parts import FusingResistor

Readings = Mapping[str, float | str]

LED_RATED_PULSE_S = 1e-4
"""Pulse length behind a catalogue's LED pulse current: 0.1 ms, one tenth of the time."""
LED_SHORT_PULSE_RATIO = 3.0
BRIDGE_RATED_PULSE_S = 8.3e-3
"""Pulse length behind a bridge's surge current: half a wave of 60 Hz."""
BRIDGE_SHORT_PULSE_RATIO = 10.0
CAPACITIVE_LOAD_RATIO = 0.8
"""Share of a bridge's average current that is left with a reservoir behind it (catalogue note)."""
RIPPLE_RATIO_100HZ = 0.95
"""Share of a reservoir's ripple rating, given for 120 Hz, left at 100 Hz (catalogue of 400 V types)."""
SHORT_OF_SHUT_OFF_K = 0.1
"""A die has to stay this far below its shut-off: one that blinks is never above it."""
CHARGING = ("inrush", "dip", "sag")
"""Disturbances whose pulse fills the reservoir: what it leaves in the fusing resistors goes with ½CV²."""

SETTLED_BUS = ("bus_highest_V", "unplug_bus_V", "off_bus_V")
"""Voltages that the bus may hold for hours: settled, when unplugged, behind an open switch."""


@dataclass(frozen=True)
class Rated:
    """One rating of one part and the reading held to it.

    `most` is in the reading's unit; `provenance` is where the rating came from ("from memory" for one that
    follows from another by a rule of thumb); `key` the key of the lamp file that would give it.
    """

    part: str
    reading: str
    most: float
    key: str
    provenance: str
    note: str = ""

    def margin_pct(self, readings: Readings) -> float:
        """Room left to the rating, 100 · (rated − seen) / rated [%]."""
        return 100.0 * (self.most - float(readings[self.reading])) / self.most


def short_pulse_ratio(rated_s: float, width_s: float, most: float) -> float:
    """By how much a current rating for a pulse of one length grows for a shorter one.

    The heat of a short pulse spreads as the square root of time, so the current that heats a junction alike
    grows with √(rated/width); bond wires and contacts set an end to that, here at `most`. A longer pulse
    gains nothing.

    References
    ----------
    √t rule: common practice, no source. The end at `most`: our choice.

    Examples
    --------
    >>> round(short_pulse_ratio(1e-4, 25e-6, 3.0), 6), short_pulse_ratio(1e-4, 1e-3, 3.0)
    (2.0, 1.0)
    """
    if width_s <= 0.0:
        return most
    return min(most, max(1.0, math.sqrt(rated_s / width_s)))


def ripple_share(frequency_hz: float) -> float:
    """Share of a ripple rating, given for 120 Hz, that is left on a mains, whose ripple is twice as fast.

    Examples
    --------
    >>> ripple_share(50.0), ripple_share(60.0)
    (0.95, 1.0)
    """
    return RIPPLE_RATIO_100HZ if frequency_hz < 55.0 else 1.0


def ratings(lamp: Lamp, readings: Readings, frequency_hz: float) -> list[Rated]:
    """Every rating of a lamp that one of the readings can be held to, in a fixed order.

    Parameters
    ----------
    lamp : Lamp
    readings : mapping
        Readings of one case by id.
    frequency_hz : float
        Mains frequency the case was on [Hz], whatever the lamp's own is.
    """
    found = [*_steady(lamp, frequency_hz)]
    for reading in readings:
        # Every disturbance has read this width, under its own first word.
        if reading.endswith("_bridge_pulse_us"):
            found += _pulse(lamp, reading.removesuffix("_bridge_pulse_us"), readings)
    return [rated for rated in found if _is_number(readings.get(rated.reading))]


def weakest(held: list[Rated], readings: Readings) -> tuple[str, float]:
    """Part with the least margin, and that margin [%].

    Examples
    --------
    >>> bridge = Rated("bridge", "peak_A", 30.0, "bridge.surge_current", "typical")
    >>> sinks = Rated("sinks", "drain_V", 500.0, "sinks.drain_voltage", "typical")
    >>> weakest([bridge, sinks], {"peak_A": 10.0, "drain_V": 540.0})
    ('sinks', -8.0)
    """
    worst = min(held, key=lambda rated: rated.margin_pct(readings))
    return worst.part, worst.margin_pct(readings)


def weakest_readings(
    lamp: Lamp, readings: Readings, frequency_hz: float, prefix: str = ""
) -> dict[str, float | str]:
    """The weakest part of a case as two readings; none where nothing that was read has a rating."""
    held = ratings(lamp, readings, frequency_hz)
    if not held:
        return {}
    part, margin_pct = weakest(held, readings)
    return {f"{prefix}weakest_part": part, f"{prefix}weakest_margin_pct": margin_pct}


def _is_number(value: object) -> bool:
    return isinstance(value, float) and math.isfinite(value)


def _of(
    part: Part, name: str, what: str, reading: str, field: str, *, most: float | None = None, note: str = ""
) -> Rated:
    """Rating of a part's field; `most` where it only follows from the field, or the field is unset."""
    given = getattr(part, field)
    key = written_key(field)
    return Rated(
        part=f"{name}, {what}",
        reading=reading,
        most=given if most is None else most,
        key=f"{name.replace(' ', '_')}.{key}",
        provenance="from memory" if given is None else part.provenance(key),
        note=note,
    )


def _fusing(lamp: Lamp) -> Iterator[tuple[FusingResistor, str]]:
    if lamp.line_fusing:
        yield lamp.line_fusing, "line fusing"
    if lamp.neutral_fusing:
        yield lamp.neutral_fusing, "neutral fusing"


def _steady(lamp: Lamp, frequency_hz: float) -> Iterator[Rated]:
    """Ratings of settled work on the mains."""
    sinks, bridge, reservoir = lamp.sinks, lamp.bridge, lamp.reservoir
    for fusing, leg in _fusing(lamp):
        up = 1.0 + fusing.tolerance_ratio
        yield _of(
            fusing, leg, "watts", f"{leg.replace(' ', '_')}_W", "power_w", most=fusing.power_w / up,
            note=_left(up, "the sinks set the current, so a resistor at the top of its tolerance burns more"),
        )  # fmt: skip
    if lamp.varistor:
        yield _of(lamp.varistor, "varistor", "mains voltage", "input_voltage_V", "ac_rating_v")
        yield _of(
            lamp.varistor, "varistor", "watts", "varistor_W", "mean_power_w",
            most=lamp.varistor.power_limit_w,
        )  # fmt: skip
    mean_a, note = bridge.average_current_a, ""
    if reservoir:
        mean_a, note = CAPACITIVE_LOAD_RATIO * mean_a, "80 % of the rating, with a reservoir behind it"
    yield _of(bridge, "bridge", "mean current", "bridge_mean_A", "average_current_a", most=mean_a, note=note)
    if lamp.bleed:
        yield _of(lamp.bleed, "bleed", "watts", "bleed_W", "power_w")
    for bus in SETTLED_BUS:
        yield _of(bridge, "bridge", "reverse voltage", bus, "reverse_voltage_v")
        if lamp.film:
            yield _of(lamp.film, "film", "voltage", bus, "voltage_v")
        if reservoir:
            # Settled, the capacitor's own voltage; at rest nothing drops across its resistance.
            own = "reservoir_highest_V" if bus == "bus_highest_V" else bus
            yield _of(reservoir, "reservoir", "voltage", own, "voltage_v")
    if reservoir and reservoir.ripple_current_a is not None:
        share = ripple_share(frequency_hz)
        yield _of(
            reservoir, "reservoir", "ripple current", "reservoir_ripple_A", "ripple_current_a",
            most=share * reservoir.ripple_current_a,
            note=f"{100 * share:.0f} % of the rating for 120 Hz, at {2 * frequency_hz:g} Hz",
        )  # fmt: skip
    yield _of(sinks, "sinks", "drain voltage", "drain_highest_V", "drain_voltage_v")
    yield _of(sinks, "sinks", "watts of one", "sink_worst_W", "power_w")
    yield _of(sinks, "sinks", "die temperature", "sink_die_worst_C", "maximum_die_c")
    if sinks.shut_off_c is not None:
        yield _of(
            sinks, "sinks", "thermal shut-off", "sink_die_worst_C", "shut_off_c",
            most=sinks.shut_off_c - SHORT_OF_SHUT_OFF_K, note="where it shuts off the light goes out",
        )  # fmt: skip
    # Half a mains cycle outlasts every pulse that a catalogue rates, so what is held counts and not the mean.
    yield _of(
        lamp.string, "string", "continuous current", "led_held_A", "continuous_current_a",
        most=lamp.string.continuous_limit_a, note=_led_note(lamp),
    )  # fmt: skip
    yield _of(lamp.string, "string", "junction temperature", "string_C", "maximum_junction_c")


def _left(up: float, why: str) -> str:
    return f"held to {100 / up:.3g} % of it: {why}" if up > 1.0 else ""


def _led_note(lamp: Lamp) -> str:
    of = "" if lamp.string.parallel == 1 else f"{lamp.string.parallel} LEDs side by side"
    unset = "1.2 times the test current, common of catalogues" if not lamp.string.continuous_current_a else ""
    return "; ".join(text for text in (of, unset) if text)


def _pulse(lamp: Lamp, pulse: str, readings: Readings) -> Iterator[Rated]:
    """Ratings of one disturbance."""
    sinks, bridge, string = lamp.sinks, lamp.bridge, lamp.string

    def shorter(width: str, rated_s: float, most: float) -> float:
        return short_pulse_ratio(rated_s, 1e-6 * float(readings[f"{pulse}_{width}"]), most)

    def said(ratio: float, length: str) -> str:
        return f"given for {length}; {ratio:.2g} times that for this pulse (common practice, no source)"

    avalanche = f"above it the drain avalanches, at {sinks.breakdown_v:.0f} V"
    yield _of(sinks, "sinks", "drain voltage", f"{pulse}_drain_peak_V", "drain_voltage_v", note=avalanche)
    yield _of(
        sinks, "sinks", "pulse energy of one", f"{pulse}_sink_excess_mJ", "avalanche_energy_j",
        most=1e3 * sinks.avalanche_energy_j, note="energy of the current above the set current",
    )  # fmt: skip
    yield _of(sinks, "sinks", "peak current of one", f"{pulse}_sink_peak_A", "peak_current_a")
    ratio = shorter("string_pulse_us", LED_RATED_PULSE_S, LED_SHORT_PULSE_RATIO)
    yield _of(
        string, "string", "pulse current", f"{pulse}_string_peak_A", "pulse_current_a",
        most=ratio * string.pulse_limit_a, note=said(ratio, "0.1 ms"),
    )  # fmt: skip
    ratio = shorter("bridge_pulse_us", BRIDGE_RATED_PULSE_S, BRIDGE_SHORT_PULSE_RATIO)
    yield _of(
        bridge, "bridge", "surge current", f"{pulse}_bridge_peak_A", "surge_current_a",
        most=ratio * bridge.surge_current_a, note=said(ratio, "8.3 ms"),
    )  # fmt: skip
    yield _of(bridge, "bridge", "I²t", f"{pulse}_bridge_i2t_A2s", "i2t_a2s", most=bridge.i2t_limit_a2s)
    yield _of(bridge, "bridge", "reverse voltage", f"{pulse}_bus_peak_V", "reverse_voltage_v")
    if lamp.varistor:
        yield _of(
            lamp.varistor,
            "varistor",
            "energy",
            f"{pulse}_varistor_energy_J",
            "energy_j",
            most=lamp.varistor.energy_limit_j,
        )
        yield _of(
            lamp.varistor,
            "varistor",
            "peak current",
            f"{pulse}_varistor_peak_A",
            "peak_current_a",
            most=lamp.varistor.peak_limit_a,
        )
    up = 1.0 + lamp.reservoir.tolerance_ratio if lamp.reservoir and pulse in CHARGING else 1.0
    for fusing, leg in _fusing(lamp):
        yield _of(
            fusing, leg, "pulse energy", f"{pulse}_{leg.replace(' ', '_')}_J", "pulse_energy_j",
            most=fusing.pulse_limit_j / up,
            note=_left(up, "a reservoir at the top of its tolerance stores more"),
        )  # fmt: skip
    if lamp.reservoir:
        yield _of(
            lamp.reservoir, "reservoir", "voltage", f"{pulse}_reservoir_peak_V", "voltage_v",
            most=lamp.reservoir.surge_voltage_v,
            note="across its dielectric; its surge voltage, IEC 60384-4, from memory",
        )  # fmt: skip
    if lamp.film:
        yield _of(
            lamp.film, "film", "voltage", f"{pulse}_bus_peak_V", "voltage_v",
            most=lamp.film.proof_voltage_v, note="its proof voltage, IEC 60384-16, from memory",
        )  # fmt: skip
