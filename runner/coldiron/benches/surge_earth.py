"""Surge to earth: what stands across the insulation of the board, and which LEDs carry its charge.

The combination wave goes from one leg to earth through 9 µF and 10 Ω, with the generator 12 Ω in all, on
live mains at both crests. A positive one drives the whole current of the earth forward through the LEDs at
the feed; a negative one finds them in reverse and takes the sinks. The generator fires within a run that
begins a quarter of a cycle before, settled on the mains. Leads of the lamp have no inductance here, and
insulation does not break down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, Literal

import numpy as np

from coldiron.benches import steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import BenchResult, Case, Simulator, lamp_nodes
from coldiron.benches.cycle import Window
from coldiron.benches.earthed import Arrangement, beside_housing, earth_values
from coldiron.benches.generator import fired_later
from coldiron.benches.pulses import pulse_readings, pulse_width_s, worst_of
from coldiron.benches.settling import Settled
from coldiron.benches.stress import weakest_readings
from coldiron.benches.surge import CONTINUOUS, surge_level_v
from coldiron.deck.circuit import circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.parts.against_housing import HOUSING, sectioned_start
from coldiron.parts.board_insulation import BoardInsulation
from coldiron.parts.led_string import StringSection
from coldiron.parts.part import EARTHED, MINUS
from coldiron.parts.roles import Clamps
from coldiron.sources.earthed import EarthedHousing, EarthedPoles
from coldiron.sources.surge_generator import SurgeGenerator, WaveToEarth, WaveToEarthValues

PREFIX: Final = "surge_earth"
COUPLING_F: Final = 9e-6
COUPLING_OHM: Final = 10.0
TO_EARTH_RATIO: Final = 2.0
"""Level to earth over that between the legs: 1 kV for 500 V, 2 kV for 1 kV (IEC 61547, from memory)."""
LEAD_DEG: Final = 90.0
ANGLES_DEG: Final = (90.0, 270.0)
SECTIONS: Final = 8
"""Against one diode a LED: current in the earth within 3 %, volts over the board within 0.3 %."""
MOST_SECTIONS: Final = 32
"""Where single LEDs are judged, a section each, up to so many."""
WINDOW_S: Final = 200e-6
FOLLOW_S: Final = 12e-3
"""What a gas tube lets the mains feed after a surge is over by the next zero of the current."""
FOLLOWS_FROM_S: Final = 1e-3
FOLLOW_A: Final = 0.1
Leg = Literal["line", "neutral"]


@dataclass(frozen=True)
class Blow:
    """A surge: from which leg to earth, its polarity, the angle of the mains, its level."""

    leg: Leg
    polarity: int
    angle_deg: float
    level_v: float

    def __str__(self) -> str:
        """Say it as a heading does."""
        return f"{self.polarity * self.level_v:+g} V from {self.leg} to earth at {self.angle_deg:g} deg"


@dataclass(frozen=True)
class Run:
    """A surge on a lamp in sections: its deck, how it was run, and what followed the moment it fired."""

    blow: Blow
    deck: Deck
    waves: Waveforms
    how: str
    window: Window

    def over_board_v(self, point: str) -> float:
        """Highest voltage between a place of the board and the housing [V]."""
        point_v = self.window.nothing if point == MINUS else self.window.v(point)
        return float(np.abs(point_v - self.window.v(HOUSING)).max())

    @property
    def places(self) -> list[str]:
        """Places of the board that insulation is at."""
        return [part.at[0] for part in self.window.lamp.circuit.having(BoardInsulation)]

    @property
    def board_v(self) -> float:
        """Highest voltage over the insulation of the board anywhere [V]."""
        return max(self.over_board_v(place) for place in self.places)

    @property
    def earth_a(self) -> float:
        """Peak current in the protective conductor [A]."""
        return float(np.abs(self.window.i("vearth")).max())


def take(case: Case, simulator: Simulator) -> BenchResult:
    """Readings of the worst surge to earth over legs, polarities and both crests.

    Raises
    ------
    NotApplicable
        If there is no level to surge with.
    """
    level_v = TO_EARTH_RATIO * surge_level_v(case)
    before = steady.settled(case, simulator, case.conditions.operating_point())
    blows = [
        Blow(leg, polarity, angle_deg, level_v)
        for leg in ("line", "neutral")
        for angle_deg in ANGLES_DEG
        for polarity in case.conditions.surge_polarities
    ]
    runs = [fired(case, simulator, before, blow, SECTIONS) for blow in blows]
    each = [{**pulse_readings(run.window, PREFIX), **_strings(case.lamp, run)} for run in runs]
    readings, hardest = worst_of(each, PREFIX)
    worst = max(runs, key=lambda run: run.board_v)
    readings |= {
        f"{PREFIX}_board_peak_V": worst.board_v,
        f"{PREFIX}_feed_peak_V": max(run.over_board_v("bus") for run in runs),
        f"{PREFIX}_minus_peak_V": max(run.over_board_v(MINUS) for run in runs),
        f"{PREFIX}_conductor_peak_A": max(run.earth_a for run in runs),
        f"{PREFIX}_worst": str(worst.blow),
    }
    shown = {"surge to earth": worst, "hardest on the sinks": runs[hardest]}
    single = _single_leds(case, simulator, before, runs)
    readings |= _led_readings(single)
    shown |= {f"single LEDs, {words}": run for words, run in single.items()}
    readings |= _follow(case.lamp, runs)
    readings |= weakest_readings(case.lamp, readings, case.conditions.frequency_hz, f"{PREFIX}_")
    return BenchResult(
        readings,
        {label: run.deck for label, run in shown.items()},
        {label: run.waves for label, run in shown.items()},
        {**{label: run.how for label, run in shown.items()}, **{str(run.blow): run.how for run in runs}},
    )


def fired(case: Case, simulator: Simulator, before: Settled, blow: Blow, sections: int) -> Run:
    """One surge on a settled lamp whose string is in so many sections.

    Raises
    ------
    NoConvergence
        If the engine does not get through.
    """
    beside = beside_housing(case.lamp, sections, "ends")
    fires_s = LEAD_DEG / 360.0 * before.cycle_s
    (deck, waves), how = first_solved(
        CONTINUOUS, partial(_run, case, simulator, before, beside, blow, fires_s)
    )
    window_s = deck.stop_s - fires_s
    return Run(blow, deck, waves, how, Window(beside, waves, 0.0, window_s))


def _run(
    case: Case,
    simulator: Simulator,
    before: Settled,
    beside: Lamp,
    blow: Blow,
    fires_s: float,
    settings: SolverSettings,
) -> tuple[Deck, Waveforms]:
    deck = surge_earth_deck(case, before, beside, blow, fires_s, settings)
    return deck, simulator.run(deck).since(fires_s)


def surge_earth_deck(
    case: Case, before: Settled, beside: Lamp, blow: Blow, fires_s: float, settings: SolverSettings
) -> Deck:
    """Deck of a lamp in sections that begins settled and is surged to earth a quarter of a cycle later."""
    begins_deg = (blow.angle_deg - LEAD_DEG) % 360.0
    start = _begins(case.lamp, before, beside, begins_deg)
    # The high disc of a varistor lets most through.
    state = replace(case.conditions.operating_point(begins_deg), disc="high")
    follows = FOLLOW_S if clamps_to_earth(case.lamp) else WINDOW_S
    lamp_a = start.inductor_a("lmains")
    generator = fired_later(SurgeGenerator(), start, blow.level_v, blow.polarity, fires_s)
    leg = "feed" if blow.leg == "line" else "cold"
    wave = WaveToEarthValues(generator, leg, COUPLING_F, COUPLING_OHM, lamp_a, lamp_a)
    earth = earth_values(beside, Arrangement(earth=case.lamp.housing.earthed))
    extra = ("v(ground)", "v(housing)", "v(surge)", "i(vearth)", "i(vpole)")
    return render(
        "surge-earth",
        case.heading(str(blow)),
        circuit(
            beside,
            state,
            feed="supply",
            back="origin",
            inductor_a=lamp_a,
            between=(WaveToEarth("surge", ("supply", "feed", "origin", "cold"), wave),),
            terminals=(EarthedPoles("poles", ("feed", "cold", "line", "neutral"), earth),),
            beyond=(EarthedHousing("housing", (HOUSING, "ground"), earth),),
        ),
        keep=tuple(dict.fromkeys((*beside.circuit.vectors(), *extra))),
        stop_s=fires_s + follows,
        keep_from_s=fires_s - 5 * settings.step_s,
        fineness=settings,
        start=start,
    )


def _begins(lamp: Lamp, before: Settled, beside: Lamp, phase_deg: float) -> InitialConditions:
    """State of the settled lamp at a phase, with generator, earth and housing at the neutral."""
    quiet = before.at_phase(phase_deg, (*lamp_nodes(lamp), "mains", "wiring"), ("lmains",))
    nodes = dict(quiet.nodes_v)
    ground_v, live_v = nodes["neutral"], nodes["line"]
    found = sectioned_start(nodes, beside.circuit)
    found |= {"mains": nodes["mains"], "wiring": nodes["wiring"]}
    found |= dict.fromkeys(("supply", "feed", "pole_l"), live_v)
    at_ground = (
        "origin", "cold", "ground", "conductor", "pole_n", HOUSING, "earth", "surge", "coupled", "store",
        "cell", "shape", "shape_l",
    )  # fmt: skip
    found |= dict.fromkeys(at_ground, ground_v)
    return InitialConditions((*found.items(), ("fire", 0.0)), quiet.inductors_a)


def clamps_to_earth(lamp: Lamp) -> list[Clamps]:
    """Parts that clamp to the earth or the housing."""
    return [part for part in lamp.circuit.having(Clamps) if set(EARTHED) & set(part.at)]


def _single_leds(case: Case, simulator: Simulator, before: Settled, runs: list[Run]) -> Mapping[str, Run]:
    """The surges that are hardest on LEDs forward and in reverse, again with a section for each LED."""
    leds = sum(light.leds for light in case.lamp.circuit.lights)
    if not any(run.window.lamp.circuit.having(StringSection) for run in runs):
        return {}
    sections = min(leds, MOST_SECTIONS)
    hardest = {
        "forward": max(runs, key=lambda run: max(map(_forward_a, _sections(run)))[0]),
        "reverse": max(runs, key=lambda run: max(map(_reverse_v, _sections(run)))[0]),
    }
    return {words: fired(case, simulator, before, run.blow, sections) for words, run in hardest.items()}


def _sections(run: Run) -> list[tuple[Window, StringSection]]:
    return [(run.window, section) for section in run.window.lamp.circuit.having(StringSection)]


def _forward_a(of: tuple[Window, StringSection]) -> tuple[float, float]:
    """Peak forward current of a section [A], and where it begins; the nearer to the feed of two alike."""
    window, section = of
    return round(float(section.current_a(window).max()), 3), -section.begins_ratio


def _reverse_v(of: tuple[Window, StringSection]) -> tuple[float, float]:
    """Highest reverse voltage of one LED of a section [V], and where it begins."""
    window, section = of
    each = section.values.series * section.share_ratio
    return round(float(-section.across_v(window).min()) / each, 1), -section.begins_ratio


def _led_readings(single: Mapping[str, Run]) -> dict[str, float | str]:
    """Which LED carries most, and which sees most in reverse."""
    found: dict[str, float | str] = {}
    for words, what, name, unit in (
        ("forward", _forward_a, "led_peak", "A"),
        ("reverse", _reverse_v, "led_reverse", "V"),
    ):
        if words in single:
            sections = _sections(single[words])
            most, begins = max(map(what, sections))
            leds = sum(light.leds for light in single[words].window.lamp.circuit.lights)
            found[f"{PREFIX}_{name}_{unit}"] = max(0.0, most)
            found[f"{PREFIX}_{name}_at"] = f"{1 + round(-begins * leds)} of {leds} from the feed"
    return found


def _strings(lamp: Lamp, run: Run) -> dict[str, float | str]:
    """Current of each string where it is highest along it, and the width of that pulse."""
    found: dict[str, float | str] = {}
    for light in lamp.circuit.lights:
        currents_a = [
            section.current_a(window) for window, section in _sections(run) if section.whole_tag == light.tag
        ]
        if currents_a:
            most_a = max(currents_a, key=lambda current_a: float(current_a.max()))
            width_s = pulse_width_s(run.window.time_s, most_a - lamp.lit_a)
            found[f"{PREFIX}_{light.name}_peak_A"] = float(most_a.max())
            found[f"{PREFIX}_{light.name}_pulse_us"] = 1e6 * width_s
    return found


def _follow(lamp: Lamp, runs: list[Run]) -> dict[str, float | str]:
    """What the mains still feed through a clamp to earth when the surge is over."""
    clamps = clamps_to_earth(lamp)
    if not clamps:
        return {}
    follow_a, until_s, most_a = 0.0, 0.0, 0.0
    for run in runs:
        for clamp in clamps:
            current_a = np.abs(clamp.current_a(run.window))
            later = run.window.time_s > FOLLOWS_FROM_S
            most_a = max(most_a, float(current_a.max()))
            if float(current_a[later].max()) > FOLLOW_A:
                follow_a = max(follow_a, float(current_a[later].max()))
                until_s = max(until_s, float(run.window.time_s[current_a > FOLLOW_A][-1]))
    return {
        f"{PREFIX}_arrestor_peak_A": most_a,
        f"{PREFIX}_follow_A": follow_a,
        f"{PREFIX}_follow_ms": 1e3 * until_s,
    }
