"""Which values of a lamp a fit may change: named by a person, or chosen by what the readings can tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.describe import stand_in
from coldiron.lamp.model import Part, Provenance, written_key
from coldiron.lamp.shapes import Shape, shapes
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.wording import one_nearest, one_of, printable

SEARCH_RATIO = 8.0
"""A value is looked for within this factor of where it starts, and within what a lamp file may hold."""


@dataclass(frozen=True)
class FreeValue:
    """One value of a lamp that a fit may change.

    `key` is the dotted key of the lamp file; `part` and `field` are where it sits in the model; `start` its
    value now; `least` and `most` bound the search, in the unit of the value.
    """

    key: str
    part: str
    field: str
    start: float
    least: float
    most: float
    provenance: Provenance

    def text(self, value: float, digits: int = 4) -> str:
        """Write a value in the unit of this one."""
        return _shape(self.part, self.key.partition(".")[2]).number(float(f"{value:.{digits}g}"))


def _shape(part: str, key: str) -> Shape:
    model = shapes(LinearSinksLamp)[part].model
    assert model is not None
    return shapes(model)[key]


def with_values(lamp: LinearSinksLamp, values: Sequence[tuple[FreeValue, float]]) -> LinearSinksLamp:
    """A lamp with some values replaced.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> lamp = load_lamp("kerbside-flood")
    >>> [free] = free_values(lamp, ["sinks.sense_resistor"])
    >>> with_values(lamp, [(free, 8.2)]).sinks.sense_resistor_ohm
    8.2
    """
    changed: dict[str, dict[str, Any]] = {}
    for free, value in values:
        changed.setdefault(free.part, {})[free.field] = value
    return lamp.model_copy(
        update={part: getattr(lamp, part).model_copy(update=update) for part, update in changed.items()}
    )


def free_values(lamp: LinearSinksLamp, keys: Sequence[str]) -> list[FreeValue]:
    """Values of a lamp by their dotted keys.

    Raises
    ------
    FileProblems
        Naming each key that is unknown, not a number, unset, zero, or given twice.
    """
    problems: list[Problem] = []
    found = [free for key in keys if (free := _free(lamp, key, problems)) is not None]
    problems += [
        Problem("--free", "", printable(key), "each value once")
        for key in sorted({k for k in keys if keys.count(k) > 1})
    ]
    if problems:
        raise FileProblems(problems)
    return found


def _free(lamp: LinearSinksLamp, key: str, problems: list[Problem]) -> FreeValue | None:
    def refuse(expected: str, nearest: str = "") -> None:
        """Note what is wrong with this key."""
        problems.append(Problem("--free", "", printable(key), expected, nearest))

    part_key, _, value_key = key.partition(".")
    part_shape = shapes(LinearSinksLamp).get(part_key)
    if part_shape is None or part_shape.model is None or part_shape.many:
        known = [k for k, of in shapes(LinearSinksLamp).items() if of.model is not None and not of.many]
        nearest = one_nearest(part_key, known)
        refuse(f"a value of {one_of(known)}", f"{nearest}.{value_key}" if nearest else "")
        return None
    part = getattr(lamp, part_key)
    numbers = {k: of for k, of in shapes(part_shape.model).items() if of.kind is float}
    if value_key not in numbers:
        nearest = one_nearest(value_key, numbers)
        expected = f"a number of {part_key}: {one_of(numbers)}"
        refuse(expected, f"{part_key}.{nearest}" if nearest else "")
        return None
    if part is None:
        refuse(f"a part that this lamp has, and it has no {part_key.replace('_', ' ')}")
        return None
    value = free_value(part_key, part, value_key)
    if value is None:
        refuse("a value to start from, other than zero, in the lamp file")
    return value


def free_value(part_key: str, part: Part, key: str) -> FreeValue | None:
    """A number of a part as a value that a fit may change, or what stands in for it; None without a start."""
    field = next(name for name in type(part).model_fields if written_key(name) == key)
    start, of = getattr(part, field), shapes(type(part))[key]
    start = stand_in(part, key) if start is None else start
    if start is None or start == 0.0:
        return None
    ends = sorted((start / SEARCH_RATIO, start * SEARCH_RATIO))
    least = ends[0] if of.least is None else max(ends[0], of.least)
    most = ends[1] if of.most is None else min(ends[1], of.most)
    return FreeValue(f"{part_key}.{key}", part_key, field, float(start), least, most, part.provenance(key))


def default_keys(lamp: LinearSinksLamp) -> list[str]:
    """Values worth freeing for the readings a lamp has: each reading pays for one, measured ones stay.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> default_keys(load_lamp("kerbside-flood"))
    ['sinks.sense_voltage', 'string.forward_voltage', 'heat.housing_to_ambient']
    """
    keys: list[str] = []
    for key in _candidates(lamp):
        part, _, name = key.partition(".")
        owner: Part = getattr(lamp, part)
        if key not in keys and owner.provenance(name) != "measured" and len(keys) < len(lamp.reading):
            keys.append(key)
    return keys


def _candidates(lamp: LinearSinksLamp) -> Iterator[str]:
    """What each kind of reading tells most about, the plainest first."""
    read = {(reading.what, reading.state) for reading in lamp.reading}
    whats = {what for what, _ in read}
    electrical = {"input current", "input power"}
    warm = {
        what.removesuffix(" temperature")
        for what, state in read
        if state == "hot" and what.endswith("temperature")
    }
    outside = "heat.housing_to_ambient" if lamp.heat.housing_area_m2 is None else "heat.housing_area"
    if whats & electrical:
        one_is_known = lamp.sinks.provenance("sense_resistor") == "measured"
        yield "sinks.sense_voltage" if one_is_known else "sinks.sense_resistor"
    if whats & {"string voltage", "bus voltage", "power factor"} or electrical <= whats:
        yield "string.forward_voltage"
    if warm:
        yield outside
    if "housing" in warm and warm & {"board", "die", "string"}:
        yield "heat.board_to_housing"
    if "die" in warm and warm & {"board", "housing", "string"}:
        yield "heat.die_to_board"
    if {"string", "board"} <= warm:
        yield "heat.string_to_board"
    if "die" in warm and {state for what, state in read if what in electrical} == {"cold", "hot"}:
        yield "sinks.foldback_knee"
    if not warm and ("input current", "hot") in read:
        yield outside
