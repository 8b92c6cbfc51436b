"""Live: which points of a lamp are live parts in each state that a person may find it in.

A point is live where a hand between it and earth carries more than 0.7 mA peak or 2 mA d.c. "Off in the
line" is live again as soon as the plug is turned: what is off in the neutral then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.earthed import Arrangement, Touched, touched
from coldiron.lamp.lamp import Lamp
from coldiron.parts.against_housing import HOUSING
from coldiron.parts.circuit import Circuit
from coldiron.parts.roles import Resists

STATES: Final[Mapping[str, Arrangement]] = {
    "on": Arrangement(),
    "off_l": Arrangement(line_closed=False),
    "off_n": Arrangement(neutral_closed=False),
    "unplugged": Arrangement(line_closed=False, neutral_closed=False),
    "part_open": Arrangement(),
}
"""By the words of their readings; the earth is whole where there is one. In the last the string is open."""
ONE_NET_OHM: Final = 1e3
"""Points with less than this between them are as live as each other: a hand has 2 kΩ."""
NONE: Final = "none"


def take(case: Case, simulator: Simulator) -> BenchResult:
    """Live points of every state, in words, and what a hand carries on the worst of them."""
    readings: dict[str, float | str] = {}
    worst: dict[str, Touched] = {}
    for state, arrangement in STATES.items():
        lamp = _in_state(case.lamp, state)
        if lamp is None:
            continue
        whole = replace(arrangement, earth=lamp.housing.earthed)
        runs: dict[str, Touched] = {}
        for net in nets(lamp.circuit):
            run = touched(case, simulator, lamp, replace(whole, hand=net[0]))
            runs |= dict.fromkeys(net, run)
        hands = {point: run.hand for point, run in runs.items() if run.hand is not None}
        live = [point for point, hand in hands.items() if hand.is_live]
        highest = max(hands, key=lambda point: hands[point].peak_a)
        readings[f"live_{state}"] = ", ".join(live) or NONE
        readings[f"live_{state}_peak_mA"] = 1e3 * hands[highest].peak_a
        worst[state.replace("_", " ")] = runs[highest]
    return BenchResult(
        readings,
        {name: run.deck for name, run in worst.items()},
        {name: run.waves for name, run in worst.items()},
        {name: run.how for name, run in worst.items()},
    )


def _in_state(lamp: Lamp, state: str) -> Lamp | None:
    """Lamp of a state; None where it has no string that could be open."""
    if state != "part_open":
        return lamp
    return lamp.with_state(lamp.circuit.lights[0].name, "open") if lamp.circuit.lights else None


def nets(circuit: Circuit) -> list[list[str]]:
    """Points of a circuit and the housing, those together that hardly a resistance parts."""
    found: dict[str, list[str]] = {point: [point] for point in (*circuit.points, HOUSING)}
    for part in circuit:
        if (
            len(part.at) == 2
            and part.works
            and (part.symbol == "wire" or (isinstance(part, Resists) and part.cold_ohm < ONE_NET_OHM))
        ):
            one, other = found[part.at[0]], found[part.at[1]]
            if one is not other:
                one += other
                found |= dict.fromkeys(other, one)
    return list({id(net): net for net in found.values()}.values())
