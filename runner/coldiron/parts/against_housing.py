"""A circuit beside its housing: the string in sections, and the insulation of the board along it.

Where the capacitance sits decides more than into how many pieces it is cut. Half of it at either end of the
string, or half on the bus and half on minus, is wrong in kind: no current then has to pass through LEDs, so
that neither the glow behind a switched neutral nor the avalanche of the sinks in a surge to earth is seen.

| rule | sections of N | insulation | for |
| --- | --- | --- | --- |
| middle | N + 1, the outer ones half as long | 1/N of it at each joint | touch, insulation tests: N = 1 |
| ends | N alike | 1/N at each joint, half of that at both ends | surge and burst to earth: N = 8 |

Steady decks keep the one junction: sections change their readings by no more than the noise of the solver,
but they cost time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from coldiron.parts.board_insulation import BoardInsulation, BoardInsulationValues
from coldiron.parts.circuit import Circuit
from coldiron.parts.led_string import LedString, StringSection
from coldiron.parts.part import MINUS, Part

HOUSING = "housing"
Rule = Literal["middle", "ends"]


@dataclass(frozen=True)
class Insulation:
    """Between the circuit and its housing: of the whole string, and of the copper on minus."""

    string_f: float
    minus_f: float
    resistance_ohm: float


def against_housing(circuit: Circuit, insulation: Insulation, *, sections: int, rule: Rule) -> Circuit:
    """Circuit with its strings in sections and the insulation of the board to the point "housing".

    Parameters
    ----------
    circuit : Circuit
    insulation : Insulation
        Of the whole board; it divides among several strings as their LEDs do.
    sections : int
        Of all strings together, at least one each.
    rule : {"middle", "ends"}
        Where the insulation sits.

    Returns
    -------
    Circuit
        A string that is broken, or has a row unlike the others, stays whole with half of its share at
        either end.
    """
    whole = sum(light.leds for light in circuit.lights)
    parts: list[Part] = []
    shares: dict[str, float] = {}
    for part in circuit:
        if part not in circuit.lights:
            parts.append(part)
            continue
        share = circuit.lights[circuit.lights.index(part)].leds / whole
        count = max(1, round(sections * share))
        pieces, places = _cut(part, count, rule)
        parts += pieces
        for place, of_it in places.items():
            shares[place] = shares.get(place, 0.0) + share * of_it
    if not circuit.lights:
        shares = dict.fromkeys(("bus", MINUS), 0.5)
    insulated = {place: insulation.string_f * share for place, share in shares.items()}
    insulated[MINUS] = insulated.get(MINUS, 0.0) + insulation.minus_f
    total_f = sum(insulated.values())
    parts += [
        BoardInsulation(
            f"board_insulation_{number}",
            (place, HOUSING),
            BoardInsulationValues(
                capacitance_f=farad, resistance_ohm=insulation.resistance_ohm * total_f / farad
            ),
        )
        for number, (place, farad) in enumerate(insulated.items(), start=1)
        if farad > 0.0
    ]
    return replace(circuit, parts=tuple(parts))


def _cut(part: Part, count: int, rule: Rule) -> tuple[list[Part], dict[str, float]]:
    """Sections of a string, and the share of its insulation at each place."""
    if not isinstance(part, LedString) or part.row is not None:
        return [part], dict.fromkeys(part.at, 0.5)
    if rule == "middle":
        long = [1.0 / count] * (count - 1)
        lengths = [0.5 / count, *long, 0.5 / count]
    else:
        lengths = [1.0 / count] * count
    joints = [f"{part.name}_joint_{number}" for number in range(1, len(lengths))]
    places = [part.at[0], *joints, part.at[1]]
    sections: list[Part] = []
    above = 0.0
    for number, length in enumerate(lengths, start=1):
        sections.append(
            StringSection(
                f"section_of_{part.name}_{number}",
                (places[number - 1], places[number]),
                part.values,
                whole_tag=part.tag,
                whole_at=(part.at[0], part.at[1]),
                share_ratio=length,
                begins_ratio=above,
            )
        )
        above += length
    if rule == "middle":
        return sections, dict.fromkeys(joints, 1.0 / count)
    each = dict.fromkeys(places, 1.0 / count)
    each[part.at[0]] = each[part.at[1]] = 0.5 / count
    return sections, each


def sectioned_start(nodes_v: Mapping[str, float], circuit: Circuit) -> dict[str, float]:
    """State of a circuit in sections from that of the whole one [V]; the housing is not in it."""
    found = dict(nodes_v)
    for section in circuit.having(StringSection):
        found |= section.begins(nodes_v)
    return {node: found[node] for node in circuit.nodes() if node in found}
