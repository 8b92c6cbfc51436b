"""Every key of lamp and study files, from the models that read them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any, get_origin

from coldiron.lamp.describe import has_stand_in
from coldiron.lamp.model import Closed, Part, written_key
from coldiron.lamp.shapes import Shape, shapes
from coldiron.lamp.topologies import TOPOLOGIES
from coldiron.parts import KINDS
from coldiron.study.load import StudyFile
from coldiron.wording import one_of

HEAD = """\
# Keys of lamp and study files

Made from the models that read the files (`coldiron check --keys`); a test holds it to them. Quantities are
text in quotes, as the trade writes them (`"4k7"`, `"47 µF"`), or a bare number in SI. What is *needed* has no
default; what is left out is typical of such parts (`coldiron check FILE --defaults` shows it). In every table
of a lamp `provenance` may say where its values came from, and beside a value where that one did: `measured`,
`data sheet`, `fitted`, `given` or `typical`, as in `resistance = { value = "10R", provenance = "measured" }`.
"""

FURTHER = """\
Any further part sits where its table says, by one of: `after = "X"` or `before = "X"` (in the rail, behind
the part X or before it), `in_series_with = "X"` (in the leg of X alone), `across = "X"` (over the two ends of
X) or `across = ["p", "q"]` (between two points: `line`, `neutral`, `bus`, `minus`, `drain`, `housing`,
`earth`, or the far end of a part).
"""
_FILLED_IN: dict[tuple[type[Closed], str], str] = {(StudyFile, "name"): "the file's name"}
"""What a file may leave out although its model needs it."""


def key_list() -> str:
    """Text of the key list, as Markdown that also reads well on a terminal."""
    lamps = [line for word, lamp in TOPOLOGIES.items() for line in _tables(f"Lamp file: {word}", lamp)]
    return "\n".join([HEAD, *lamps, *_further(), *_tables("Study file", StudyFile)])


def _further() -> Iterator[str]:
    """Kinds of further parts, each with its keys."""
    yield "## Further parts: `[part.NAME]`\n"
    yield FURTHER
    for word, kind in sorted(KINDS.items(), key=lambda pair: pair[0].casefold()):
        if kind.placeable:
            yield f'### `kind = "{word}"`\n'
            said = " ".join((sys.modules[kind.__module__].__doc__ or "").strip().split("\n\n")[0].split())
            valid = f" Valid for {kind.validity}." if kind.validity else ""
            yield f"{said}{valid}\n"
            yield from _table(kind.model)


def _tables(title: str, model: type[Closed]) -> Iterator[str]:
    yield f"## {title}\n"
    yield from _table(model)
    for key, of in shapes(model).items():
        yield from _below(key, of)


def _below(path: str, of: Shape) -> Iterator[str]:
    if of.model is None:
        return
    yield f"### `{f'[[{path}]]' if of.many else f'[{path}]'}`\n"
    if said := _said(of.model):
        yield f"{said}\n"
    yield from _table(of.model)
    for key, inner in shapes(of.model).items():
        yield from _below(f"{path}.{key}", inner)


def _said(model: type[Closed]) -> str:
    """First paragraph of what the model says of itself, with keys in place of the fields' names."""
    paragraph = " ".join((model.__doc__ or "").strip().split("\n\n")[0].split())
    for name in sorted(model.model_fields, key=len, reverse=True):
        paragraph = paragraph.replace(f"`{name}`", f"`{written_key(name)}`")
    return paragraph


def _table(model: type[Closed]) -> Iterator[str]:
    rows = [("key", "holds", "between", "left out")]
    fields = {written_key(name): field for name, field in model.model_fields.items()}
    for key, of in shapes(model).items():
        if of.model is None:
            rows.append(
                (f"`{key}`", _holds(fields[key].annotation, of), _between(of), _left_out(model, key, of))
            )
    if len(rows) > 1:
        widths = [max(len(row[n]) for row in rows) for n in range(4)]
        lines = [
            "| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in rows
        ]
        rule = "| " + " | ".join("-" * width for width in widths) + " |"
        yield "\n".join([lines[0], rule, *lines[1:]]) + "\n"


def _holds(annotation: Any, of: Shape) -> str:
    if of.choices:
        return one_of(str(choice) for choice in of.choices)
    one = "a table" if get_origin(annotation) is dict else of.wanted("")
    if of.many:
        return "a list" if one == "a value" else f"a list: {one}"
    return one


def _between(of: Shape) -> str:
    least, most = ("" if end is None else of.number(end) for end in (of.least, of.most))
    if least and most:
        return f"{least} … {most}"
    return f"≥ {least}" if least else f"≤ {most}" if most else ""


def _left_out(model: type[Closed], key: str, of: Shape) -> str:
    name = next(name for name in model.model_fields if written_key(name) == key)
    field = model.model_fields[name]
    if (model, key) in _FILLED_IN:
        return _FILLED_IN[model, key]
    if of.required:
        by = (
            [f"`{by}`" for by, keys in model.implied_by.items() if key in keys]
            if issubclass(model, Part)
            else []
        )
        return f"*needed*, or {one_of(by)}" if by else "*needed*"
    default = field.get_default(call_default_factory=True)
    if default is None:
        return "follows from the rest" if issubclass(model, Part) and has_stand_in(key) else "none"
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, int | float):
        return of.number(default)
    if isinstance(default, tuple):
        said = ", ".join(
            of.number(n) if isinstance(n, int | float) else str(getattr(n, "label", n)) for n in default
        )
        return said or "none"
    return str(default) or "none" if default != {} else "none"
