"""Circuits to draw, by hand and at random; a drawing read back: what its ink joins, what lies over what."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from pydantic import BaseModel
from scipy.cluster.hierarchy import DisjointSet

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.parts import Bridge as BridgeValues
from coldiron.lamp.parts import LedString, Sinks
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import KINDS, Part
from coldiron.parts.placing import Misplaced, placed
from coldiron.parts.soundness import unsound
from coldiron.pictures.layout.plan import Plan, Symbol, Wire
from coldiron.pictures.layout.shapes import XY
from coldiron.pictures.wiring import Drawn
from coldiron.resources import resource_dir
from lamps import plain_lamp

NEAR = 1e-6
DEMOS = sorted(path.stem for path in (resource_dir("variants") / "lamps").glob("*.toml"))


class DrawnLamp:
    """A circuit with a mains, which is all that a drawing asks of a lamp."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit, self.mains = circuit, plain_lamp().mains


def as_lamp(circuit: Circuit) -> Lamp:
    """A circuit in place of a lamp."""
    return DrawnLamp(circuit)  # type: ignore[return-value]


# --- circuits ----------------------------------------------------------------------------------


def values_of(kind: str) -> Any:
    """Some values of a kind: what is required, in the middle of its range."""
    model: type[BaseModel] = KINDS[kind].model
    if kind == "varistor":
        return plain_lamp().varistor
    if kind == "LED string":
        return LedString(series=20, forward_voltage_v=3.0, forward_current_a=0.06)
    given: dict[str, Any] = {}
    for name, about in model.model_fields.items():
        if about.is_required():
            bounds = {type(one).__name__.lower(): one for one in about.metadata}
            low = getattr(bounds.get("ge"), "ge", None) or getattr(bounds.get("gt"), "gt", None) or 1.0
            high = getattr(bounds.get("le"), "le", None) or 2.0 * low
            middle = (low * high) ** 0.5
            given[name] = max(1, round(middle)) if about.annotation is int else float(f"{middle:.2g}")
    return model(**given)


def part(kind: str, name: str, *at: str, seat: str = "shunt", values: Any = None) -> Part:
    """A part of a kind between points."""
    return KINDS[kind](name, at, values_of(kind) if values is None else values, seat=seat)  # type: ignore[arg-type]


def dropper() -> Circuit:
    """A capacitive dropper: series capacitor with its bleed over it, bridge, reservoir, string."""
    leds = LedString(series=24, forward_voltage_v=3.0, forward_current_a=0.05)
    return Circuit(
        (
            part("fusing resistor", "line_fusing", "line", "line_f", seat="series"),
            part("X2 capacitor", "dropper", "line_f", "line_c", seat="series"),
            part("bleed resistor", "dropper_bleed", "line_f", "line_c"),
            part("bridge", "bridge", "line_c", "neutral", "bus", "minus", values=BridgeValues()),
            part("electrolytic", "reservoir", "bus", "minus"),
            part("LED string", "string", "bus", "minus", values=leds),
        ),
        {"bus": "string"},
    )


def tapped(taps: int = 3) -> Circuit:
    """A tapped string: segments, a sink at each tap, one sense resistor."""
    parts = [
        part("fusing resistor", "line_fusing", "line", "line_f", seat="series"),
        part("bridge", "bridge", "line_f", "neutral", "bus", "minus", values=BridgeValues()),
        part("film capacitor", "film", "bus", "minus"),
    ]
    points = ["bus", *(f"tap{n}" for n in range(1, taps + 1))]
    parts += [
        part("LED string", f"segment{n}", above, below)
        for n, (above, below) in enumerate(itertools.pairwise(points), start=1)
    ]
    sink = Sinks(count=1, sense_resistor_ohm=10.0)
    parts += [part("tap sink", f"sink{n}", f"tap{n}", "sense", values=sink) for n in range(taps, 0, -1)]
    return Circuit((*parts, part("resistor", "sense", "sense", "minus")), {"bus": "segment1"})


def valley_fill() -> Circuit:
    """Two capacitors charged in series and emptied in parallel, with a resistor against the inrush."""
    base = plain_lamp().circuit
    more = (
        part("electrolytic", "C1", "bus", "fill_low"),
        part("diode", "D3", "minus", "fill_low"),
        part("diode", "D2", "fill_low", "fill_mid"),
        part("resistor", "R3", "fill_mid", "fill_high"),
        part("diode", "D1", "fill_high", "bus"),
        part("electrolytic", "C2", "fill_high", "minus"),
    )
    place = base.parts.index(base["string"])
    return Circuit((*base.parts[:place], *more, *base.parts[place:]), base.anchors)


def half_wave() -> Circuit:
    """One diode; neutral and minus are one point, with a wire in the list of parts."""
    lamp = plain_lamp()
    return Circuit(
        (
            part("fusing resistor", "line_fusing", "line", "line_f", seat="series"),
            part("varistor", "varistor", "line_f", "neutral"),
            part("diode", "D1", "line_f", "bus", seat="series"),
            KINDS["wire"]("return", ("neutral", "minus"), KINDS["wire"].model()),
            part("electrolytic", "reservoir", "bus", "minus"),
            part("LED string", "string", "bus", "drain", values=lamp.string),
            part("linear sink", "sinks", "drain", "minus", values=lamp.sinks),
        ),
        {"bus": "string"},
    )


def by_hand() -> dict[str, Circuit]:
    """Every circuit above and the demo lamps, by name."""
    made = {"dropper": dropper(), "tapped": tapped(), "valley fill": valley_fill(), "half wave": half_wave()}
    return {name: load_lamp(name).circuit for name in DEMOS} | made | {"many parts": many_parts()}


def many_parts() -> Circuit:
    """The flood with a thermistor, a second varistor, capacitors over the string and to earth, a snubber."""
    circuit = load_lamp("kerbside-flood").circuit
    for kind, name, way, where in (
        ("thermistor", "NTC1", "after", "line_fusing"),
        ("electrolytic", "C9", "across", "string"),
        ("varistor", "MOV2", "across", ("bus", "minus")),
        ("RC snubber", "SN1", "across", ("line", "neutral")),
        ("Y capacitor", "Y1", "across", ("bus", "earth")),
    ):
        circuit = placed(circuit, KINDS[kind](name, (), values_of(kind)), way, where)
    return circuit


def kinds_to_place() -> list[str]:
    """Every kind of two ends that a lamp file may put anywhere."""
    return sorted(word for word, kind in KINDS.items() if kind.placeable and len(kind.terminals) == 2)


def any_circuit(seed: int) -> Circuit:
    """A circuit with up to nine parts of any kind in any place, some of them broken."""
    draw = random.Random(seed)
    circuit = draw.choice(list(by_hand().values()))
    for number in range(draw.randint(1, 9)):
        kind = draw.choice(kinds_to_place())
        new = KINDS[kind](f"P{number}", (), values_of(kind))
        way = draw.choice(["after", "before", "in_series_with", "across", "across", "across"])
        beside = draw.choice([one for one in circuit if one.shown])
        where: str | Sequence[str] = beside.name
        if way == "across" and (len(beside.at) > 2 or draw.random() < 0.6):
            where = draw.sample(sorted({*circuit.points, "earth", draw.choice(["earth", "housing"])}), 2)
        try:
            grown = placed(circuit, new, way, where)
        except Misplaced:
            continue
        if draw.random() < 0.15:
            grown = grown.broken(new.name, draw.choice(["open", "short", "removed"]))
        if not list(unsound(grown)):
            circuit = grown
    return circuit


def without_some(circuit: Circuit, seed: int) -> Circuit:
    """The same circuit with up to three parts removed, wired across or broken."""
    draw = random.Random(seed)
    for _ in range(draw.randint(1, 3)):
        one = draw.choice([one for one in circuit if one.shown and len(one.at) == 2])
        how = draw.choice(["removed", "wired across", "open", "short"])
        if how == "wired across":
            changed = circuit.wired_across(one.name)
        else:
            changed = circuit.without(one.name) if how == "removed" else circuit.broken(one.name, how)
        if not list(unsound(changed)):
            circuit = changed
    return circuit


# --- reading back ------------------------------------------------------------------------------


def _on(point: XY, wire: Wire) -> bool:
    box = wire.box.grown(-0.02 + NEAR)
    return box.x0 <= point[0] <= box.x1 and box.y0 <= point[1] <= box.y1


class Ink:
    """What a drawing joins. A crossing without a dot joins nothing; nor does a part that is not there."""

    def __init__(self, plan: Plan) -> None:
        self.symbols = [one for one in plan.symbols if one.owner is None or not one.owner.ghost]
        self.lines = [wire for wire in plan.wires if wire.owner is None or not wire.owner.ghost]
        self.ends: dict[tuple[int, int], int] = {}
        for number, symbol in enumerate(self.symbols):
            for end, lead in enumerate(symbol.leads):
                self.ends[number, end] = len(self.lines)
                self.lines.append(lead)
        self.joined = DisjointSet(range(len(self.lines)))
        for i, j in itertools.combinations(range(len(self.lines)), 2):
            one, other = self.lines[i], self.lines[j]
            if any(_on(end, other) for end in (one.a, one.b)) or any(
                _on(end, one) for end in (other.a, other.b)
            ):
                self._join(i, j)
        for dot in plan.dots:
            self._join(*self._at(dot))
        said: dict[str, list[int]] = {}
        for name in plan.named:
            found = self._at((name.x, name.y))
            assert found, f"{name.point} is written where nothing is"
            said.setdefault(name.point, []).extend(found)
        for lines in said.values():
            self._join(*lines)
        self.named = {point: self.joined[lines[0]] for point, lines in said.items()}

    def _at(self, place: XY) -> list[int]:
        return [n for n, line in enumerate(self.lines) if _on(place, line)]

    def _join(self, *lines: int) -> None:
        for line in lines[1:]:
            self.joined.merge(lines[0], line)

    def net(self, symbol: int, end: int) -> int:
        """What an end of a symbol hangs on."""
        return int(self.joined[self.ends[symbol, end]])


def differences(circuit: Circuit, plan: Plan) -> list[str]:
    """Where the drawing is another circuit than the one it was made of."""
    ink = Ink(plan)
    point_of = _points(circuit)
    said = list(_without_a_dot(ink, plan))
    nets: dict[str, set[int]] = {}
    diodes: Counter[tuple[int, int]] = Counter()
    bridge = next((one for one in circuit if len(one.at) == 4), None)
    for number, symbol in enumerate(ink.symbols):
        owner = symbol.owner
        assert owner is not None
        ends = ink.net(number, 0), ink.net(number, 1)
        if bridge is not None and owner.key == bridge.name:
            diodes[ends] += 1
            continue
        at = ("neutral", "line") if owner.key == "mains" else circuit[owner.key].at
        for point, net in zip(at, ends, strict=True):
            nets.setdefault(point_of[point], set()).add(net)
    for point, net in ink.named.items():
        # A point that went with a part is named beside the wire in its place.
        if point in point_of:
            nets.setdefault(point_of[point], set()).add(net)
    said += [f"{point} is in {len(found)} pieces" for point, found in nets.items() if len(found) > 1]
    points_on: dict[int, set[str]] = {}
    for point, found in nets.items():
        for net in found:
            points_on.setdefault(net, set()).add(point)
    said += [f"{' and '.join(sorted(points))} are joined" for points in points_on.values() if len(points) > 1]
    if bridge is not None and bridge.state != "removed" and not said:
        line, neutral, plus, minus = (
            next(iter(nets.get(point_of[point], {-n}))) for n, point in enumerate(bridge.at, start=1)
        )
        wanted = Counter([(line, plus), (neutral, plus), (minus, line), (minus, neutral)])
        if diodes != wanted:
            said.append("the diodes of the bridge are elsewhere")
    return said


def _without_a_dot(ink: Ink, plan: Plan) -> Iterator[str]:
    """Places where a wire meets another midway and no dot says that they are joined."""
    for one, other in itertools.permutations(ink.lines, 2):
        for x, y in (one.a, one.b):
            midway = one.level != other.level and _on((x, y), other)
            if not midway or any(abs(x - p) + abs(y - q) < 0.02 for p, q in (other.a, other.b)):
                continue
            if not any(abs(x - p) + abs(y - q) < NEAR for p, q in plan.dots):
                yield f"no dot at {x:.2f}, {y:.2f}"


def _points(circuit: Circuit) -> dict[str, str]:
    """Points by name, those that a wire joins under one name."""
    joined = DisjointSet({*circuit.points, "line", "neutral", "earth", "housing"})
    for one in circuit:
        if one.symbol == "wire":
            joined.merge(*one.at)
    return {point: str(joined[point]) for point in joined}


def overlaps(plan: Plan) -> Iterator[str]:
    """Everything that lies over something else."""
    words = [(f"'{word.text}' of {_whose(word.owner)}", word.box) for word in plan.words]
    bodies = [(_whose(symbol.owner), symbol.box, symbol) for symbol in plan.symbols]
    lines = [(_whose(wire.owner), wire.box) for wire in plan.wires]
    lines += [(_whose(symbol.owner), lead.box) for symbol in plan.symbols for lead in symbol.leads]
    for (one, box), (other, its) in itertools.combinations(words, 2):
        if box.meets(its, 0.01):
            yield f"{one} over {other}"
    for one, box in words:
        yield from (f"{one} over symbol {other}" for other, its, _ in bodies if box.meets(its))
        yield from (f"{one} over wire of {other}" for other, its in lines if box.meets(its))
    for (one, box, _), (other, its, _) in itertools.combinations(bodies, 2):
        if box.meets(its):
            yield f"symbol {one} over symbol {other}"
    for one, box, symbol in bodies:
        own = {lead.box for lead in symbol.leads}
        for other, its in lines:
            if its not in own and box.meets(its, 0.03):
                yield f"symbol {one} over wire of {other}"
    owned = [(word.owner, word.box) for word in plan.words]
    owned += [(symbol.owner, symbol.box) for symbol in plan.symbols]
    for framed, frame in plan.frames().items():
        for owner, its in owned:
            if owner != framed and frame.meets(its):
                yield f"frame of {framed.key} over {_whose(owner)}"


def _whose(owner: Drawn | None) -> str:
    return "no part" if owner is None else owner.key


def drawn_names(symbols: Sequence[Symbol]) -> set[str]:
    """Names of the parts that have a symbol."""
    return {symbol.owner.key for symbol in symbols if symbol.owner is not None}
