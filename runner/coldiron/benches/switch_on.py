"""Switch-on: a cold, empty lamp is connected at the worst angle of the mains.

The angle is searched, not assumed: a coarse sweep over a half wave (the lamp cannot tell the halves
apart), then the top of a parabola through finer runs about the worst. From there the lamp is run to its end:
the first half wave finely, the rest more coarsely from where that ended, until the bus has stopped rising.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from coldiron.benches.attempts import RELAXED, first_solved
from coldiron.benches.base import BenchResult, Case, Simulator, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings
from coldiron.benches.settling import last_state
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.readings import light, surges

PULSE = (
    SolverSettings(step_s=5e-6, reltol=1e-5, abstol=1e-9, vntol=1e-5),
    SolverSettings(step_s=10e-6, reltol=1e-5, abstol=1e-8, vntol=1e-5),
    SolverSettings(step_s=2e-6, reltol=1e-4, abstol=1e-6, vntol=1e-4),
    *RELAXED,
)
"""How finely the first half wave is computed, and what is tried when the engine does not get through. It
needs more than a steady lamp: with 20 us and 1e-4 its peak reads up to 1 % high."""
SEARCH = (
    SolverSettings(step_s=50e-6, reltol=3e-4, abstol=1e-7, vntol=1e-4),
    SolverSettings(step_s=20e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
    *RELAXED,
)
"""Solver settings of the search for the worst angle, and of what follows the first half wave."""
PINNED = (
    SolverSettings(step_s=20e-6, reltol=1e-4, abstol=1e-8, vntol=1e-5),
    *SEARCH,
)
"""Solver settings of the runs about the worst angle. Near it the peak hardly changes, but the I²t of a
reservoir moves by 0.5 % a degree: the coarse runs miss the angle by up to 3 degrees, these by 0.2 (standard
study)."""
SEARCHED = ("v(bus)", "i(vinput)")
"""What the search keeps of its runs: the current that it looks at, and what every deck prints by hand."""
COARSE_DEG = (50.0, 90.0, 130.0)
ABOUT_DEG = 10.0
FIRST_CYCLES = 0.5
THEN_CYCLES = 2.5
"""A lamp is followed for this long after its first half wave, and each time the bus still rises twice as
long again."""
LONGEST_S = 3.0
CHARGED_RATIO = 0.99
"""The charging pulse is over with the first half wave in which the bus comes this near to its highest. What
would still charge it then has (1 - 0.99)² of the whole pulse's I²t."""
RISEN_RATIO = 1e-3
"""A bus has stopped rising when, as its rise dies away, less than this share of itself is left of it."""
STANDS_RATIO = 1e-4
DARK_V = 0.05
"""A rise of the bus from which nothing follows: that of a lamp whose bus no mains reaches."""
"""A change of the bus that counts as none."""
FIRST_LIGHT_RATIO = 0.1
"""Light counts as there when the string carries this share of its set current."""


@dataclass(frozen=True)
class SwitchOnStretch:
    """One deck of a switch-on, what it gave and how finely it was computed."""

    deck: Deck
    waves: Waveforms
    how: str


def switch_on_deck(
    case: Case,
    angle_deg: float,
    stop_s: float,
    fineness: SolverSettings = PULSE[0],
    *,
    keep: tuple[str, ...] | None = None,
) -> Deck:
    """Deck that closes the switch on an empty lamp at an angle of the mains."""
    return _deck(case, angle_deg, stop_s, fineness, keep or lamp_vectors(case.lamp), InitialConditions(), 0.0)


def _deck(
    case: Case,
    angle_deg: float,
    length_s: float,
    fineness: SolverSettings,
    keep: tuple[str, ...],
    start: InitialConditions,
    start_s: float,
    state: OperatingPoint | None = None,
) -> Deck:
    """Deck of a lamp some time after the switch was closed at an angle."""
    cycles = angle_deg / 360.0 + start_s * case.conditions.frequency_hz
    said = f"closed at {angle_deg:.1f} deg" + (f", from {1e3 * start_s:.4g} ms on" if start_s else "")
    return render(
        "switch-on",
        case.heading(said),
        circuit(
            case.lamp,
            replace(state or case.conditions.operating_point(), phase_deg=360.0 * (cycles % 1.0)),
            inductor_a=start.inductor_a("lmains"),
            pulse=True,
        ),
        keep=keep,
        stop_s=length_s,
        fineness=fineness,
        start=start,
    )


def take(case: Case, lab: Simulator) -> BenchResult:
    """Inrush at the worst closing angle, and what follows it."""
    angle_deg = worst_angle_deg(case, lab, case.conditions.operating_point())
    half_s = 0.5 / case.conditions.frequency_hz
    first, *later = closed(case, lab, angle_deg)
    waves = first.waves
    for stretch in later:
        waves = waves.then(stretch.waves)
    readings = inrush_readings(case.lamp, waves, half_s)
    readings["inrush_phase_deg"] = angle_deg
    readings |= weakest_readings(case.lamp, readings, case.conditions.frequency_hz, "inrush_")
    return BenchResult(
        readings,
        {"first light": later[0].deck, "switch-on": first.deck},
        {"first light": waves, "switch-on": first.waves},
        {"first light": later[0].how, "switch-on": first.how},
    )


def inrush_readings(lamp: Lamp, waves: Waveforms, half_s: float) -> dict[str, float | str]:
    """Readings of a switch-on that has been run to its end.

    Energies and I²t are those from the closing to the end of the charging pulse; peaks are those of the whole
    run, widths those of the first half wave.

    Parameters
    ----------
    lamp : Lamp
    waves : Waveforms
        From rest, at time 0, until the bus has stopped rising.
    half_s : float
        Half a mains cycle [s].
    """
    first = Window(lamp, waves, 0.0, half_s)
    pulse = Window(lamp, waves, 0.0, charged_s(waves, half_s))
    whole = Window(lamp, waves, 0.0, float(waves.time_s[-1]))
    light_level_a = FIRST_LIGHT_RATIO * lamp.lit_a
    readings: dict[str, float | str] = {
        **pulse_readings(pulse, "inrush"),
        **{name: value for name, value in pulse_readings(first, "inrush").items() if name.endswith("_us")},
        "inrush_peak_A": float(np.abs(whole.input_a).max()),
        "inrush_i2t_A2s": surges.i2t_a2s(pulse.time_s, pulse.input_a),
        "bus_peak_V": float(whole.v("bus").max()),
        "first_light_ms": 1e3 * light.first_light_s(whole.time_s, whole.string_a, light_level_a),
        **{f"inrush_{string.name}_peak_A": float(string.current_a(whole).max()) for string in whole.strings},
    }
    if whole.regulators:
        readings["inrush_sink_peak_A"] = float(whole.sinks_a.max())
        readings["inrush_drain_peak_V"] = float(whole.drains_v.max())
    for leg in lamp.circuit.carrying_mains():
        readings[f"inrush_{leg.name}_i2t_A2s"] = surges.i2t_a2s(pulse.time_s, leg.current_a(pulse))
    return readings


def closed(case: Case, lab: Simulator, angle_deg: float) -> list[SwitchOnStretch]:
    """Run a lamp from rest until its bus has stopped rising, each stretch from the end of the one before.

    Raises
    ------
    NoConvergence
        If the engine gets through one of them at no fineness, or the bus still rises after `LONGEST_S`.
    """
    cycle_s, half_s = case.conditions.operating_point().cycle_s, 0.5 / case.conditions.frequency_hz
    stretches = [_stretch(case, lab, angle_deg, InitialConditions(), 0.0, FIRST_CYCLES * cycle_s, PULSE)]
    waves, length_s = stretches[0].waves, THEN_CYCLES * cycle_s
    while True:
        start = last_state(case.lamp, stretches[-1].waves, stretches[-1].deck.stop_s)
        ran_s = float(waves.time_s[-1])
        stretches.append(_stretch(case, lab, angle_deg, start, ran_s, length_s, SEARCH))
        waves = waves.then(stretches[-1].waves)
        if has_risen(bus_tops_v(waves, half_s)):
            return stretches
        if waves.time_s[-1] > LONGEST_S:
            raise NoConvergence(f"the bus still rises {waves.time_s[-1]:.1f} s after switch-on")
        length_s *= 2.0


def _stretch(
    case: Case,
    lab: Simulator,
    angle_deg: float,
    start: InitialConditions,
    start_s: float,
    length_s: float,
    attempts: Sequence[SolverSettings],
) -> SwitchOnStretch:
    def attempt(fineness: SolverSettings) -> tuple[Deck, Waveforms]:
        deck = _deck(case, angle_deg, length_s, fineness, ("all",), start, start_s)
        return deck, lab.run(deck)

    (deck, waves), how = first_solved(attempts, attempt)
    return SwitchOnStretch(deck, waves, how if start_s else f"from rest, {how}")


def peak_inrush_a(case: Case, lab: Simulator, own_c: Mapping[str, float]) -> float:
    """Highest inrush at the worst angle with some parts at temperatures of their own [A].

    Parameters
    ----------
    case : Case
    lab : Simulator
    own_c : mapping
        Temperatures by name of the part [°C].
    """
    cold = case.conditions.operating_point()
    warm = replace(cold, own_c=tuple((name, round(at_c, 4)) for name, at_c in own_c.items()))
    angle_deg = worst_angle_deg(case, lab, cold)

    def attempt(fineness: SolverSettings) -> Waveforms:
        keep = lamp_vectors(case.lamp)
        return lab.run(
            _deck(
                case, angle_deg, FIRST_CYCLES * cold.cycle_s, fineness, keep, InitialConditions(), 0.0, warm
            )
        )

    waves, _ = first_solved(PULSE, attempt)
    return float(np.abs(waves.i("vinput")).max())


def bus_tops_v(waves: Waveforms, half_s: float) -> Array:
    """Highest bus voltage in each half cycle since the beginning [V]."""
    number = np.minimum((waves.time_s / half_s).astype(int), round(float(waves.time_s[-1]) / half_s) - 1)
    return np.maximum.reduceat(waves["v(bus)"], np.searchsorted(number, np.arange(number[-1] + 1)))


def charged_s(waves: Waveforms, half_s: float) -> float:
    """End of the first half cycle in which the bus comes within `CHARGED_RATIO` of its highest [s]."""
    tops_v = bus_tops_v(waves, half_s)
    return float(half_s * (1 + np.argmax(tops_v >= CHARGED_RATIO * tops_v.max())))


def has_risen(tops_v: Array) -> bool:
    """Whether a bus has stopped rising, from its highest voltages in the half cycles so far.

    Three of them, evenly apart, rise by d and then by d·q if the rise dies away like a charge; d·q²/(1-q)
    is left after them.

    Examples
    --------
    >>> has_risen(np.array([300.0, 320.0, 320.0])), has_risen(np.array([100.0, 190.0, 271.0]))
    (True, False)
    """
    apart = max(1, len(tops_v) // 4)
    early_v, middle_v, last_v = tops_v[-1 - 2 * apart], tops_v[-1 - apart], tops_v[-1]
    before_v, now_v = middle_v - early_v, last_v - middle_v
    if min(before_v, now_v) <= max(STANDS_RATIO * last_v, DARK_V):
        return True
    share = now_v / before_v
    return bool(share < 1.0 and now_v * share / (1.0 - share) <= RISEN_RATIO * last_v)


def worst_angle_deg(case: Case, lab: Simulator, state: OperatingPoint) -> float:
    """Closing angle of the largest inrush within a half wave [deg]."""

    def peak_a(angle_deg: float, attempts: Sequence[SolverSettings]) -> float:
        to_sine_peak_s = max(0.0, 90.0 - angle_deg) / 360.0 * state.cycle_s
        stop_s = to_sine_peak_s + 0.1 * state.cycle_s

        def attempt(fineness: SolverSettings) -> Waveforms:
            return lab.run(switch_on_deck(case, angle_deg, stop_s, fineness, keep=SEARCHED))

        waves, _ = first_solved(attempts, attempt)
        return float(np.abs(waves.i("vinput")).max())

    coarse_a = {angle: peak_a(angle, SEARCH) for angle in COARSE_DEG}
    middle_deg = parabola_top(coarse_a)
    about = (middle_deg - ABOUT_DEG, middle_deg, middle_deg + ABOUT_DEG)
    peaks_a = {angle: peak_a(angle, PINNED) for angle in about}
    if max(peaks_a, key=lambda angle: peaks_a[angle]) != middle_deg:
        # The coarse parabola missed: its neighbours say on which side to look once more.
        top_deg = parabola_top(peaks_a | {a: coarse_a[a] for a in COARSE_DEG if a < about[0] or a > about[2]})
        peaks_a[top_deg] = peak_a(top_deg, PINNED)
    return parabola_top(peaks_a)


def parabola_top(values: Mapping[float, float]) -> float:
    """Place of the top of the parabola through the largest of some values and its neighbours.

    The place of the largest itself, where it has no neighbour on one side.

    Examples
    --------
    >>> parabola_top({0.0: 0.0, 1.0: 3.0, 3.0: 3.0}), parabola_top({0.0: 2.0, 1.0: 1.0})
    (2.0, 0.0)
    """
    places = sorted(values)
    n = max(range(len(places)), key=lambda k: values[places[k]])
    if not 0 < n < len(places) - 1:
        return places[n]
    left, middle, right = places[n - 1 : n + 2]
    fall, rise = values[middle] - values[right], values[middle] - values[left]
    before, after = middle - left, right - middle
    curve = fall * before + rise * after
    if curve <= 0.0:
        return middle
    return middle + 0.5 * (rise * after**2 - fall * before**2) / curve
