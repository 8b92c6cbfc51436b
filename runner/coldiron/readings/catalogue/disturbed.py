"""Rows of the catalogue for a lamp that is disturbed, and for one that is switched off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from coldiron.readings.catalogue.kind import UNSPOKEN, Kind, Spoken, weakest


@dataclass(frozen=True)
class _Pulse:
    """A disturbance: first word of its readings' ids, in words, its bench, and what it may move."""

    prefix: str
    during: str
    bench: str
    peak_ratio: float = 0.01
    energy_ratio: float = 0.01


_PULSES = (
    _Pulse("inrush", "at switch-on", "switch-on", 0.02, 0.15),
    _Pulse("surge", "in the surge", "surge", 0.03, 0.08),
    _Pulse("surge_earth", "in the surge to earth", "surge-earth", 0.03, 0.08),
    _Pulse("burst", "in the burst", "burst", 0.05, 0.1),
    _Pulse("dip", "after the dip", "dip"),
    _Pulse("sag", "after the sag", "dip"),
)


def _pulse(pulse: _Pulse) -> Iterator[Kind]:
    """What a disturbance does to each part; the sinks' readings are those of the worst one."""
    during, prefix, bench = pulse.during, pulse.prefix, (pulse.bench,)

    def peak(name: str, what: str, heading: str = "", spoken: Spoken = UNSPOKEN) -> Kind:
        return Kind(
            f"{prefix}_{name}", f"{what} {during}", bench, heading, "up", pulse.peak_ratio, spoken=spoken
        )

    def energy(name: str, what: str, heading: str = "") -> Kind:
        return Kind(f"{prefix}_{name}", f"{what} {during}", bench, heading, "up", pulse.energy_ratio)

    def width(name: str, what: str) -> Kind:
        return Kind(f"{prefix}_{name}", f"{what} {during}", bench, "width", relative_ratio=0.75)

    sink = {
        "surge": Spoken("the surge through one sink", 0.02, 6),
        "burst": Spoken("the burst through one sink", 0.02, 15),
    }
    yield peak("sink_peak_A", "peak current of one sink", "one sink", sink.get(prefix, UNSPOKEN))
    yield peak("sinks_peak_A", "peak current of all sinks", "sinks")
    yield energy("sink_energy_mJ", "energy of one sink", "one sink")
    yield energy("sink_excess_mJ", "energy of one sink above its set current", "one sink, excess")
    yield peak(
        "drain_peak_V",
        "peak voltage at the drain",
        "drain",
        Spoken("the surge at the drain", 5.0, 7) if prefix == "surge" else UNSPOKEN,
    )
    yield peak("bus_peak_V", "peak voltage of the bus", "bus")
    yield peak("reservoir_peak_V", "peak voltage across the dielectric of the reservoir", "reservoir")
    yield peak("string_peak_A", "peak current of the string", "string")
    yield width("string_pulse_us", "width of the current pulse in the string")
    yield peak("lamp_peak_V", "peak voltage at the lamp's terminals", "terminals")
    yield peak("input_peak_A", "peak input current", "input")
    yield peak("bridge_peak_A", "peak current of the bridge", "bridge")
    yield width("bridge_pulse_us", "width of the current pulse in the bridge")
    yield peak("bridge_i2t_A2s", "I²t of the bridge", "bridge I²t")
    yield peak("varistor_peak_A", "peak current of the varistor", "varistor")
    yield energy("varistor_energy_J", "energy of the varistor", "varistor")
    yield peak("fusing_i2t_A2s", "I²t of the fusing resistors", "fusing I²t")
    yield peak("line_fusing_J", "energy of the line fusing resistor", "line fusing")
    yield peak("neutral_fusing_J", "energy of the neutral fusing resistor", "neutral fusing")


def disturbances() -> Iterator[Kind]:
    """Readings of every disturbance, and what only one of them has."""
    for pulse in _PULSES:
        yield from _pulse(pulse)
    on = ("switch-on",)
    yield Kind(
        "inrush_peak_A",
        "peak inrush current",
        on,
        "inrush",
        "up",
        0.02,
        spoken=Spoken("inrush", 0.2, 4),
    )
    yield Kind("inrush_i2t_A2s", "I²t of the inrush current", on, "inrush I²t", "up", 0.02)
    yield Kind(
        "inrush_line_fusing_i2t_A2s",
        "I²t of the line fusing resistor at switch-on",
        on,
        "line fusing",
        "up",
        0.02,
    )
    yield Kind(
        "inrush_neutral_fusing_i2t_A2s",
        "I²t of the neutral fusing resistor at switch-on",
        on,
        "neutral fusing",
        "up",
        0.02,
    )
    yield Kind(
        "inrush_phase_deg", "phase of the worst switch-on", on, "worst at", relative_ratio=0.02,
        held_by="inrush_peak_A",
    )  # fmt: skip
    yield Kind("bus_peak_V", "peak voltage of the bus after switch-on", on, "bus", "up")
    yield Kind("first_light_ms", "time from switch-on to first light", on, "first light", "up", 0.05)
    yield from weakest("inrush_", "at switch-on", on, 0.02)
    surge = ("surge",)
    yield Kind(
        "surge_worst_deg", "phase of the worst surge", surge, "worst at", relative_ratio=0.03,
        held_by="surge_sink_peak_A",
    )  # fmt: skip
    yield Kind(
        "surge_worst_polarity", "polarity of the worst surge", surge, "polarity", relative_ratio=0.03,
        held_by="surge_sink_peak_A",
    )  # fmt: skip
    yield Kind(
        "surge_limited_by", "what sets the current of the sinks in the surge", surge, "set by",
        held_by="surge_sink_peak_A", is_word=True,
    )  # fmt: skip
    yield from _discs()
    yield from weakest("", "in the surge", surge)
    yield Kind("burst_worst", "worst pulse of the burst", ("burst",), "worst", is_word=True)
    yield from weakest("burst_", "in the burst", ("burst",), 0.05)
    dip = ("dip",)
    for name in ("dip", "sag"):
        yield Kind(
            f"{name}_light_gap_ms",
            f"time without light in the {name}",
            dip,
            "dark",
            "up",
            spoken=Spoken("the gap in the light at a dip", 0.5, 16) if name == "dip" else UNSPOKEN,
        )
        yield Kind(
            f"{name}_light_lowest_pct",
            f"light at its lowest in the {name}, of settled",
            dip,
            "lowest light",
            "down",
        )
        yield Kind(
            f"{name}_return_peak_A",
            f"peak input current when the mains returns from the {name}",
            dip,
            "return",
            "up",
        )
    yield Kind("light_gap_ms", "time without light on undisturbed mains", dip, "dark, settled", "up")
    yield from weakest("dip_", "in the dip", dip)


def _discs() -> Iterator[Kind]:
    """What a surge does with each good disc of the varistor."""
    surge = ("surge",)
    yield Kind(
        "surge_worst_disc", "disc of the varistor in the worst surge", surge, "disc",
        held_by="surge_sink_peak_A", is_word=True,
    )  # fmt: skip
    for disc in ("low", "nominal", "high"):
        for name, what, ratio in (
            ("sink_peak_A", "peak current of one sink", 0.03),
            ("drain_peak_V", "peak voltage at the drain", 0.03),
            ("bus_peak_V", "peak voltage of the bus", 0.03),
            ("varistor_peak_A", "peak current of the varistor", 0.03),
            ("varistor_energy_J", "energy of the varistor", 0.08),
        ):
            reading, words = f"surge_{disc}_disc_{name}", f"{what} in the surge with the {disc} disc"
            yield Kind(reading, words, surge, f"{disc} disc", "up", ratio)


def switched_off() -> Iterator[Kind]:
    """Unplugged, or behind an open switch."""
    unplug, off = ("unplug",), ("off-glow",)
    yield Kind("unplug_bus_V", "voltage of the bus when unplugged", unplug, "bus", "up")
    yield Kind("stored_energy_J", "energy stored when unplugged", unplug, "stored", "up")
    for level_v in (34, 50, 60):
        yield Kind(
            f"discharge_{level_v}V_s",
            f"time after unplugging until the bus is down to {level_v} V",
            unplug,
            f"bus to {level_v} V after",
            "up",
            spoken=Spoken("time down to 60 V inside", 0.1, 12) if level_v == 60 else UNSPOKEN,
        )
    for level_v in (34, 60):
        yield Kind(
            f"discharge_pins_{level_v}V_s",
            f"time after unplugging until the pins are down to {level_v} V",
            unplug,
            f"pins to {level_v} V after",
            "up",
            0.05,
        )
    yield from weakest("unplug_", "when unplugged", unplug)
    yield Kind(
        "off_string_uA",
        "current of the string when switched off",
        off,
        "string, off",
        "up",
        spoken=Spoken("the current that glows when off", 0.5, 17),
    )
    yield Kind("off_led_uA", "current of one LED when switched off", off, "one LED, off", "up")
    yield Kind("off_bleed_uA", "current of the bleed resistor when switched off", off, "bleed, off")
    yield Kind(
        "off_string_unbled_uA", "current of the string when switched off, without bleed", off, "without bleed"
    )
    yield Kind("off_leakage_uA", "leakage current when switched off, rms", off, "leakage")
    yield Kind("off_bus_V", "voltage of the bus when switched off", off, "bus, off", "up")
    yield Kind("glows", "whether it glows when switched off", off, "glows", is_word=True)
    yield from weakest("off_", "switched off", off)
