"""Fault: a lamp with broken parts, followed to its end: what opens, in which order, and what is left.

The faulty lamp settles; what takes far too many watts opens (`coldiron.benches.opening`), a varistor that
finds no balance fails short, and the lamp that is left settles again, until nothing opens any more. What
follows when LEDs or sinks are over their ratings is not known: they are named and the chain ends there.
All of it cold: what minutes do to dies and housing is the heat bench's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from coldiron.benches import faulty
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.live_points import LIVE_A, PLUGS, body_currents_a
from coldiron.benches.opening import Glow, Opening, first_opening
from coldiron.benches.settling import Settled
from coldiron.benches.steady_readings import steady_readings
from coldiron.benches.stress import ratings
from coldiron.faults.breaker import breaker_of
from coldiron.faults.catalogue import AND, SUPPLY
from coldiron.heat import runaway
from coldiron.parts.arc_gap import ArcGap
from coldiron.parts.element import Element
from coldiron.parts.led_string import LedString
from coldiron.parts.roles import Clamps

MOST_STEPS = 4
"""Parts that may open one after the other."""
DARK_RATIO = 0.01
"""A lamp that carries less than this of its set current in its LEDs is dark."""
LEFT_OUT = "harmonic_"


@dataclass
class Chain:
    """What has happened to a lamp so far: each step in words, and what its last state is."""

    case: Case
    opened: list[str] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    bands_s: list[tuple[float, float]] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    glow: Glow | None = None

    def becomes(self, names: tuple[str, ...], left: tuple[str, str], fast_s: float, slow_s: float) -> None:
        """Take a step: something opens or fails, and leaves the lamp with one fault more."""
        self.opened.append(" or ".join(names))
        self.left.append(left)
        self.bands_s.append((fast_s, slow_s))
        self.case = replace(self.case, lamp=self.case.lamp.with_faults(left))


def take(case: Case, lab: Simulator) -> BenchResult:
    """Follow a fault to its end, and read the lamp that it leaves."""
    case = faulty.on_its_supply(case)
    first_run, first = faulty.settled(case, lab)
    chain = Chain(case)
    run, window = first_run, first
    for _ in range(MOST_STEPS):
        if not _step(chain, lab, run, window):
            break
        run, window = faulty.settled(chain.case, lab)
    switched_off = (SUPPLY, "neutral switched") in case.lamp.failures
    readings: dict[str, float | str] = {
        **_end(chain.case, run),
        **_first(case, first),
        **_chain(chain),
        **_breaker(case, first, window),
        **_arcs(chain.case, window),
    }
    lit_a = float(readings["end_light_A"])
    if switched_off or lit_a <= DARK_RATIO * _lit_a(case):
        readings |= _live(chain.case, lab, switched=switched_off)
    decks, waves = {"end": run.deck, "fault": first_run.deck}, {"end": run.waves, "fault": first_run.waves}
    moment = next((one.moment for one in chain.openings if one.moment is not None), None)
    if moment is not None:
        decks |= {"moment": moment.deck, "after": moment.after_deck}
        waves |= {"moment": moment.waves, "after": moment.after_waves}
        readings |= {"moment_deg": moment.angle_deg, "moment_opens_s": moment.opens_s}
    return BenchResult(readings, decks, waves, {"end": run.how, "fault": first_run.how})


def _step(chain: Chain, lab: Simulator, run: Settled, window: Window) -> bool:
    """Let the next thing happen to a lamp; False where nothing more does."""
    found = first_opening(chain.case, lab, run, window)
    failing = min(_failing(chain.case, window), default=None)
    if failing is not None and (not isinstance(found, Opening) or failing[0] < found.fast_s):
        after_s, name = failing
        chain.becomes((name,), (name, "short"), after_s, math.inf)
        return True
    if isinstance(found, Opening):
        chain.openings.append(found)
        chain.becomes(found.names, found.leaves, found.fast_s, found.slow_s)
        return True
    chain.glow = found
    return False


def _failing(case: Case, window: Window) -> Iterator[tuple[float, str]]:
    """Varistors that find no thermal balance, with the least time until they fail short [s]."""
    for disc in case.lamp.circuit.having(Clamps):
        values = getattr(disc, "values", None)
        if not disc.discs or values is None:
            continue
        watts = disc.dissipated_w(window)
        if math.isinf(runaway.balance_k(watts, values.power_limit_w, values.exponent("nominal"))):
            yield runaway.fails_after_s(watts, values.energy_limit_j), disc.name


def _end(case: Case, run: Settled) -> dict[str, float | str]:
    """Settled readings of the lamp that is left, and what of it is over its ratings."""
    state = case.conditions.operating_point()
    steady = {
        name: value
        for name, value in steady_readings(case.lamp, state, run).items()
        if not name.startswith(LEFT_OUT)
    }
    window = Window(case.lamp, run.waves, run.start_s, run.stop_s, state.part_conditions())
    over = {
        rated.part: float(steady[rated.reading]) / rated.most
        for rated in ratings(case.lamp, steady, state.frequency_hz)
        if float(steady[rated.reading]) > rated.most > 0.0
    }
    senses = [(one.name, one.watts(window), one.rated_w) for one in _sense_elements(case)]
    over |= {name: watts / rated_w for name, watts, rated_w in senses if watts > rated_w}
    rows = [(string, float(string.row_a(window).max())) for string in case.lamp.circuit.lights]
    row_a = max((peak_a for _, peak_a in rows), default=0.0)
    pulse = [
        peak_a * string.parallel / string.values.pulse_limit_a
        for string, peak_a in rows
        if isinstance(string, LedString)
    ]
    worst = sorted(over, key=lambda part: -over[part])
    return {
        **steady,
        "end_over_parts": "; ".join(worst)[:900] or "none",
        "end_over_ratio": max(over.values(), default=0.0),
        "end_light_A": sum(s.leds * window.mean(s.shining_a(window)) for s in case.lamp.circuit.lights),
        "end_row_peak_A": row_a,
        "end_row_pulse_ratio": max(pulse, default=0.0),
        **{f"{name.replace(' ', '_')}_W": watts for name, watts, _ in senses},
    }


def _sense_elements(case: Case) -> Iterator[Element]:
    for part in case.lamp.circuit:
        if part.works:
            yield from (one for one in part.elements() if not one.alone)


def _lit_a(case: Case) -> float:
    """Current of each LED while the lamp is whole and lit, summed over those in series [A]."""
    whole = case.lamp.model_copy(update={"failures": ()})
    return whole.lit_a * max(1.0, sum(string.leds for string in whole.circuit.lights))


def _first(case: Case, window: Window) -> dict[str, float | str]:
    """What the fault does before anything opens."""
    taken_w = {
        part.name: part.dissipated_w(window) if part.works else part.broken_w(window)
        for part in case.lamp.circuit
    }
    worst = max(taken_w, key=lambda name: taken_w[name])
    return {
        "fault_peak_A": float(np.abs(window.input_a).max()),
        "fault_input_A": window.rms(window.input_a),
        "fault_input_W": window.watts(window.mains_v, window.input_a),
        "fault_worst_part": worst,
        "fault_worst_W": taken_w[worst],
    }


def _chain(chain: Chain) -> dict[str, float | str]:
    """What opened and when, and what glows without opening."""
    readings: dict[str, float | str] = {
        "end_opened": "; ".join(chain.opened) or "nothing",
        "end_left": AND.join(f"{part} {word}" for part, word in chain.left) or "nothing",
    }
    if chain.bands_s:
        fast_s, slow_s = chain.bands_s[0]
        readings |= {
            "end_opens_fast_s": fast_s,
            "end_opens_slow_s": slow_s,
            "end_last_slow_s": sum(slow_s for _, slow_s in chain.bands_s),
        }
    if chain.openings:
        i2t = chain.openings[0].i2t_fast_a2s, chain.openings[0].i2t_slow_a2s
        readings |= {"end_fast_i2t_A2s": i2t[0], "end_slow_i2t_A2s": i2t[1]}
    if chain.glow is not None:
        readings |= {"end_glows_part": chain.glow.name, "end_glows_K": chain.glow.over_k}
    return readings


def _breaker(case: Case, *windows: Window) -> dict[str, float | str]:
    """When the breaker of the house would end it, as it begins or as it is left, whichever takes more."""
    house = breaker_of(case.conditions.voltage_v)
    opening = min(
        house.opening(window.rms(window.input_a), float(np.abs(window.input_a).max())) for window in windows
    )
    return {"breaker_fast_s": opening.fast_s, "breaker_slow_s": opening.slow_s}


def _arcs(case: Case, window: Window) -> dict[str, float | str]:
    """Watts of an arc, what it may be called by its voltage and current, and what it has left to burn on."""
    circuit = case.lamp.circuit
    readings: dict[str, float | str] = {}
    for gap in circuit.having(ArcGap):
        current_a = gap.current_a(window)
        open_v = math.sqrt(2.0) * case.conditions.voltage_v
        readings |= _arc(gap.dissipated_w(window), open_v, window.rms(current_a))
        readings["arc_left_V"] = open_v - circuit.light_v(1e-3)
    for string in circuit.lights:
        row = string.row if isinstance(string, LedString) else None
        if row is None or row.gap_v == 0.0:
            continue
        row_a = string.row_a(window) if string.parallel == 1 else window.i(f"v{string.inner('row').lower()}")
        watts = window.watts(row.gap_v + row.gap_ohm * row_a, row_a)
        open_v = float(window.v("bus").max())
        readings |= _arc(watts, open_v, window.rms(row_a))
        readings["arc_left_V"] = open_v - row.series / string.leds * string.voltage_v(1e-3)
    return readings


def _arc(watts: float, open_v: float, rms_a: float) -> dict[str, float | str]:
    return {"arc_W": watts, "arc_open_V": open_v, "arc_VA": open_v * rms_a}


def _live(case: Case, lab: Simulator, *, switched: bool) -> dict[str, float | str]:
    """Points that are live with the plug either way round."""
    readings: dict[str, float | str] = {}
    for plug in PLUGS:
        currents_a = body_currents_a(case, lab, plug, switched=switched)
        live = [point for point, peak_a in currents_a.items() if peak_a > LIVE_A]
        readings[f"live_{plug}"] = ", ".join(live) or "none"
        readings[f"live_{plug}_A"] = max(currents_a.values(), default=0.0)
    return readings
