"""What the fields of a model can hold, in a person's words."""

from __future__ import annotations

import sys
import types
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Le, MaxLen
from pydantic.fields import FieldInfo

from coldiron.lamp.model import Closed, OneOf, written_key
from coldiron.quantities import Unit
from coldiron.wording import one_of

UNWRITTEN = ("provenances", "further", "states", "failures")
"""Fields of models that no file writes."""

_KINDS: dict[type, str] = {
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    str: "text in quotes",
    dict: "a table",
}


@dataclass
class Shape:
    """What a field holds, with `Optional`, `Annotated` and `tuple` taken off."""

    unit: Unit | None = None
    model: type[Closed] | None = None
    choices: tuple[str, ...] = ()
    kind: type | None = None
    least: float | None = None
    most: float | None = None
    optional: bool = False
    many: bool = False
    longest: int = sys.maxsize
    required: bool = False

    def number(self, value: float) -> str:
        """Write a number of this field for people."""
        return self.unit.format(value) if self.unit else f"{value:g}"

    @property
    def bounds(self) -> str:
        """Between which numbers the field may be."""
        least, most = ("" if b is None else self.number(b) for b in (self.least, self.most))
        if least and most:
            return f"between {least} and {most}"
        return f"at least {least}" if least else f"at most {most}"

    def wanted(self, key: str) -> str:
        """What the field should hold."""
        if self.model is not None:
            return f"a table [[{key}]]" if self.many else f"a table [{key}]"
        if self.choices:
            return one_of(self.choices)
        if self.unit is not None:
            return self.unit.expected
        return "a value" if self.kind is None else _KINDS[self.kind]


@cache
def shapes(model: type[Closed]) -> dict[str, Shape]:
    """Shape of each field of a model, by its written key, without the provenances.

    >>> from coldiron.lamp.parts import FusingResistor
    >>> shapes(FusingResistor)["resistance"].bounds
    'between 10 mΩ and 10 kΩ'
    """
    fields = {written_key(name): field for name, field in model.model_fields.items()}
    return {key: _shape(field) for key, field in fields.items() if key not in UNWRITTEN}


def _shape(field: FieldInfo) -> Shape:
    of = Shape(required=field.is_required())
    _note(of, field.metadata)
    _visit(of, field.annotation)
    return of


def _visit(of: Shape, kind: Any) -> None:
    """Take a type apart, from the outside in."""
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is Annotated:
        _note(of, arguments[1:])
        _visit(of, arguments[0])
    elif origin in (Union, types.UnionType):
        of.optional = type(None) in arguments
        for each in arguments:
            _visit(of, each)
    elif origin is tuple:
        of.many = True
        _visit(of, arguments[0])
    elif origin is Literal:
        of.choices = arguments
    elif isinstance(kind, type) and issubclass(kind, Closed):
        of.model = kind
    elif (origin or kind) in _KINDS:
        of.kind = origin or kind


def _note(of: Shape, metadata: Iterable[Any]) -> None:
    """Keep the unit and the bounds; bounds of an optional field are inside its own `Field`."""
    for item in metadata:
        if isinstance(item, Unit):
            of.unit = item
        elif isinstance(item, Ge):
            of.least = float(item.ge)  # type: ignore[arg-type]
        elif isinstance(item, Le):
            of.most = float(item.le)  # type: ignore[arg-type]
        elif isinstance(item, OneOf):
            of.choices = tuple(item.words)
        elif isinstance(item, MaxLen):
            of.longest = item.max_length
        elif isinstance(item, FieldInfo):
            _note(of, item.metadata)
