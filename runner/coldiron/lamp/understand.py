"""From the tables of a file to a model, or to one line for each thing that is wrong.

The schema is walked once to find keys that do not exist and to set the standings aside; pydantic then
judges the values, and its errors are put into a person's words here.
"""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, NamedTuple, TypeVar, Union, get_args, get_origin

from annotated_types import Ge, Le
from pydantic import ValidationError
from pydantic.fields import FieldInfo

from coldiron.errors import Problem
from coldiron.lamp.model import Closed, Part, written_key
from coldiron.quantities import NotUnderstood, Unit
from coldiron.wording import as_written, one_nearest, one_of, printable

_FILE_STANDINGS = ("data sheet", "measured", "fitted", "assumed")
_PLAIN_EXPECTATIONS = {
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "string_type": "text in quotes",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "too_long": "fewer entries",
    "string_too_long": "shorter text",
}

M = TypeVar("M", bound=Closed)


class FieldShape(NamedTuple):
    """What a field holds, with `Optional`, `Annotated` and `tuple` taken off."""

    unit: Unit | None
    model: type[Closed] | None
    choices: tuple[str, ...]
    least: float | None
    most: float | None
    optional: bool
    many: bool


def shape(field: FieldInfo) -> FieldShape:
    """Shape of a model's field."""
    found: dict[str, Any] = {
        "unit": None, "model": None, "choices": (), "least": None, "most": None,
        "optional": False, "many": False,
    }  # fmt: skip

    def visit(kind: Any) -> None:
        origin, arguments = get_origin(kind), get_args(kind)
        if origin is Annotated:
            note(arguments[1:])
            visit(arguments[0])
        elif origin in (Union, types.UnionType):
            found["optional"] = type(None) in arguments
            for each in arguments:
                visit(each)
        elif origin is tuple:
            found["many"] = True
            visit(arguments[0])
        elif origin is Literal:
            found["choices"] = arguments
        elif isinstance(kind, type) and issubclass(kind, Closed):
            found["model"] = kind

    def note(metadata: Any) -> None:
        for item in metadata:
            if isinstance(item, Unit):
                found["unit"] = item
            elif isinstance(item, Ge):
                found["least"] = item.ge
            elif isinstance(item, Le):
                found["most"] = item.le
            elif isinstance(item, FieldInfo):
                note(item.metadata)

    note(field.metadata)
    visit(field.annotation)
    return FieldShape(**found)


def understand(
    model: type[M], table: Mapping[str, Any], file: str, problems: list[Problem], inside: str = ""
) -> M | None:
    """Model described by a table of a file; None, with `problems` extended, if anything is wrong.

    Parameters
    ----------
    model : type
        The schema.
    table : mapping
        As read from the file.
    file : str
        Name of the file, for the problems.
    problems : list of Problem
        Extended in the order of the file.
    inside : str
        Dotted path of the table within the file.
    """
    walk = _Walk(file)
    data = walk.table(model, table, inside, None)
    understood = None
    try:
        understood = model.model_validate(data)
    except ValidationError as error:
        walk.judge(model, data, error, inside)
    problems.extend(walk.in_order())
    return None if walk.problems else understood


class _Walk:
    """One pass over one file."""

    def __init__(self, file: str) -> None:
        self.file = printable(file)
        self.problems: list[Problem] = []
        self.places: dict[str, int] = {}
        self.mended: set[str] = set()

    def in_order(self) -> list[Problem]:
        """Problems in the order of the file; what is missing stands where its table begins."""

        def place(problem: Problem) -> int:
            key = problem.key
            while key and key not in self.places:
                key = key.rpartition(".")[0]
            return self.places.get(key, len(self.places))

        return sorted(self.problems, key=place)

    def refuse(self, key: str, value: str, expected: str, nearest: str = "") -> None:
        self.problems.append(Problem(self.file, key, value, expected, nearest))

    def table(self, model: type[Closed], table: object, inside: str, standing: str | None) -> Any:
        """Take a table apart: unknown keys out, standings aside, lists as tuples."""
        if not isinstance(table, Mapping):
            return table
        fields = {
            written_key(name): field for name, field in model.model_fields.items() if name != "standings"
        }
        is_part = issubclass(model, Part)
        if is_part and "standing" in table:
            standing = self.standing(table["standing"], f"{inside}.standing".lstrip("."), standing)
        data: dict[str, Any] = {}
        standings: dict[str, str] = {}
        for key, value in table.items():
            path = f"{inside}.{printable(key)}".lstrip(".")
            self.places[path] = len(self.places)
            if key == "standing" and is_part:
                continue
            if key not in fields:
                nearest = one_nearest(key, fields)
                if nearest:
                    self.mended.add(f"{inside}.{nearest}".lstrip("."))
                known = one_of([*fields, "standing"] if is_part else list(fields))
                self.refuse(path, "an unknown key", known, nearest)
                continue
            of = shape(fields[key])
            if of.optional and value == "none":
                continue
            if of.many:
                value = value if isinstance(value, list) else [value]
                entries = [f"{path}[{n}]" for n in range(1, len(value) + 1)]
                if of.model is not None:
                    value = [
                        self.table(of.model, v, e, standing) for v, e in zip(value, entries, strict=True)
                    ]
                data[key] = tuple(value)
            elif of.model is not None:
                data[key] = self.table(of.model, value, path, standing)
            else:
                if is_part and isinstance(value, Mapping):
                    value, own = self.with_standing(value, path, standing)
                else:
                    own = standing
                data[key] = value
                standings[key] = own or "assumed"
        if is_part:
            data["standings"] = standings
        return data

    def with_standing(
        self, table: Mapping[str, Any], path: str, standing: str | None
    ) -> tuple[Any, str | None]:
        """Value and standing of a `{ value = ..., standing = ... }` table."""
        for key in table:
            if key not in ("value", "standing"):
                nearest = one_nearest(key, ("value", "standing"))
                self.refuse(f"{path}.{printable(key)}", "an unknown key", "value or standing", nearest)
        own = (
            self.standing(table["standing"], f"{path}.standing", standing)
            if "standing" in table
            else standing
        )
        return table.get("value"), own

    def standing(self, written: object, path: str, otherwise: str | None) -> str | None:
        if isinstance(written, str) and written in _FILE_STANDINGS:
            return written
        self.refuse(path, as_written(written), one_of(_FILE_STANDINGS), one_nearest(written, _FILE_STANDINGS))
        return otherwise

    def judge(self, model: type[Closed], data: Any, error: ValidationError, inside: str) -> None:
        """Put pydantic's errors into a person's words."""
        for detail in error.errors(include_url=False):
            location = detail["loc"]
            path = _path(inside, location)
            if detail["type"] == "faults":
                for fault in detail["ctx"]["faults"]:
                    value = _dig(data, (*location, *fault.key.split(".")))
                    written = "" if value is None else as_written(value)
                    self.refuse(f"{path}.{fault.key}".lstrip("."), written, fault.expected)
                continue
            of = _shape_at(model, location)
            if detail["type"] == "missing":
                if path not in self.mended:
                    self.refuse(path, "missing", _wanted(of, str(location[-1])))
                continue
            expected, nearest = _expectation(detail, of)
            self.refuse(path, as_written(_dig(data, location)), expected, nearest)


def _path(inside: str, location: tuple[int | str, ...]) -> str:
    """Dotted path of a place; entries of lists are counted from one, as people count.

    >>> _path("", ("reading", 0, "value"))
    'reading[1].value'
    """
    path = inside
    for step in location:
        path += f"[{step + 1}]" if isinstance(step, int) else f".{printable(step)}"
    return path.lstrip(".")


def _dig(data: Any, location: tuple[int | str, ...]) -> Any:
    for step in location:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _shape_at(model: type[Closed], location: tuple[int | str, ...]) -> FieldShape:
    of = FieldShape(None, model, (), None, None, False, False)
    for step in location:
        if isinstance(step, str) and of.model is not None:
            by_key = {written_key(name): field for name, field in of.model.model_fields.items()}
            of = shape(by_key[step])
    return of


def _wanted(of: FieldShape, key: str) -> str:
    """Say what a missing key should have held."""
    if of.model is not None:
        return f"a table [{key}]"
    if of.choices:
        return one_of(of.choices)
    return of.unit.expected if of.unit is not None else "a value"


def _expectation(detail: Any, of: FieldShape) -> tuple[str, str]:
    """Say what would have been right, and the nearest spelling of it."""
    kind = detail["type"]
    if kind == "value_error":
        error = detail["ctx"]["error"]
        return str(error), error.nearest if isinstance(error, NotUnderstood) else ""
    if kind in ("greater_than_equal", "less_than_equal"):
        return " and ".join(_bounds(of)), ""
    if of.choices:
        return one_of(of.choices), one_nearest(detail["input"], of.choices)
    return _PLAIN_EXPECTATIONS.get(kind, detail["msg"]), ""


def _bounds(of: FieldShape) -> Iterator[str]:
    for word, bound in (("at least", of.least), ("at most", of.most)):
        if bound is not None:
            yield f"{word} {of.unit.format(bound) if of.unit else f'{bound:g}'}"
