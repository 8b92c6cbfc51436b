"""Rows of the catalogue for a lamp that has settled: cold on the bench "steady", warm on "heat"."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Final

from coldiron.readings.catalogue.kind import MARGIN_PCT, Kind, Spoken, weakest

COLD: Final = "steady"
"""Bench of the settled, cold lamp."""
WARM: Final = "heat"
"""Bench of the settled, warm lamp: its readings count in place of the same ones taken cold."""

HIGHEST_HARMONIC: Final = 39

_SETTLED = (COLD, WARM)
_FACTOR_RATIO = 0.005


def electrical() -> Iterator[Kind]:
    """Input, bus and watts of a settled lamp, cold and warm."""
    settled = partial(Kind, benches=_SETTLED)

    yield settled("input_power_W", "input power", heading="input")
    yield settled("input_current_A", "input current, rms", heading="input current")
    yield settled("input_voltage_V", "mains voltage, rms", heading="mains")
    yield settled(
        "power_factor",
        "power factor",
        worse="down",
        relative_ratio=_FACTOR_RATIO,
        spoken=Spoken("power factor", 0.01, 8),
    )
    yield settled("displacement_factor", "displacement factor", worse="down", relative_ratio=_FACTOR_RATIO)
    yield settled("fundamental_current_A", "fundamental of the input current, rms", heading="fundamental")
    yield settled(
        "current_thd_pct",
        "total harmonic distortion of the input current",
        heading="THD",
        worse="up",
        spoken=Spoken("distortion of the input current", 2.0, 9),
    )
    yield settled("conduction_start_deg", "phase at which input current begins", heading="begins at")
    yield settled("conduction_peak_deg", "phase of the last peak of input current", heading="last peak at")
    yield settled("conduction_stop_deg", "phase at which input current ends", heading="ends at")
    for order in range(2, HIGHEST_HARMONIC + 1):
        yield settled(
            f"harmonic_{order}_pct",
            f"harmonic {order} of the input current, share of the fundamental",
            heading=f"harmonic {order}",
            worse="up",
        )
    yield settled("bus_mean_V", "mean voltage of the bus", heading="bus mean")
    yield settled("drain_mean_V", "mean voltage of the drain", heading="drain mean")
    yield settled("bus_ripple_V", "ripple of the bus, peak to peak", heading="bus ripple")
    yield settled("bus_highest_V", "highest voltage of the bus", heading="bus highest", worse="up")
    yield settled("drain_highest_V", "highest voltage at the drain", heading="drain highest", worse="up")
    yield settled("bridge_mean_A", "mean current of the bridge", heading="bridge mean", worse="up")
    yield settled(
        "reservoir_highest_V",
        "highest voltage across the dielectric of the reservoir",
        heading="reservoir highest",
        worse="up",
    )
    yield settled("reservoir_ripple_A", "ripple current of the reservoir, rms", worse="up", heading="ripple")
    yield settled(
        "sink_headroom_V",
        "least voltage across a sink while it carries its current",
        heading="headroom",
        relative_ratio=0.02,
        absolute=0.15,
    )
    yield settled("string_W", "power of the LED string", heading="string")
    yield settled(
        "sinks_W",
        "power of all sinks",
        heading="sinks",
        worse="up",
        spoken=Spoken("the sinks", 0.2, 3, "carry"),
    )
    yield settled("sink_worst_W", "power of the hottest sink", heading="one sink", worse="up")
    yield settled("line_fusing_W", "power of the line fusing resistor", heading="line fusing", worse="up")
    yield settled(
        "neutral_fusing_W", "power of the neutral fusing resistor", heading="neutral fusing", worse="up"
    )
    yield settled(
        "fusing_W",
        "power of the fusing resistors",
        heading="fusing",
        worse="up",
        spoken=Spoken("the fusing resistors", 0.05, 10, "burn"),
    )
    yield settled("bridge_W", "power of the bridge", heading="bridge", worse="up")
    yield settled(
        "bleed_W",
        "power of the bleed resistor",
        heading="bleed",
        worse="up",
        spoken=Spoken("the bleed resistor", 0.02, 11, "burns"),
    )
    yield settled("reservoir_W", "power of the reservoir", heading="reservoir", worse="up")
    yield settled("varistor_W", "power of the varistor", heading="varistor", worse="up")
    yield settled(
        "power_balance_pct",
        "input power that no part accounts for, share of the input",
        heading="power balance",
        absolute=0.1,
    )
    yield settled("settled_cycles", "mains cycles until settled", heading="settled after", absolute=5.0)
    yield from weakest("steady_", "settled", _SETTLED)


def light() -> Iterator[Kind]:
    """Light of a settled lamp, cold and warm."""
    settled = partial(Kind, benches=_SETTLED)

    yield settled("led_current_A", "mean current of the string", heading="string mean")
    yield settled("led_peak_A", "peak current of the string", heading="string peak", worse="up")
    yield settled("led_held_A", "current of the string, held for 1 ms", heading="string held", worse="up")
    yield settled("led_ripple_pct", "current ripple of the string", heading="string ripple", worse="up")
    yield settled("light_A", "light, as the string current that gives it at 25 °C", heading="light")
    yield settled(
        "light_pct",
        "light, of the lamp as found",
        heading="light",
        worse="down",
        spoken=Spoken("light", 1.0, 2),
    )
    yield settled(
        "flicker_pct",
        "percent flicker",
        heading="flicker",
        worse="up",
        spoken=Spoken("flicker", 1.0, 1),
    )
    yield settled("flicker_index", "flicker index", worse="up", absolute=0.001)
    yield settled(
        "flicker_mains_pct",
        "flicker at the mains frequency, share of the mean light",
        heading="mains flicker",
    )
    yield settled(
        "svm",
        "stroboscopic visibility measure (SVM)",
        heading="SVM",
        worse="up",
        absolute=0.005,
        spoken=Spoken("SVM", 0.02, 5),
    )
    yield settled(
        "pst_lm", "short-term flicker severity (Pst LM)", heading="Pst LM", worse="up", absolute=0.005
    )


def heat() -> Iterator[Kind]:
    """What only the warm lamp has: temperatures, foldback, life."""
    warm = partial(Kind, benches=(WARM,))
    hot = partial(warm, worse="up", relative_ratio=0.0)

    yield warm("heat_outcome", "where warming up ends", heading="ends", is_word=True)
    yield hot("sink_die_C", "mean temperature of the dies", heading="dies")
    yield hot(
        "sink_die_worst_C",
        "temperature of the hottest die",
        heading="die",
        spoken=Spoken("the hottest die", 2.0, 13),
    )
    yield hot(
        "string_C",
        "junction temperature of the string",
        heading="string",
    )
    yield hot("board_C", "temperature of the board", heading="board")
    yield hot(
        "housing_C",
        "temperature of the housing",
        heading="housing",
        spoken=Spoken("the housing", 2.0, 14),
    )
    yield hot(
        "reservoir_core_C",
        "core temperature of the reservoir",
        heading="core",
    )
    yield warm(
        "reservoir_life_h",
        "life of the reservoir, estimate",
        heading="reservoir life",
        worse="down",
        spoken=Spoken("the estimated life of the reservoir", 100.0, 18),
    )
    yield warm("foldback_pct", "current that foldback takes away", heading="foldback", worse="up")
    yield warm("light_hot_pct", "light warm, of the same lamp cold", heading="light kept", worse="down")
    yield warm(
        "light_across_rooms_pct",
        "light in the hottest room, of that in the coldest",
        heading="light in heat",
        worse="down",
    )
    yield warm("settle_min", "time to warm up", heading="warm after")
    yield warm("runaway_min", "time to thermal runaway", heading="runaway after", worse="down")
    yield warm("first_shut_off_min", "time to the first thermal shut-off", heading="off after", worse="down")
    yield warm("blink_period_s", "period of the slow blink of a thermal shut-off", heading="blinks every")
    yield warm("blink_lit_pct", "share of a slow blink in which it is lit", heading="lit for", worse="down")
    yield warm("die_swing_K", "swing of the die temperature", heading="swing", worse="up")
    yield warm("sink_die_margin_K", "room of the hottest die to its limit", heading="die room", worse="down")
    yield warm("string_margin_K", "room of the junctions to their limit", heading="string room", worse="down")
    yield warm(
        "sink_power_margin_pct",
        "room of the hottest sink to its power rating",
        heading="sink room",
        worse="down",
        absolute=MARGIN_PCT,
    )
    yield warm(
        "inrush_warm_A",
        "peak inrush with its parts as warm as when it is switched off",
        heading="inrush warm",
        worse="up",
        relative_ratio=0.02,
    )
    yield warm(
        "inrush_restruck_A",
        "peak inrush, re-struck after one second with empty capacitors",
        heading="re-struck",
        worse="up",
        relative_ratio=0.02,
        spoken=Spoken("inrush when re-struck after a second", 0.2, 19),
    )
    yield warm("heat_runs", "electrical runs to the thermal balance", heading="runs")
