"""Which points of a lamp are live against earth, with the plug either way round.

The supply's neutral is earthed. From one point after the other 2 kΩ, which stand for a body, lead to earth; a
point is live where more than 0.7 mA flow in a peak. A dark lamp is no dead one: an open leg takes the current
away and leaves the voltage, and which points it leaves it on hangs on the plug.

References
----------
IEC 61347-1, annex A (live parts: 0.7 mA peak, 34 V); IEC 60990, whose network is 2 kΩ at mains frequency.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from coldiron.benches import steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import Case, Simulator
from coldiron.deck.circuit import circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.parts.circuit import SUPPLY
from coldiron.parts.part import EARTHED, MINUS, OPEN_OHM
from coldiron.sources.plug_and_body import PlugAndBody, PlugValues

BODY_OHM: Final = 2000.0
LIVE_A: Final = 0.7e-3
LINK_OHM: Final = 1e-3
RUN_CYCLES: Final = 1.5
"""Half a cycle to get there, and a whole one that is read."""
PLUGS: Final = ("this", "swapped")
"""The plug as the lamp file has it, and the other way round."""


def points_inside(case: Case) -> tuple[str, ...]:
    """Points of a lamp that a person may touch inside it: all but its terminals and what is earthed."""
    return tuple(point for point in case.lamp.circuit.points if point not in (*SUPPLY, *EARTHED))


def live_deck(case: Case, plug: str, point: str, settings: SolverSettings, *, switched: bool) -> Deck:
    """Deck of a lamp with a body on one of its points; `switched` opens the neutral of the supply."""
    live, other = SUPPLY if plug == PLUGS[0] else SUPPLY[::-1]
    state = case.conditions.operating_point()
    node = "0" if point == MINUS else point
    values = PlugValues(live, other, OPEN_OHM if switched else LINK_OHM, node, BODY_OHM)
    return render(
        "live",
        case.heading(f"2 kohm from {point} to earth, plug {plug}"),
        circuit(case.lamp, state, back="earth", terminals=(PlugAndBody("plug", ("feed", "earth"), values),)),
        keep=("v(earth)", *(() if node == "0" else (f"v({node.lower()})",))),
        stop_s=RUN_CYCLES * state.cycle_s,
        fineness=settings,
        start=InitialConditions(),
    )


def body_currents_a(
    case: Case, simulator: Simulator, plug: str, *, switched: bool = False
) -> dict[str, float]:
    """Peak current of a body on each point inside a lamp, by point [A]."""
    found: dict[str, float] = {}
    cycle_s = 1.0 / case.conditions.frequency_hz
    own = replace(case, bench="live")
    for point in points_inside(case):

        def attempt(settings: SolverSettings, point: str = point) -> float:
            deck = live_deck(own, plug, point, settings, switched=switched)
            waves = simulator.run(deck)
            across_v = waves.v("0" if point == MINUS else point.lower(), "earth")
            return float(np.abs(across_v[waves.time_s >= deck.stop_s - cycle_s]).max()) / BODY_OHM

        found[point], _ = first_solved(steady.ATTEMPTS, attempt)
    return found
