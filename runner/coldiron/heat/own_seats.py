"""Parts that warm by their own watts and resist by how warm they are: their temperatures from a settled run.

A thermistor takes half a minute to warm, a mains cycle 20 ms: within a cycle its resistance stands still.
What its next temperature T is follows from the run at T0:

    T = Tb + P0 · R(T)/R(T0) · θ     in a rail, where the rest of the lamp sets the current
    T = Tb + P0 · R(T0)/R(T) · θ     across two points, where the mains sets the voltage

with Tb its board and θ its thermal resistance to it. Solved for T instead of taken from P0 alone, the loop
gets there in some three runs; P0 alone swings about the balance for ever, as R falls by half in 15 K.
"""

from __future__ import annotations

from collections.abc import Mapping

from scipy.optimize import brentq

from coldiron.heat.network import HOTTEST_C
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import PartWaveforms
from coldiron.parts.roles import WarmsItself

STILL_K = 0.05
"""A part of its own temperature stands still when a run moves it by less."""


def own_temperatures_c(circuit: Circuit, run: PartWaveforms, board_c: float) -> dict[str, float]:
    """Where the parts of their own temperature go from a run, by name [°C].

    Parameters
    ----------
    circuit : Circuit
    run : PartWaveforms
        A settled cycle; its conditions say how warm they were in it.
    board_c : float
        Temperature of the board [°C].
    """
    return {
        part.name: settled_c(
            part, board_c, part.dissipated_w(run), run.conditions.temperature_c(part.thermal_seat)
        )
        for part in circuit.having(WarmsItself)
    }


def settled_c(part: WarmsItself, board_c: float, watts: float, stood_c: float) -> float:
    """Temperature at which a part loses what it takes [°C], from what it took at another.

    Parameters
    ----------
    part : WarmsItself
    board_c : float
        What it sits on [°C].
    watts : float
        What it took [W] while it stood at `stood_c`.
    stood_c : float
        Its temperature in that run [°C].

    Returns
    -------
    float
        At most `HOTTEST_C`.
    """
    stood_ohm = part.ohm(stood_c)

    def over_k(at_c: float) -> float:
        share = part.ohm(at_c) / stood_ohm
        takes_w = watts * share if part.seat != "shunt" else watts / share
        return at_c - board_c - takes_w * part.loss_k_per_w

    if over_k(HOTTEST_C) <= 0.0:
        return HOTTEST_C
    return float(brentq(over_k, board_c, HOTTEST_C, xtol=1e-4)) if over_k(board_c) < 0.0 else board_c


def moved_k(before_c: Mapping[str, float], after_c: Mapping[str, float]) -> float:
    """Largest difference between two sets of temperatures [K]; 0 where there are none."""
    return max((abs(after_c[name] - before_c[name]) for name in after_c), default=0.0)
