"""Surge: a combination wave, line to neutral, on a lamp that runs on live mains.

The generator and its coupling are a network in the deck. The lamp first settles with the network in place,
the switch open; then each surge starts from that run's state at its angle. The reference plane is the bare
output of the generator, which has 2.00 Ω; behind the coupling capacitor the wave is shorter and the effective
impedance 2.22 Ω.
"""

from __future__ import annotations

from dataclasses import replace

from coldiron.benches import steady
from coldiron.benches.attempts import RELAXED, first_solved
from coldiron.benches.base import GAVE_UP, BenchResult, Case, Simulator, lamp_nodes, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.generator import coupled, fired_later, generator_values
from coldiron.benches.settling import Settled, estimated_start, settle
from coldiron.benches.surge_readings import SurgeRun, decisive, discs_of, surge_readings
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.errors import NoConvergence, NotApplicable
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.varistor import Disc
from coldiron.sources.surge_generator import (
    INDUCTORS,
    NETWORK_NODES,
    SWITCH_CLOSED_OHM,
    CombinationWave,
    SurgeGenerator,
    SurgeGeneratorValues,
    storage_v,
)

SOURCES = (CombinationWave,)
"""Kinds that this bench wires beside the mains."""
SETTLING = (
    SolverSettings(step_s=50e-6, reltol=1e-3, abstol=1e-7, vntol=1e-4),
    SolverSettings(step_s=20e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
    *RELAXED,
)
SETTLED_RATIO = 1e-3
"""The state before a surge decides less of its readings than that of a steady lamp."""
FIRED = (
    SolverSettings(step_s=2e-6, reltol=1e-5, abstol=1e-7, vntol=1e-4),
    SolverSettings(step_s=5e-6, reltol=1e-5, abstol=1e-6, vntol=1e-3),
    SolverSettings(step_s=2e-6, reltol=1e-4, abstol=1e-6, vntol=1e-3),
    SolverSettings(step_s=1e-6, reltol=3e-4, abstol=1e-6, vntol=1e-3),
)
"""How finely a surge is computed, and what is tried when the engine does not get through. With 1e-4 the
steep varistor reads up to 5 % too much, a sink that is not broken down up to 2 % (against steps of 50 ns)."""
CONTINUOUS = (
    SolverSettings(step_s=5e-6, reltol=1e-4, abstol=1e-6, vntol=1e-3),
    SolverSettings(step_s=2e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
    *RELAXED,
)
"""The last resort: the generator fires within a run that has begun a cycle earlier."""
WINDOW_S = 600e-6
"""A surge and what it leaves on the coupling capacitor are over by then."""


def surge_deck(
    case: Case,
    state: OperatingPoint,
    start: InitialConditions,
    stop_s: float,
    generator: SurgeGeneratorValues,
    fineness: SolverSettings,
    *,
    said: str,
    keep_from_s: float = 0.0,
) -> Deck:
    """Deck of a lamp with the generator coupled to it."""
    fired = generator.fires_s is not None or generator.switch_ohm == SWITCH_CLOSED_OHM
    return render(
        "surge",
        case.heading(said),
        circuit(
            case.lamp,
            state,
            feed="supply",
            inductor_a=start.inductor_a("lmains"),
            between=(CombinationWave("surge", ("supply", "feed", "neutral"), generator),),
        ),
        keep=(*lamp_vectors(case.lamp), "v(surge)") if fired else ("all",),
        stop_s=stop_s,
        keep_from_s=keep_from_s,
        fineness=fineness,
        start=start,
    )


def settled(case: Case, lab: Simulator, state: OperatingPoint) -> Settled:
    """Lamp settled on the mains with the generator coupled and not yet fired.

    It begins where the lamp has settled without the generator; if the engine does not get through from there,
    from an estimate and with an empty generator.
    """
    quiet = steady.settled(case, lab, state).next_cycle(case.lamp)

    def deck_from(
        start: InitialConditions, phase_deg: float, stop_s: float, fineness: SolverSettings
    ) -> Deck:
        at_phase = replace(state, phase_deg=phase_deg)
        open_switch = generator_values(SurgeGenerator(), start, fired=False)
        return surge_deck(case, at_phase, start, stop_s, open_switch, fineness, said="before the surge")

    def settled_from(first: InitialConditions, phase_deg: float) -> Settled:
        return settle(
            lab,
            case.lamp,
            state,
            first,
            deck_from,
            SETTLING,
            first_phase_deg=phase_deg,
            settled_ratio=SETTLED_RATIO,
        )

    try:
        return settled_from(coupled(quiet, state, case.lamp.mains, SurgeGenerator()), 0.0)
    except NoConvergence:
        run = settled_from(estimated_start(case.lamp, state), 180.0)
        return replace(run, how=f"{run.how}, from an estimate after the settled lamp {GAVE_UP}")


def charged(start: InitialConditions, level_v: float, polarity: int) -> InitialConditions:
    """State of a settled run with the storage capacitor charged for an open-circuit level."""
    nodes = dict(start.nodes_v)
    nodes["store"] = nodes["neutral"] + storage_v(SurgeGenerator(), level_v, polarity)
    return InitialConditions(tuple(nodes.items()), start.inductors_a)


def uncharged(start: InitialConditions) -> InitialConditions:
    """State of a settled run whose generator is charged by a source of its own, which has not risen yet."""
    nodes = dict(start.nodes_v)
    return InitialConditions((*nodes.items(), ("cell", nodes["neutral"]), ("fire", 0.0)), start.inductors_a)


def surge_level_v(case: Case) -> float:
    """Open-circuit level of a case's surges [V].

    Raises
    ------
    NotApplicable
        If neither the study nor the lamp's label tells it.
    """
    if case.conditions.surge_level_v is None:
        raise NotApplicable(
            "no surge level: it follows from the lamp's [ratings] power, which is not given; "
            "or the study's [conditions] say surge_level"
        )
    return case.conditions.surge_level_v


def fired(
    case: Case, lab: Simulator, before: Settled, angle_deg: float, polarity: int, disc: Disc = "high"
) -> SurgeRun:
    """One surge on a settled lamp, from its state at an angle, or within a run that begins a cycle earlier.

    On the mains a varistor carries microamperes, so that the settled state is that of any of its discs.

    Raises
    ------
    NoConvergence
        If the engine gets through neither.
    """
    level_v = surge_level_v(case)
    said = f"{polarity * level_v:+g} V at {angle_deg:g} deg"
    state = replace(case.conditions.operating_point(angle_deg), disc=disc)
    quiet = before.at_phase(angle_deg, lamp_nodes(case.lamp) + NETWORK_NODES, INDUCTORS)
    start = charged(quiet, level_v, polarity)
    values = generator_values(SurgeGenerator(), start, fired=True)

    def warm(fineness: SolverSettings) -> tuple[Deck, Waveforms]:
        deck = surge_deck(case, state, start, WINDOW_S, values, fineness, said=said)
        moment_s = before.start_s + angle_deg / 360.0 * before.cycle_s
        waves = lab.run(deck)
        return deck, waves.begun(before.waves.at(moment_s, waves.vectors))

    def within(fineness: SolverSettings) -> tuple[Deck, Waveforms]:
        deck, fires_s = continuous_deck(
            case, angle_deg, polarity, 1, fineness, disc=disc, start=before.next_cycle(case.lamp)
        )
        return deck, lab.run(deck).since(fires_s)

    def window(waves: Waveforms) -> Window:
        return Window(case.lamp, waves, 0.0, WINDOW_S)

    try:
        (deck, waves), how = first_solved(FIRED, warm)
        return SurgeRun(disc, angle_deg, polarity, deck, window(waves), f"warm, {how}")
    except NoConvergence:
        (deck, waves), how = first_solved(CONTINUOUS, within)
        tried = ", after ".join(["", *(f"{fineness} {GAVE_UP}" for fineness in FIRED)])
        return SurgeRun(disc, angle_deg, polarity, deck, window(waves), f"within a run, {how}{tried}")


def continuous_deck(
    case: Case,
    angle_deg: float,
    polarity: int,
    cycles: int,
    fineness: SolverSettings,
    *,
    disc: Disc = "high",
    start: InitialConditions | None = None,
) -> tuple[Deck, float]:
    """Deck of a surge within a run from rest or from a state, and when the generator fires [s].

    A state is that of the lamp with the generator coupled at a rising zero crossing of the mains.
    """
    state = replace(case.conditions.operating_point(), disc=disc)
    level_v = surge_level_v(case)
    fires_s = (cycles + angle_deg / 360.0) * state.cycle_s
    start = uncharged(start) if start else InitialConditions()
    values = fired_later(SurgeGenerator(), start, level_v, polarity, fires_s)
    said = f"{polarity * level_v:+g} V at {angle_deg:g} deg, within the run"
    stop_s, before_s = fires_s + WINDOW_S, 5 * fineness.step_s
    deck = surge_deck(case, state, start, stop_s, values, fineness, said=said, keep_from_s=fires_s - before_s)
    return deck, fires_s


def label(lamp: Lamp, run: SurgeRun) -> str:
    """Name of a surge among those of a case."""
    disc = f", {run.disc} disc" if discs_of(lamp) != ("high",) else ""
    return f"{run.polarity:+d} at {run.angle_deg:g} deg{disc}"


def take(case: Case, lab: Simulator) -> BenchResult:
    """Readings of the worst surge over all angles, polarities and discs of the varistor.

    The high disc, which lets most through, is run at all of them; the others at those that were the worst for
    some reading.

    Raises
    ------
    NotApplicable
        If there is no level to surge with.
    """
    surge_level_v(case)
    before = settled(case, lab, case.conditions.operating_point())
    high, *others = discs_of(case.lamp)
    runs = [
        fired(case, lab, before, angle_deg, polarity, high)
        for angle_deg in case.conditions.surge_angles_deg
        for polarity in case.conditions.surge_polarities
    ]
    again = decisive(runs) if others else []
    runs += [fired(case, lab, before, one.angle_deg, one.polarity, disc) for disc in others for one in again]
    readings, worst = surge_readings(case.lamp, runs)
    return BenchResult(
        readings,
        {"before": before.deck, "surge": worst.deck},
        {"before": before.waves, "surge": worst.window.waves},
        {"before": before.how, **{label(case.lamp, run): run.how for run in runs}},
    )
