"""What a hand can take hold of: values of each part in steps that can be bought, and what can break.

Read from the models that read lamp files, so that a new kind of part has its handles by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.describe import key_label, part_label, stand_in, value_text
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.shapes import Shape, shapes
from coldiron.lamp.toml_file import shipped_names
from coldiron.lamp.varistor_marking import varistor_classes
from coldiron.parts.part import KINDS
from coldiron.preferred import E24, Bought
from coldiron.quantities import VOLT
from coldiron.study.apply import Workshop, written_values
from coldiron.study.beyond import STATES
from coldiron.study.modifications import modifications

MOST_WHOLE = 60
"""A count goes so many up and down."""
DECADES = 2
"""A handle goes this many decades up and down from the value as found, as far as its key allows."""
_ANY = Bought(series=E24)
"""Steps of a value that nobody buys by itself."""
_ALIKE = 1.000001
_MAIN_KEYS = ("class", "resistance", "capacitance", "count", "sense_resistor", "series", "drain_capacitor")
_AROUND = ("heat", "housing")
"""Tables of a lamp that are no parts of its circuit."""


def parts_told(lamp: Lamp) -> list[dict[str, Any]]:
    """Every part that a schematic shows, or that could be fitted, with its handles.

    Returns
    -------
    list of dict
        `key` the table that a change names, `drawn` the groups of the schematic that stand for it, `states`
        what can be done to each of those, `fit` the change that fits it where it is not there.
    """
    workshop = Workshop(lamp, "page")
    told: dict[str, dict[str, Any]] = {}
    for key, model in workshop.parts.items():
        if key in _AROUND:
            continue
        values = getattr(lamp, key)
        optional = shapes(type(lamp))[key].optional
        told[key] = {
            "key": key,
            "name": part_label(key),
            "fitted": values is not None,
            "removable": optional and values is not None and _is_possible(workshop, {key: "none"}),
            "drawn": [],
            "states": [],
            "handles": [],
            "fit": None,
        }
        if values is None:
            told[key] |= _fitting(lamp, key)
        else:
            told[key]["handles"] = list(_handles(key, model, values, _bought(lamp, values)))
    for further in lamp.further:
        told[further.name] = {
            "key": further.name,
            "name": part_label(further.name),
            "fitted": True,
            "removable": True,
            "drawn": [],
            "states": [],
            "handles": list(
                _handles(further.name, type(further.values), further.values, KINDS[further.kind].bought)
            ),
            "fit": None,
        }
    told["mains"]["drawn"].append("mains")
    for part in lamp.circuit:
        if part.shown:
            table = table_of(lamp, part.name, told)
            if table:
                told[table]["drawn"].append(part.name)
                possible = [state for state in STATES if _is_possible(workshop, {part.name: state})]
                told[table]["states"].append({"part": part.name, "states": possible})
    return list(told.values())


def _bought(lamp: Lamp, values: PartValues) -> Mapping[str, Bought]:
    """Which values of a table can be bought: what the parts say that it stands for."""
    kinds = (part for part in lamp.circuit if part.values is values)
    return next((part.bought for part in kinds), {})


def _is_possible(workshop: Workshop, change: Mapping[str, Any]) -> bool:
    problems: list[Problem] = []
    workshop.apply(change, "change", problems)
    return not problems


def table_of(lamp: Lamp, name: str, tables: Mapping[str, Any]) -> str:
    """Table of a lamp that gives the values of a part of its circuit; "" where none does."""
    if name in tables:
        return name
    part = lamp.circuit[name]
    for key in tables:
        if getattr(lamp, key, None) is not None and part.values is getattr(lamp, key):
            return key
    for key, model in Workshop(lamp, "page").parts.items():
        if key in tables and name in shapes(model):
            return key
    stem = name.rstrip("0123456789")
    return next((key for key in tables if key in (stem, f"{stem}s")), "")


def neighbours(
    parts: Sequence[Mapping[str, Any]], changes: Mapping[str, Any], key: str
) -> list[tuple[str, dict[str, Any]]]:
    """Changes with the value of one handle a step lower and a step higher, each with its words.

    Parameters
    ----------
    parts : sequence of mapping
        From `parts_told`.
    changes : mapping
        What the hand changes already.
    key : str
        Of the handle. Of a part that is not fitted there are none.
    """
    for part in parts:
        for handle in part["handles"]:
            if handle["key"] == key and (
                part["fitted"] or any(k.startswith(f"{part['key']}.") for k in changes)
            ):
                return list(_stepped(part["name"], handle, changes))
    return []


def _stepped(
    part: str, handle: Mapping[str, Any], changes: Mapping[str, Any]
) -> Iterator[tuple[str, dict[str, Any]]]:
    texts = handle["steps"]
    sets = handle.get("sets")
    now = str(changes.get(handle["key"], handle["now"]))
    if sets:
        chosen = (n for n, each in enumerate(sets) if each.items() <= changes.items())
        now = texts[next(chosen, texts.index(now) if now in texts else 0)]
    if now not in texts:
        return
    at = texts.index(now)
    for n in (at - 1, at + 1):
        if 0 <= n < len(texts):
            value: Any = int(texts[n]) if handle.get("whole") else texts[n]
            yield (
                f"{part}, {handle['label']} {texts[n]}",
                {**changes, **(sets[n] if sets else {handle["key"]: value})},
            )


def _handles(
    part: str, model: type[PartValues], values: PartValues, bought: Mapping[str, Bought]
) -> Iterator[dict[str, Any]]:
    """Handles of a part, those that it is known by first."""
    of = shapes(model)
    if "ac_rating" in of and "clamping_voltage" in of:
        yield _disc_class(part, values)
    keys = sorted(of, key=lambda key: _MAIN_KEYS.index(key) if key in _MAIN_KEYS else len(_MAIN_KEYS))
    for key in keys:
        handle = _handle(part, key, of[key], values, bought)
        if handle is not None:
            yield handle


def _handle(
    part: str, key: str, of: Shape, values: PartValues, bought: Mapping[str, Bought]
) -> dict[str, Any] | None:
    model, value = type(values), written_values(values).get(key)
    assumed = value is None
    if value is None:
        value = stand_in(values, key)
    told: dict[str, Any] = {
        "key": f"{part}.{key}",
        "label": key_label(key),
        "now": value_text(model, key, value),
        "assumed": assumed or values.provenance(key) == "typical",
        "main": key in _MAIN_KEYS and not (key == "capacitance" and "ac_rating" in shapes(model)),
        "expected": of.wanted(key),
        "none": of.optional,
    }
    if of.choices:
        return told | {"steps": [str(choice) for choice in of.choices], "choice": True}
    if of.kind is bool:
        sets = [{f"{part}.{key}": True}, {f"{part}.{key}": False}]
        return told | {"steps": ["yes", "no"], "sets": sets, "choice": True}
    if of.kind is int and isinstance(value, int):
        least, most = int(of.least or 0), int(of.most or value + MOST_WHOLE)
        span = range(max(least, value - MOST_WHOLE), min(most, value + MOST_WHOLE) + 1)
        return told | {"steps": [str(n) for n in span], "whole": True}
    if of.unit is None or not (value is None or isinstance(value, float)):
        return None
    each = steps(bought.get(key, _ANY), value, of.least, of.most)
    return told | {"steps": [of.unit.format(one) for one in each]}


def steps(bought: Bought, value: float | None, least: float | None, most: float | None) -> list[float]:
    """Values that can be bought around one, itself among them, as far as its key and `DECADES` allow.

    Examples
    --------
    >>> steps(Bought(series=E24), 9.1, 8.0, 12.0)
    [8.2, 9.1, 10.0, 11.0, 12.0]
    """
    if value is None or value <= 0.0 or not math.isfinite(value):
        return [] if value is None else [value]
    low, high = max(least or 0.0, value / 10**DECADES), min(most or math.inf, value * 10**DECADES)
    found = [value]
    for way in (-1, 1):
        each = bought.beside(value, way)
        while each is not None and low <= each * _ALIKE and each <= high * _ALIKE:
            found.append(each)
            each = bought.beside(each, way)
    return sorted(found)


def _disc_class(part: str, values: PartValues) -> dict[str, Any]:
    """Class of a varistor's disc: rating, voltage at 1 mA and clamping voltage go together."""
    rows = varistor_classes()
    sets = [
        {
            f"{part}.ac_rating": VOLT.format(row.ac_rating_v),
            f"{part}.one_milliamp_voltage": VOLT.format(row.one_milliamp_voltage_v),
            f"{part}.clamping_voltage": VOLT.format(row.clamping_voltage_v),
        }
        for row in rows
    ]
    now = f"{VOLT.format(written_values(values)['ac_rating'])} class"
    return {
        "key": f"{part}.class",
        "label": "class of the disc",
        "now": now,
        "assumed": False,
        "main": True,
        "expected": "",
        "none": False,
        "steps": [f"{VOLT.format(row.ac_rating_v)} class" for row in rows],
        "sets": sets,
        "choice": True,
    }


def _fitting(lamp: Lamp, key: str) -> dict[str, Any]:
    """Change that fits a part which a lamp can have and has not, and the handles it has then.

    It is the middle one of what is weighed for such a part, or that of a demo lamp.
    """
    given = [one.change[key] for one in modifications(lamp) if set(one.change) == {key}]
    weighed: list[Mapping[str, Any]] = [table for table in given if isinstance(table, Mapping)]
    tables: Iterable[Mapping[str, Any]]
    tables = [weighed[len(weighed) // 2]] if weighed else _shipped_tables(type(lamp).__name__, key)
    for table in tables:
        problems: list[Problem] = []
        fitted, changes = Workshop(lamp, "page").apply({key: table}, "change", problems)
        values = getattr(fitted, key)
        if changes and not problems and values is not None:
            return {
                "fit": {
                    "words": changes[0].label,
                    "change": {f"{key}.{field}": value for field, value in table.items()},
                },
                "handles": list(_handles(key, type(values), values, _bought(fitted, values))),
            }
    return {}


@cache
def _shipped(name: str) -> Lamp:
    return load_lamp(name)


def _shipped_tables(topology: str, key: str) -> Iterator[dict[str, Any]]:
    for alike in (True, False):
        for name in shipped_names("lamps"):
            try:
                lamp = _shipped(name)
            except FileProblems:
                continue
            values = getattr(lamp, key, None)
            if isinstance(values, PartValues) and (type(lamp).__name__ == topology) is alike:
                given = written_values(values)
                yield {field: given[field] for field in values.provenances if field in given}
