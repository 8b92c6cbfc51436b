"""Heat without an engine (a stand-in for the circuit), and with one (what tests run in a worker)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from coldiron.benches import hot
from coldiron.benches.base import Case
from coldiron.heat.averages import Averages, HeatRecord
from coldiron.heat.balance import Balance, balance
from coldiron.heat.network import Network, Temperatures
from coldiron.heat.rooms import rooms
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.sweep import worker
from coldiron.sweep.cases import ROOMS_C


def averages(sinks_w: float = 0.0, string_w: float = 0.0, others_w: float = 0.0) -> Averages:
    """Averages of a circuit that takes so many watts."""
    total_w = sinks_w + string_w + others_w
    return Averages(sinks_w, sinks_w, string_w, others_w, total_w, total_w / 230.0, string_w / 300.0)


class FakeCircuit:
    """A circuit whose averages are a plain function of the two temperatures; counts its runs."""

    def __init__(self, lamp: Lamp, function: Callable[[float, float], Averages]) -> None:
        self._function = function
        self._bus_v = np.full(16, lamp.string.voltage_v(lamp.sinks.set_current_a) + 30.0)
        self.runs = 0

    def at(self, die_c: float, string_c: float) -> HeatRecord:
        """One run."""
        self.runs += 1
        return HeatRecord(die_c, string_c, self._function(die_c, string_c), self._bus_v)


def _session_lab() -> worker.SessionSimulator:
    session = worker._session
    assert session is not None
    return worker.SessionSimulator(session)


def settle(case: Case) -> tuple[Balance, list[float]]:
    """Balance of a case, and input powers of direct runs along its warm-up; runs in a worker."""
    runs = hot.SettledRuns(case, _session_lab())
    found = balance(hot.network(case), runs.at)
    way = found.warm_up
    if found.stands:
        places = np.searchsorted(
            way.time_s, [0.02 * way.time_s[-1], 0.1 * way.time_s[-1], 0.25 * way.time_s[-1]]
        )
        direct = [runs.at(*(float(c) for c in way.nodes_c[:2, n])).averages.input_w for n in places]
        return found, [d / float(way.of("input_w")[n]) for d, n in zip(direct, places, strict=True)]
    return found, []


def cold_start(case: Case, die_c: float, string_c: float) -> float:
    """Input power of a run from an estimate, not from a run before it."""
    return hot.SettledRuns(case, _session_lab()).at(die_c, string_c).averages.input_w


def all_rooms(case: Case) -> tuple[list[tuple[Temperatures, Averages] | None], list[Balance]]:
    """Rooms by the sweep, and some of them each by a balance of its own."""
    runs = hot.SettledRuns(case, _session_lab())
    here = balance(hot.network(case), runs.at)
    networks = [Network(case.lamp, c) for c in ROOMS_C]
    swept = rooms(networks, runs.at, here.records, here.temperatures)
    alone = [balance(networks[n], hot.SettledRuns(case, _session_lab()).at) for n in (2, 5)]
    return swept, alone
