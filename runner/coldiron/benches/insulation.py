"""Insulation tests: 500 V d.c. and 2U + 1000 V a.c. between the pins of the plug and the housing.

Both are computed with line and neutral tied, as they have to be, and a.c. with the line alone, to show
which part that would stress. The d.c. test shows the resistance of the insulation, the a.c. test its
capacitance: a resistance of 2 MΩ hides in the capacitive current. What not to do: test with an arrestor to
earth fitted (d.c. it fails a good lamp, a.c. burns the arrestor), test one pin alone, or touch the lamp
before it is discharged: the capacitances stay charged. Insulation is computed whole; whether it holds is
what the test is for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from coldiron.benches import steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.earthed import Arrangement, beside_housing, earth_values
from coldiron.deck.circuit import PoweredCircuit
from coldiron.deck.deck import Deck, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.parts.against_housing import HOUSING
from coldiron.parts.part import EARTHED
from coldiron.sources.earthed import EarthedHousing
from coldiron.sources.insulation_tester import InsulationTester, InsulationTesterValues

DC_V: Final = 500.0
DC_RISE_S: Final = 0.02
DC_S: Final = 0.2
"""Ten times the rise: what charged the capacitances is over, and what is left is insulation."""
AC_CYCLES: Final = 8
AC_RISE_CYCLES: Final = 4
LEAST_A: Final = 1e-12
TRIP_RATIO: Final = 1.5
"""A trip of the a.c. test has to leave so much room above the expected current (our choice)."""
BOARD: Final = "the board"


@dataclass(frozen=True)
class Applied:
    """One test: what its last part showed."""

    deck: Deck
    waves: Waveforms
    how: str
    window: Window

    @property
    def current_a(self) -> np.ndarray:
        """Current from the housing to the ground of the tester [A]."""
        return self.window.i("vearth")


def ac_test_v(mains_v: float) -> float:
    """Test voltage of basic insulation [V].

    References
    ----------
    IEC 60598-1, table of electric strength, basic insulation: 2U + 1000 V (read on public pages).

    Examples
    --------
    >>> ac_test_v(230.0)
    1460.0
    """
    return 2.0 * mains_v + 1000.0


def take(case: Case, simulator: Simulator) -> BenchResult:
    """Currents of both tests, what they say of the insulation, and what they stress."""
    lamp, mains_v = case.lamp, case.lamp.mains.voltage_v
    beside = beside_housing(lamp)
    runs = {
        "500 V d.c.": applied(case, simulator, beside, DC_V, direct=True, tied=True),
        "a.c., tied": applied(case, simulator, beside, ac_test_v(mains_v), direct=False, tied=True),
        "a.c., line alone": applied(case, simulator, beside, ac_test_v(mains_v), direct=False, tied=False),
    }
    direct, tied, apart = runs.values()
    direct_a = abs(direct.window.mean(direct.current_a))
    expected_a = tied.window.rms(tied.current_a)
    between_v = float(np.abs(apart.window.v("line", "neutral")).max())
    return BenchResult(
        {
            "insulation_dc_uA": 1e6 * direct_a,
            "insulation_Mohm": 1e-6 * DC_V / max(direct_a, LEAST_A),
            "insulation_test_V": ac_test_v(mains_v),
            "insulation_ac_mA": 1e3 * expected_a,
            "insulation_trip_mA": 1e3 * TRIP_RATIO * expected_a,
            "insulation_alone_mA": 1e3 * apart.window.rms(apart.current_a),
            "insulation_between_V": between_v,
            "insulation_stressed": stressed(lamp, runs["a.c., tied"]),
        },
        {label: run.deck for label, run in runs.items()},
        {label: run.waves for label, run in runs.items()},
        {label: run.how for label, run in runs.items()},
    )


def stressed(lamp: Lamp, run: Applied) -> str:
    """What the a.c. test drives most current through: a part to the housing or to earth, or the board."""
    flowing = {
        part.name: run.window.rms(part.current_a(run.window))
        for part in lamp.circuit
        if part.works and len(part.at) == 2 and set(EARTHED) & set(part.at)
    }
    if not flowing:
        return BOARD
    name = max(flowing, key=lambda one: flowing[one])
    return name if flowing[name] > 0.5 * run.window.rms(run.current_a) else BOARD


def applied(
    case: Case, simulator: Simulator, beside: Lamp, volt: float, *, direct: bool, tied: bool
) -> Applied:
    """One test of a lamp beside its housing.

    Raises
    ------
    NoConvergence
        If the engine does not get through.
    """
    cycle_s = case.conditions.operating_point().cycle_s
    values = InsulationTesterValues(
        peak_v=volt if direct else math.sqrt(2.0) * volt,
        frequency_hz=None if direct else 1.0 / cycle_s,
        omega_per_s=2.0 * math.pi / cycle_s,
        rise_s=DC_RISE_S if direct else AC_RISE_CYCLES * cycle_s,
        tied=tied,
    )
    stop_s = DC_S if direct else AC_CYCLES * cycle_s
    said = f"{volt:g} V {'d.c.' if direct else 'a.c.'}, {'line and neutral tied' if tied else 'line alone'}"
    (deck, waves), how = first_solved(
        steady.ATTEMPTS, partial(_run, case, simulator, beside, values, said, stop_s)
    )
    return Applied(deck, waves, how, Window(beside, waves, stop_s - cycle_s, stop_s))


def _run(
    case: Case,
    simulator: Simulator,
    beside: Lamp,
    values: InsulationTesterValues,
    said: str,
    stop_s: float,
    settings: SolverSettings,
) -> tuple[Deck, Waveforms]:
    earth = earth_values(beside, Arrangement())
    exposed = PoweredCircuit(
        (InsulationTester("tester", ("line", "neutral", "ground"), values),),
        beside.circuit,
        case.conditions.operating_point().part_conditions(),
        (EarthedHousing("housing", (HOUSING, "ground"), earth),),
    )
    deck = render(
        "insulation",
        case.heading(said),
        exposed,
        keep=tuple(dict.fromkeys((*beside.circuit.vectors(), "v(ground)", "v(housing)", "i(vearth)"))),
        stop_s=stop_s,
        keep_from_s=0.5 * stop_s,
        fineness=settings,
    )
    return deck, simulator.run(deck)
