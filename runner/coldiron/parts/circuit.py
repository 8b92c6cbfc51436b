"""The parts of a lamp between its points, in the order of the ladder: nearer to the mains comes first.

The order decides what "behind" means, the order of a deck and that of a drawing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar, cast

import numpy as np

from coldiron.parts.part import EARTHED, MINUS, Part
from coldiron.parts.roles import Lights, Regulates, Resists, Stores

R = TypeVar("R", bound=Part)

SUPPLY = ("line", "neutral")
"""Where the lamp hangs on the mains."""


@dataclass(frozen=True)
class Circuit:
    """Parts between points.

    `anchors` names, for a point, the part on whose side the point keeps its name when a part in series splits
    it: "bus" stays at the top of the string, "line" at the mains.
    """

    parts: tuple[Part, ...]
    anchors: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Part:
        """Part of a name, capitals or not; KeyError where there is none."""
        for part in self.parts:
            if part.name.lower() == name.lower():
                return part
        raise KeyError(name)

    def __contains__(self, name: object) -> bool:
        """Whether a part has this name."""
        return any(part.name.lower() == str(name).lower() for part in self.parts)

    def __iter__(self) -> Iterator[Part]:
        """Parts in the order of the ladder."""
        return iter(self.parts)

    def having(self, role: type[R]) -> list[R]:
        """Parts that can do something, of those that work.

        Examples
        --------
        >>> Circuit(()).having(Lights)
        []
        """
        if role not in self._having:
            self._having[role] = [part for part in self.parts if isinstance(part, role) and part.works]
        return cast("list[R]", self._having[role])

    @cached_property
    def _having(self) -> dict[type[Part], list[Part]]:
        return {}

    @cached_property
    def lights(self) -> list[Lights]:
        """Parts that make light, from the bus down."""
        return self.having(Lights)

    @cached_property
    def regulators(self) -> list[Regulates]:
        """Parts that hold a current."""
        return self.having(Regulates)

    @cached_property
    def bus_capacitors(self) -> list[Stores]:
        """Capacitors across the bus, strays included."""
        return [part for part in self.having(Stores) if part.at == ("bus", MINUS)]

    @cached_property
    def bleeds(self) -> list[Resists]:
        """Resistors across the bus, which empty it after unplugging."""
        return [part for part in self.having(Resists) if part.lies_across_the_bus]

    @cached_property
    def halves_alike(self) -> bool:
        """Whether both halves of the mains do the same to it.

        They do where only whole bridges lead behind the mains, and all before them conducts either way.
        """
        here = set(SUPPLY)
        inside: list[Part] = []
        for _ in self.parts:
            inside = [part for part in self.parts if len(part.at) == 2 and here & {*part.at}]
            here |= {point for part in inside for point in part.at}
        bridges = [part for part in self.parts if len(part.at) > 2]
        return (
            not here & {"bus", MINUS}
            and all(part.two_way for part in inside)
            and all(part.halves_alike for part in bridges)
        )

    @property
    def stored_f(self) -> float:
        """Capacitance that was fitted anywhere [F]."""
        return sum(part.stored_f for part in self.having(Stores) if not part.hidden)

    @property
    def bus_f(self) -> float:
        """Capacitance that was fitted across the bus [F]."""
        return sum(part.stored_f for part in self.bus_capacitors if not part.hidden)

    @property
    def is_smoothed(self) -> bool:
        """Whether a capacitor with losses, which stores for milliseconds, lies across the bus."""
        return any(not part.lossless for part in self.bus_capacitors)

    def light_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage of all LEDs in series at a current [V]."""
        return sum(string.voltage_v(current_a, temperature_c) for string in self.lights)

    def foldback_ratio(self, die_c: float) -> float:
        """Share of the cold current that is left at a die temperature, 1 where nothing regulates."""
        return min((sink.foldback_ratio(die_c) for sink in self.regulators), default=1.0)

    def charged_v(
        self, bus_v: float, held_v: float | None = None, string_c: float = 25.0
    ) -> dict[str, float]:
        """Voltages of points and inner nodes while the bus stands at a voltage and hardly a current flows.

        Parameters
        ----------
        bus_v : float
            Voltage of the bus [V].
        held_v : float, optional
            What all LEDs in series hold [V]; at a microampere when absent.
        string_c : float
            Temperature of the LEDs [°C].
        """
        whole_v = self.light_v(1e-6)
        share = 1.0 if held_v is None or whole_v <= 0.0 else held_v / whole_v
        points_v = {"bus": bus_v, MINUS: 0.0}
        for string in self.lights:
            above_v = points_v.get(string.at[0], bus_v)
            below_v = max(0.0, above_v - share * string.voltage_v(1e-6))
            points_v.setdefault(string.at[1], below_v)
        points_v |= self._at_rest_v(points_v)
        nodes_v = {point: volt for point, volt in points_v.items() if point != MINUS}
        for part in self.parts:
            if part.works and part.at[-1] in points_v:
                nodes_v |= part.guess(points_v, string_c)
        return {node.lower(): volt for node, volt in nodes_v.items()}

    def _at_rest_v(self, known_v: Mapping[str, float]) -> dict[str, float]:
        """Voltages of the other points behind the rectifier once nothing flows any more.

        What conducts draws its ends together, all of it alike; capacitors and regulators hardly do.
        """
        outside = {*self.mains_rails, *EARTHED}
        inside = [part for part in self.parts if len(part.at) == 2 and not outside & {*part.at} - {MINUS}]
        points = list(dict.fromkeys(point for part in inside for point in part.at if point not in known_v))
        if not points:
            return {}
        pull, drawn = 1e-12 * np.eye(len(points)), np.zeros(len(points))
        for part in inside:
            share = 1e-6 if isinstance(part, Stores | Regulates) or not part.works else 1.0
            for here, there in (part.at, part.at[::-1]):
                if here not in known_v:
                    at = points.index(here)
                    pull[at, at] += share
                    if there in known_v:
                        drawn[at] += share * known_v[there]
                    else:
                        pull[at, points.index(there)] -= share
        return dict(zip(points, np.linalg.solve(pull, drawn).tolist(), strict=True))

    def between(self, plus: str, minus: str) -> list[Part]:
        """Two-terminal parts whose ends are these two points, either way round."""
        return [part for part in self.parts if len(part.at) == 2 and set(part.at) == {plus, minus}]

    def only(self, chosen: Callable[[Part], bool]) -> list[Part]:
        """Parts for which something holds."""
        return [part for part in self.parts if chosen(part)]

    @cached_property
    def points(self) -> tuple[str, ...]:
        """Every named place, in the order in which it comes."""
        return tuple(dict.fromkeys(point for part in self.parts for point in part.at))

    def nodes(self) -> tuple[str, ...]:
        """Every node of the deck but node 0, in small letters: points, and what parts have inside."""
        return self._nodes

    @cached_property
    def _nodes(self) -> tuple[str, ...]:
        seen = (
            node for part in self.parts for node in (*part.at, *(part.inner_nodes() if part.works else ()))
        )
        return tuple(dict.fromkeys(node.lower() for node in seen if node != MINUS))

    def inductors(self) -> tuple[str, ...]:
        """Every inductor of the deck."""
        return tuple(name for part in self.parts if part.works for name in part.inductors())

    def vectors(self) -> tuple[str, ...]:
        """Vectors that the readings of a powered lamp need: points, ammeters, what parts ask for."""
        return self._vectors

    @cached_property
    def _vectors(self) -> tuple[str, ...]:
        points = (f"v({point.lower()})" for point in self.points if point != MINUS)
        return tuple(
            dict.fromkeys(
                [*points, "i(vinput)", *(name for part in self.parts if part.works for name in part.kept())]
            )
        )

    def chain(self, start: str) -> list[tuple[Part, str]]:
        """Parts in series along a rail from a point, each with the point behind it."""
        found: list[tuple[Part, str]] = []
        here, seen = start, {start}
        while True:
            onward = [
                (part, part.at[1 - part.at.index(here)])
                for part in self.parts
                if part.seat == "series" and here in part.at and part.at[1 - part.at.index(here)] not in seen
            ]
            if not onward or (here == "bus" and start != "bus"):
                return found
            found.append(onward[0])
            here = onward[0][1]
            seen.add(here)

    @cached_property
    def mains_rails(self) -> tuple[str, ...]:
        """Points of the two rails between the mains and the rectifier."""
        return tuple(
            dict.fromkeys(
                point for leg in SUPPLY for point in (leg, *(behind for _, behind in self.chain(leg)))
            )
        )

    def carrying_mains(self) -> list[Part]:
        """Parts in series in a leg of the mains, which carry the current of the lamp."""
        return [part for leg in SUPPLY for part, _ in self.chain(leg) if not part.hidden]

    def with_part(self, part: Part) -> Circuit:
        """The same circuit with another part of the same name."""
        return replace(self, parts=tuple(part if old.name == part.name else old for old in self.parts))

    def without(self, name: str) -> Circuit:
        """The same circuit without a part; one in series leaves a gap of air."""
        part = self[name]
        if part.seat == "shunt" and len(part.at) == 2:
            return replace(self, parts=tuple(old for old in self.parts if old is not part))
        return self.with_part(replace(part, state="removed"))

    def wired_across(self, name: str) -> Circuit:
        """The part gone and a wire in its place: its two points become one, with the name that lasts.

        What lies across two points gets a short wire there: both are still the places that others ask for.
        """
        part = self[name]
        if part.seat == "shunt":
            return self.broken(name, "short")

        def lasts(point: str) -> tuple[bool, bool, int]:
            own = (*SUPPLY, *EARTHED, MINUS)
            return point == MINUS, point in own or point in self.anchors, -self.points.index(point)

        gone, kept = sorted(part.at[:2], key=lasts)
        moved = tuple(
            replace(old, at=tuple(kept if point == gone else point for point in old.at))
            for old in self.parts
            if old is not part
        )
        return replace(self, parts=moved)

    def failed(self, name: str, word: str) -> Circuit:
        """The same circuit with a part broken in a way of its kind; KeyError where it has no such way."""
        modes = {mode.word: mode.becomes for mode in self[name].failures()}
        return self.with_part(modes[word])

    def broken(self, name: str, how: str) -> Circuit:
        """The same circuit with a part broken open or short."""
        return self.with_part(replace(self[name], state=how))  # type: ignore[arg-type]
