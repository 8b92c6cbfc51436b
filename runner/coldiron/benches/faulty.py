"""A faulty lamp on the mains: settled, or as settled as it gets."""

from __future__ import annotations

from dataclasses import replace

from coldiron.benches import steady
from coldiron.benches.attempts import RELAXED, first_solved
from coldiron.benches.base import Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.settling import NotSettled, Settled
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.engine.waves import Waveforms
from coldiron.faults.catalogue import SUPPLY
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import Part

ALIKE_RATIO = 1e-3
"""Largest change from one half cycle to the next: end states differ by far more."""
FROM_A_GUESS, FROM_REST = 6, 8
"""Mains cycles that a lamp is given to settle, from where it would be if it were whole, and from rest."""
AT_MOST_CYCLES = 5.0
"""A lamp that settles neither way is read over the last of so many cycles from rest."""
LOST_NEUTRAL_V = ((110.0, 240.0), (220.0, 380.0), (230.0, 400.0), (240.0, 480.0))
"""Mains voltage from which on, and the voltage that a lost neutral puts on the lamp [V].

References
----------
UL 1449, table of temporary overvoltages by rated voltage: 110 to 219 V 240 V, 220 to 229 V 380 V, 230 to
239 V 400 V, 240 to 345 V 480 V. IEC 60364-4-44 has √3 times the line to neutral voltage, 398 V for 230 V
(from memory).
"""


def lost_neutral_v(mains_v: float) -> float:
    """Voltage on a lamp whose neutral is lost in the network [V].

    Examples
    --------
    >>> lost_neutral_v(120.0), lost_neutral_v(230.0), lost_neutral_v(100.0)
    (240.0, 400.0, 200.0)
    """
    return next((to_v for from_v, to_v in reversed(LOST_NEUTRAL_V) if mains_v >= from_v), 2.0 * mains_v)


def on_its_supply(case: Case) -> Case:
    """The case on the supply that a fault of it makes: a lost neutral raises the voltage."""
    if (SUPPLY, "neutral lost") not in case.lamp.failures:
        return case
    raised = replace(case.conditions, voltage_v=lost_neutral_v(case.conditions.voltage_v))
    return replace(case, conditions=raised)


def with_parts(lamp: Lamp, parts: list[Part]) -> Lamp:
    """Lamp whose circuit has other parts of the same names."""
    circuit = lamp.circuit
    for part in parts:
        circuit = circuit.with_part(part)
    return lamp.seen_as(circuit)


def is_cut_off(lamp: Lamp) -> bool:
    """Whether a part in a leg of the mains is open: nothing is charged then, and a guess would be far off."""
    return any(not part.works and part.state != "short" for part in lamp.circuit.carrying_mains())


def settled(case: Case, lab: Simulator) -> tuple[Settled, Window]:
    """Settled run of a faulty lamp, and its last cycle.

    From where the lamp would be if it were whole; where that is far off, from rest; where it still moves
    after that (what is cut off may empty for minutes), the last cycle of some from rest.

    Raises
    ------
    NoConvergence
        If the engine does not get through.
    """
    state = case.conditions.operating_point()
    tries = [(InitialConditions(), FROM_REST)]
    if not is_cut_off(case.lamp):
        tries.insert(0, (None, FROM_A_GUESS))  # type: ignore[arg-type]
    for first, cycles in tries:
        try:
            run = steady.settled(case, lab, state, first, ALIKE_RATIO, cycles)
            break
        except NotSettled:
            continue
    else:
        run = _unsettled(case, lab)
    return run, Window(case.lamp, run.waves, run.start_s, run.stop_s, state.part_conditions())


def _unsettled(case: Case, lab: Simulator) -> Settled:
    state = case.conditions.operating_point()

    def attempt(settings: SolverSettings) -> tuple[Deck, Waveforms]:
        stop_s = AT_MOST_CYCLES * state.cycle_s
        deck = steady.steady_deck(case, state, InitialConditions(), stop_s, settings)
        return deck, lab.run(deck)

    (deck, waves), how = first_solved((*steady.ATTEMPTS[:2], *RELAXED), attempt)
    how = f"not settled, {AT_MOST_CYCLES:g} cycles from rest, {how}"
    return Settled(deck, waves, state.cycle_s, AT_MOST_CYCLES, how)
