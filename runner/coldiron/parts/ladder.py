"""A circuit drawn with characters: two rails from the mains to the light, parts in them and across them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from coldiron.parts.circuit import SUPPLY, Circuit
from coldiron.parts.part import Part

_ROWS = 5


class Block(NamedTuple):
    """Some columns of the drawing: the upper rail, three rows between, the lower rail."""

    rows: tuple[str, ...]

    @property
    def width(self) -> int:
        """Columns it takes."""
        return len(self.rows[0])


def ladder(circuit: Circuit, width: int = 100) -> str:
    """Draw a circuit; where it is wider than the page, in pieces below each other.

    Parts that are neither in a rail nor across both, and everything of a circuit without exactly one
    rectifier, are told by the points they sit between.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> print(ladder(load_lamp("pantry-bulb").circuit))
    L ─ line fusing ───┤~      +├─────┬──────┬──── string ───────┐
            10 Ω       │        │     │      │    22 LEDs        │
                       │ bridge │    film  bleed               sinks
                       │        │   47 nF   1 MΩ            2 × 63.8 mA
    N ─────────────────┤~      −├─────┴──────┴───────────────────┘
    """
    rectifiers = [part for part in circuit if len(part.at) == 4]
    seen: set[str] = set()
    blocks = list(_blocks(circuit, rectifiers[0], seen)) if len(rectifiers) == 1 else []
    pieces: list[list[Block]] = [[]]
    for block in blocks:
        if pieces[-1] and sum(one.width for one in pieces[-1]) + block.width > width - 2:
            pieces.append([])
        pieces[-1].append(block)
    drawn = [
        [
            (mark if piece is pieces[0] else "… " if row in (0, _ROWS - 1) else "  ")
            + "".join(block.rows[row] for block in piece)
            for row, mark in enumerate(("L ", "  ", "  ", "  ", "N "))
        ]
        for piece in pieces
        if piece
    ]
    if drawn:
        drawn[-1] = _closed(drawn[-1])
    told = [
        f"{_named(part)}: {' to '.join(part.at)}" for part in circuit if part.name not in seen and part.shown
    ]
    return "\n\n".join("\n".join(row.rstrip() for row in piece) for piece in [*drawn, told] if piece)


def _blocks(circuit: Circuit, rectifier: Part, seen: set[str]) -> Iterator[Block]:
    """Blocks from the mains to the far end; the names of the parts in them are added to `seen`."""
    upper, lower = SUPPLY
    yield from _across(circuit, upper, lower, seen)
    for part, behind in circuit.chain(upper):
        if part.shown:
            yield _in_rail(part, seen, above=True)
        upper = behind
        yield from _across(circuit, upper, lower, seen)
    for part, behind in circuit.chain(lower):
        if part.shown:
            yield _in_rail(part, seen, above=False)
        lower = behind
        yield from _across(circuit, upper, lower, seen)
    seen.add(rectifier.name)
    name = f" {_named(rectifier)} "
    space = " " * len(name)
    inner = " " * (len(name) - 2)
    yield Block((f"──┤~{inner}+├──", f"  │{space}│  ", f"  │{name}│  ", f"  │{space}│  ", f"──┤~{inner}−├──"))
    here, minus = rectifier.at[2], rectifier.at[3]
    while True:
        yield from _across(circuit, here, minus, seen)
        onward = [part for part in circuit if part.at[0] == here and part.name not in seen and part.shown]
        onward = [part for part in onward if len(part.at) == 2 and part.at[1] != minus]
        if not onward:
            return
        yield _in_rail(onward[0], seen, above=True)
        here = onward[0].at[1]


def _across(circuit: Circuit, upper: str, lower: str, seen: set[str]) -> Iterator[Block]:
    for part in circuit.between(upper, lower):
        if part.shown and part.name not in seen:
            seen.add(part.name)
            name, value = _named(part), _value(part)
            width = max(len(name), len(value)) + 2
            line = "│".center(width) if value else " " * width
            yield Block(
                (
                    _rail("┬", width), "│".center(width), name.center(width),
                    value.center(width) if value else line, _rail("┴", width),
                )
            )  # fmt: skip


def _in_rail(part: Part, seen: set[str], *, above: bool) -> Block:
    seen.add(part.name)
    name, value = f" {_named(part)} ", _value(part)
    width = max(len(name), len(value)) + 2
    space, plain = " " * width, "─" * width
    named, valued = name.center(width, "─"), value.center(width)
    return Block((named, valued, space, space, plain) if above else (plain, space, space, valued, named))


def _rail(mark: str, width: int) -> str:
    at = "│".center(width).index("│")
    return "─" * at + mark + "─" * (width - at - 1)


def _closed(piece: list[str]) -> list[str]:
    """The far end: the last part across both rails is their corner."""
    upper, lower = piece[0].rstrip("─"), piece[-1].rstrip("─")
    if upper.endswith("┬") and lower.endswith("┴"):
        return [upper[:-1] + "┐", *piece[1:-1], lower[:-1] + "┘"]
    return piece


def _named(part: Part) -> str:
    name = part.name.replace("_", " ")
    return name if part.works else f"{name} ({part.state})"


def _value(part: Part) -> str:
    return next(iter(part.text()), "")
