"""Where a lamp settles in rooms from cold to hot, with electrical runs for the two ends only."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.heat.averages import Averages, HeatRecord, RunsBlended
from coldiron.heat.balance import RunAt, follows, standing, stands_still
from coldiron.heat.network import Network, Temperatures

MOST_RUNS_A_ROOM = 8


def run_until_still(
    network: Network, run_at: RunAt, records: list[HeatRecord], begin: Temperatures
) -> Temperatures | None:
    """Add runs to `records` until the lamp stands still; None where it has no balance, or not soon enough.

    Quicker than `balance`, which also integrates the warm-up and says what a lamp without a balance does.
    """
    for _ in range(MOST_RUNS_A_ROOM):
        electrical = RunsBlended(network.lamp, records)
        at = standing(network, electrical, begin)
        if at is None:
            return None
        records.append(run_at(at.die_c, at.string_c))
        if stands_still(network, records[-1], electrical(at.die_c, at.string_c)):
            return follows(network, records[-1])
    return None


def rooms(
    networks: Sequence[Network], run_at: RunAt, known: Sequence[HeatRecord], begin: Temperatures
) -> list[tuple[Temperatures, Averages] | None]:
    """Where one lamp settles in several rooms.

    The first and the last room are run until they stand still; those between follow from all runs together.

    Parameters
    ----------
    networks : sequence of Network
        One lamp in rooms that rise in temperature.
    run_at : callable
        Settles the circuit at a die and a string temperature.
    known : sequence of HeatRecord
        Runs that are there already; at least one.
    begin : Temperatures
        Where it settles in some room.

    Returns
    -------
    list
        Temperatures and averages of each room; None where there is no balance, or where it was not reached.
    """
    lamp = networks[0].lamp
    records = list(known)
    unsettled = [
        network
        for network in (networks[0], networks[-1])
        if run_until_still(network, run_at, records, begin) is None
    ]
    electrical = RunsBlended(lamp, records)
    found: list[tuple[Temperatures, Averages] | None] = []
    for network in networks:
        at = None if network in unsettled else standing(network, electrical, begin)
        found.append(None if at is None else (at, electrical(at.die_c, at.string_c)))
        begin = begin if at is None else at
    return found
