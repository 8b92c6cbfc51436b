"""Any part anywhere: random further parts in the demo lamps of every topology, and what is asked of them."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from coldiron.benches import steady
from coldiron.benches.base import Case
from coldiron.benches.cycle import Window
from coldiron.benches.settling import last_state
from coldiron.benches.steady_readings import steady_readings
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.parts.placing import Misplaced
from coldiron.parts.soundness import unsound
from heat_rig import _session_lab
from ideal_lamps import with_parts

LAMPS: Final = ("kerbside-flood", "landing-candle", "gallery-strip", "stairwell-dome", "shed-lantern")
IN_A_RAIL: Final[dict[str, dict[str, Any]]] = {
    "resistor": {"resistance": "22 Ω"},
    "fusing resistor": {"resistance": "10 Ω", "power": "1 W"},
    "fuse": {"rated_current": "1 A"},
    "choke": {"inductance": "3.3 mH", "resistance": "8 Ω", "saturation": "0.6 A"},
    "thermistor": {"r25": "22 Ω"},
    "thermal cut-out": {},
    "diode": {},
}
ACROSS: Final[dict[str, dict[str, Any]]] = {
    "resistor": {"resistance": "220k"},
    "bleed resistor": {"resistance": "470k"},
    "film capacitor": {"capacitance": "47 nF"},
    "X2 capacitor": {"capacitance": "100 nF"},
    "Y capacitor": {"capacitance": "2.2 nF"},
    "RC snubber": {"resistance": "100 Ω", "capacitance": "22 nF"},
    "electrolytic": {"capacitance": "4.7 µF"},
    "varistor": {
        "ac_rating": "275 V", "one_milliamp_voltage": "430 V", "clamping_voltage": "710 V",
        "clamping_current": "25 A",
    },
    "suppressor diode": {"standoff_voltage": "350 V", "two_way": True},
    "gas discharge tube": {"spark_voltage": "600 V"},
    "LED string": {"series": 130, "forward_voltage": "3 V", "forward_current": "20 mA"},
    "linear sink": {"count": 1, "sense_resistor": "120 Ω"},
    "diode": {},
}  # fmt: skip
"""Values of a part of each kind, as it is used in a rail or across two points."""

UNSTABLE: Final = {("choke", way, "sense_resistor") for way in ("before", "after", "in_series_with")}
"""A choke in the loop of a regulator lets it swing, and a diode in the leg of a dropper blocks it in the end:
such a lamp has no settled cycle, and says so."""


@cache
def demo(name: str) -> Lamp:
    """A demo lamp, loaded once."""
    return load_lamp(name)


def random_lamp(seed: int) -> Lamp | None:
    """A demo lamp with one to three further parts; None where they make no sound circuit."""
    dice = random.Random(seed)
    lamp = demo(LAMPS[seed % len(LAMPS)])
    for number in range(dice.randint(1, 3)):
        way = dice.choice(("after", "before", "in_series_with", "across", "between"))
        shown = [part.name for part in lamp.circuit if not part.hidden]
        kinds = ACROSS if way in ("across", "between") else IN_A_RAIL
        kind = dice.choice(list(kinds))
        where: object = dice.choice(shown)
        if way == "between":
            where = dice.sample([p for p in lamp.circuit.points if p not in ("earth", "housing")], 2)
        blocks = kind == "diode" and "dropper" in lamp.circuit and way != "across"
        if blocks or (kind, way, str(where)) in UNSTABLE:
            continue
        key = "across" if way == "between" else way
        table = {"kind": kind, key: where, **kinds[kind]}
        try:
            lamp = with_parts(lamp, Path("random.toml"), (f"X{number}", table))
            if any(unsound(lamp.circuit)):
                return None
        except Misplaced:
            return None
    return lamp


def words(lamp: Lamp) -> str:
    """What was put where."""
    return f"{lamp.name}: " + ", ".join(f"{p.kind} {p.way} {p.where}" for p in lamp.further)


def deck_nodes(text: str) -> set[str]:
    """Nodes of a deck's elements, by the places that the engine takes them from."""
    found: set[str] = set()
    joined = text.replace("\n+ ", " ")
    for line in joined.splitlines():
        fields = line.split()
        if not line[:1].isalpha():
            continue
        terminals = {"M": 3}.get(line[0].upper(), 4 if line[0].upper() == "S" else 2)
        found |= {node.lower() for node in fields[1 : 1 + terminals]}
        if line[0].upper() == "B":
            for inside in re.findall(r"v\(([\w,]+)\)", line):
                found |= {node.lower() for node in inside.split(",")}
    return found - {"0"}


def twice(text: str) -> list[str]:
    """Names of elements and models that a deck has more than once, capitals or not."""
    names = [line.split()[0].lower() for line in text.splitlines() if line[:1].isalpha()]
    models = [line.split()[1].lower() for line in text.splitlines() if line.startswith(".model")]
    return [name for name, count in (Counter(names) + Counter(models)).items() if count > 1]


@dataclass(frozen=True)
class Judged:
    """What came of a random lamp: balance [%], input [W], and the largest move of a part's watts [W]."""

    balance_pct: float
    input_w: float
    moved_w: float


def judged(case: Case) -> Judged:
    """Settle a lamp; then two cycles in one deck against one and another begun anew. Runs in a worker."""
    lab, state, lamp = _session_lab(), case.conditions.operating_point(), case.lamp
    run = steady.settled(case, lab, state)
    readings = steady_readings(lamp, state, run)
    start, cycle_s = run.next_cycle(lamp), run.cycle_s
    both = lab.run(steady.steady_deck(case, state, start, 2 * cycle_s))
    first = lab.run(steady.steady_deck(case, state, start, cycle_s))
    again = lab.run(steady.steady_deck(case, replace(state), last_state(lamp, first, cycle_s), cycle_s))
    one = Window(lamp, both, cycle_s, 2 * cycle_s, state.part_conditions())
    other = Window(lamp, again, 0.0, cycle_s, state.part_conditions())
    moved = [abs(part.dissipated_w(one) - part.dissipated_w(other)) for part in lamp.circuit if part.works]
    return Judged(float(readings["power_balance_pct"]), float(readings["input_power_W"]), float(max(moved)))
