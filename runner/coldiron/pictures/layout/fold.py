"""A drawing that is too wide goes on in a second row: rails are cut between parts and named at both ends."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from coldiron.pictures.layout.plan import LEADING, Named, Plan, Wire, Word, around
from coldiron.pictures.layout.shapes import XY, Box

MOST_WIDE = 27.0
"""Widest row: on a screen of 640 px the letters of a value are then about 9.5 px high."""
_BETWEEN = 1.0
"""From row to row."""


_ONE_NAME = 4.0
"""Nearer than this to its end a rail is named once."""


def folded(plan: Plan, widest: float = MOST_WIDE) -> Plan:
    """Return the drawing in rows no wider than a page, as far as it can be cut."""
    whole = plan.box
    rows = -(-(whole.x1 - whole.x0) // widest)
    if rows < 2:
        return plan
    # Rows of like length read better than a full one and a stub.
    cuts = _chosen(plan, whole, (whole.x1 - whole.x0) / rows, widest)
    return _rows(plan, cuts) if cuts else plan


def _chosen(plan: Plan, whole: Box, like: float, widest: float) -> list[float]:
    """Places to cut, each the one next to where a row of the wanted length would end."""
    possible = sorted({x for x in plan.cuts if _can_cut(plan, x)})
    chosen: list[float] = []
    start = whole.x0
    while whole.x1 - start > widest:
        within = [x for x in possible if start + 2.0 < x <= start + widest - 1.5]
        beyond = [x for x in possible if x > start + widest - 1.5]
        if within:
            start = min(within, key=lambda x: abs(x - start - like))
        elif beyond:
            start = beyond[0]
        else:
            break
        chosen.append(start)
    return chosen


def _can_cut(plan: Plan, x: float) -> bool:
    """Whether only rails pass a place, with a name to carry on, and something is behind it."""
    boxes = [*(one.box for one in plan.symbols), *(one.box for one in plan.words), *plan.frames().values()]
    if any(box.x0 < x < box.x1 for box in boxes):
        return False
    passing = [wire for wire in plan.wires if wire.box.x0 < x < wire.box.x1]
    leads = [lead for symbol in plan.symbols for lead in symbol.leads if lead.box.x0 < x < lead.box.x1]
    if leads:
        return False
    return all(wire.level and wire.a[1] in plan.rails and _point_at(plan, x, wire.a[1]) for wire in passing)


def _point_at(plan: Plan, x: float, y: float) -> Named | None:
    """Name of the rail that passes a place: the last one before."""
    before = [one for one in plan.named if one.y == y and one.x <= x]
    return max(before, key=lambda one: one.x, default=None)


def _rows(plan: Plan, cuts: Sequence[float]) -> Plan:
    """The drawing cut and its pieces one below the other."""
    pieces = [piece for n in range(len(cuts) + 1) if list((piece := _piece(plan, cuts, n)).boxes())]
    result = Plan(rails=set(), cuts=[])
    left, y = pieces[0].box.x0, 0.0
    for number, piece in enumerate(pieces):
        box = around([*piece.boxes(), *piece.frames().values()])
        dx = 0.0 if number == 0 else left - box.x0
        dy = 0.0 if number == 0 else y - _BETWEEN - box.y1
        _add(result, piece, dx, dy)
        y = box.y0 + dy
    return result


def _piece(plan: Plan, cuts: Sequence[float], number: int) -> Plan:
    """What is in one row, with the names of the rails at its cut ends."""
    low = cuts[number - 1] if number else float("-inf")
    high = cuts[number] if number < len(cuts) else float("inf")

    def mine(x: float) -> bool:
        return bisect_right(cuts, x) == number

    piece = Plan(
        dots=[dot for dot in plan.dots if mine(dot[0])],
        symbols=[one for one in plan.symbols if mine((one.a[0] + one.b[0]) / 2)],
        words=[one for one in plan.words if mine((one.box.x0 + one.box.x1) / 2)],
        named=[one for one in plan.named if mine(one.x)],
    )
    ends: set[tuple[float, bool]] = set()
    for wire in plan.wires:
        a, b = sorted((wire.a, wire.b))
        if not wire.level:
            if mine(a[0]):
                piece.wires.append(wire)
            continue
        x0, x1 = max(a[0], low), min(b[0], high)
        if x0 < x1:
            piece.wires.append(Wire((x0, a[1]), (x1, a[1]), wire.owner))
            ends |= {(a[1], at_left) for at_left in (True, False) if (a[0] < low if at_left else b[0] > high)}
    for y, at_left in sorted(ends):
        x = low if at_left else high
        name = _point_at(plan, x, y)
        assert name is not None
        if not at_left:
            # One name is enough where the rail ends soon after it.
            piece.words = [word for word in piece.words if not _says(word, name, x)]
        at = (x - 0.14, y) if at_left else (x + 0.14, y)
        piece.name(name.point, name.said, (x, y), at, "end" if at_left else "start")
    return piece


def _says(word: Word, name: Named, x: float) -> bool:
    """Whether a word is the name of a rail, just before a place."""
    near = 0.0 < x - word.x < _ONE_NAME and abs(word.y - name.y) < LEADING
    return near and word.style == "point" and word.text == name.said


def _add(result: Plan, piece: Plan, dx: float, dy: float) -> None:
    """Put a row where it belongs."""

    def moved(at: XY) -> XY:
        return at[0] + dx, at[1] + dy

    result.wires += [replace(one, a=moved(one.a), b=moved(one.b)) for one in piece.wires]
    result.symbols += [replace(one, a=moved(one.a), b=moved(one.b)) for one in piece.symbols]
    result.dots += map(moved, piece.dots)
    result.words += [replace(one, x=one.x + dx, y=one.y + dy) for one in piece.words]
    result.named += [replace(one, x=one.x + dx, y=one.y + dy) for one in piece.named]
