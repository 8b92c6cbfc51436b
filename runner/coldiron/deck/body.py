"""The lamp's own lines of a deck, part by part; the same parts are printed once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache, partial
from typing import Any

from markupsafe import Markup

from coldiron.deck.forms import filled
from coldiron.deck.templates import comment_text, environment, printable
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import Part, PartConditions


def body_text(circuit: Circuit, conditions: PartConditions) -> Markup:
    """Elements of every part under a comment each, in the order of the ladder."""
    return _body(_Body(circuit, conditions))


class _Body:
    """A circuit under conditions, equal to the same circuit (not one like it) under the same conditions."""

    def __init__(self, circuit: Circuit, conditions: PartConditions) -> None:
        self.circuit, self.conditions = circuit, conditions
        c = conditions
        said = (
            tuple(c.temperatures_c.items()),
            tuple(c.inductors_a.items()),
            c.ambient_c,
            c.pulse,
            c.shut,
            c.disc,
        )
        # The entry of the cache holds the circuit, so that no other can have its id.
        self.key = (id(circuit), *said)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Body) and self.key == other.key


@lru_cache(maxsize=16)
def _body(asked: _Body) -> Markup:
    return Markup("\n".join(part_text(part, asked.conditions) for part in asked.circuit))


def sources_text(sources: Iterable[Part], conditions: PartConditions) -> Markup:
    """Elements of what stands before a lamp or beyond it, under a comment each."""
    return Markup("\n".join(part_text(source, conditions) for source in sources))


def part_text(part: Part, conditions: PartConditions) -> str:
    """Comment and elements of one part.

    Raises
    ------
    DeckRefused
        If a value cannot be printed.
    """
    if not part.works:
        return _broken_text(part)
    return _printed(_Printing(part, part.deck(conditions)))


class _Printing:
    """A part and its values, equal to another that prints the same."""

    def __init__(self, part: Part, values: Mapping[str, object]) -> None:
        self.part, self.values = part, values
        said = tuple(values[name] for name in sorted(values))
        self.key = (type(part), part.name, part.tag, part.at, part.macro, part.text(), said)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Printing) and self.key == other.key


@lru_cache(maxsize=512)
def _printed(asked: _Printing) -> str:
    part = asked.part
    macro: Any = getattr(environment().get_template(part.template()).module, part.macro)
    # All that a macro asks of its part is what its nodes and elements are called.
    names = type(part), part.name, part.tag, part.at, part.macro
    return f"{_comment(part)}\n{filled(names, asked.values, partial(macro, part))}"


def _broken_text(part: Part) -> str:
    """A resistance in the place of a part that has failed or was taken out."""
    first, *others = [part.n(terminal) for terminal in part.terminals]
    ohm = printable(part.broken_ohm)
    suffixes = ["", *(f"_{number}" for number in range(2, len(others) + 1))]
    elements = [
        f"R{part.tag}_{part.state}{suffix} {first} {node} {ohm}"
        for suffix, node in zip(suffixes, others, strict=True)
    ]
    return "\n".join([_comment(part), *elements])


def _comment(part: Part) -> str:
    ends = part.at if len(part.at) == 2 else (" and ".join(part.at[:2]), " and ".join(part.at[2:]))
    said = ", ".join([part.kind, *([] if part.works else [part.state]), *part.text(), " to ".join(ends)])
    return f"* --- {part.name}: {comment_text(said)}"
