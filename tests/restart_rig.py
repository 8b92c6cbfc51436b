"""A settled run, and its second half begun anew from a snapshot; runs in a worker."""

from __future__ import annotations

from coldiron.benches import steady
from coldiron.benches.base import Case, lamp_nodes
from coldiron.deck.circuit import OperatingPoint
from coldiron.engine.waves import Waveforms
from heat_rig import _session_lab


def cut_in_two(case: Case) -> tuple[Waveforms, Waveforms, float]:
    """Waveforms of the whole run and of the half begun in its middle, and when that is [s]."""
    lab, state = _session_lab(), case.conditions.operating_point()
    run = steady.settled(case, lab, state)
    middle_s = run.start_s + run.cycle_s / 2
    start = run.at_time(middle_s, (*lamp_nodes(case.lamp), "mains", "wiring", "feed"), ("lmains",))
    again = OperatingPoint(state.voltage_v, state.frequency_hz, 180.0)
    second = lab.run(steady.steady_deck(case, again, start, run.cycle_s / 2))
    return run.waves, second, middle_s
