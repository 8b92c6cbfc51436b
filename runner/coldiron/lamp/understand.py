"""From the tables of a file to a model, or to one line for each thing that is wrong.

The schema is walked once to find keys that do not exist and to set the provenances aside; pydantic then
judges the values, and its errors are put into a person's words here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import ValidationError

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.model import Closed, Part
from coldiron.lamp.shapes import Shape, shapes
from coldiron.lamp.trade_words import nearest_key
from coldiron.quantities import NotUnderstood
from coldiron.wording import as_key, as_written, one_nearest, one_of, printable

M = TypeVar("M", bound=Closed)

_FILE_PROVENANCES = ("measured", "data sheet", "fitted", "given", "typical")
_BOUNDS = ("greater_than_equal", "less_than_equal")
_LENGTHS = {
    "too_short": "at least {min_length} entry",
    "string_too_short": "text in quotes",
    "string_too_long": "at most {max_length} characters",
}


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
    walk = _Walk(file, len(problems))
    data = walk.table(model, table, inside, "given")
    understood = None
    try:
        understood = model.model_validate(data)
    except ValidationError as error:
        walk.judge(model, data, error, inside)
    problems.extend(walk.in_order())
    return None if walk.problems else understood


class _Walk:
    """One pass over one file."""

    def __init__(self, file: str, known: int) -> None:
        self.file = printable(file)
        self.known = known
        """Problems that were found before this pass."""
        self.problems: list[Problem] = []
        self.places: dict[str, int] = {}
        self.excused: set[str] = set()

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

    def table(self, model: type[Closed], table: object, inside: str, provenance: str) -> Any:
        """Take a table apart: unknown keys out, provenances aside, lists as tuples."""
        if not isinstance(table, Mapping):
            return table
        known = shapes(model)
        keys = [*known, "provenance"] if issubclass(model, Part) else [*known]
        if "provenance" in keys and "provenance" in table:
            provenance = self.provenance(table["provenance"], _path(inside, "provenance"), provenance)
        data: dict[str, Any] = {}
        provenances: dict[str, str] = {}
        expected = one_of(keys)
        for key, value in table.items():
            path = _path(inside, key)
            self.places[path] = len(self.places)
            if key not in keys:
                # Whoever reads fifty lines has seen what is wrong with the file; a guess takes the longest.
                guess = self.known + len(self.problems) < FileProblems.MOST_SAID
                nearest = nearest_key(key, keys) if guess else ""
                self.excused.add(_path(inside, nearest))
                self.refuse(path, "an unknown key", expected, nearest)
            elif key in known and not (known[key].optional and value == "none"):
                self.field(model, key, value, inside, provenance, data, provenances)
        if issubclass(model, Part):
            data["provenances"] = provenances
        return data

    def field(
        self,
        model: type[Closed],
        key: str,
        value: Any,
        inside: str,
        provenance: str,
        data: dict[str, Any],
        provenances: dict[str, str],
    ) -> None:
        """Put one written value, and its provenance, into what pydantic will judge."""
        of, path = shapes(model)[key], _path(inside, key)
        if of.many:
            entries = value if isinstance(value, list) else [value]
            if len(entries) > of.longest:
                # Else every entry of a flood would have its own problems.
                self.refuse(path, f"{len(entries)} entries", f"at most {of.longest}")
                return
            for number in range(len(entries)):
                self.places[_path(path, number)] = len(self.places)
            if of.model is not None:
                entries = [self.table(of.model, e, _path(path, n), provenance) for n, e in enumerate(entries)]
            data[key] = tuple(entries)
        elif of.model is not None:
            data[key] = self.table(of.model, value, path, provenance)
        elif issubclass(model, Part) and isinstance(value, Mapping):
            for word in value:
                if word not in ("value", "provenance"):
                    nearest = one_nearest(word, ("value", "provenance"))
                    self.refuse(_path(path, word), "an unknown key", "value or provenance", nearest)
            if "provenance" in value:
                provenance = self.provenance(value["provenance"], _path(path, "provenance"), provenance)
            if "value" in value:
                data[key], provenances[key] = value["value"], provenance
            else:
                self.excused.add(path)
                self.refuse(_path(path, "value"), "missing", of.wanted(key))
        else:
            data[key], provenances[key] = value, provenance

    def provenance(self, written: object, path: str, otherwise: str) -> str:
        if isinstance(written, str) and written in _FILE_PROVENANCES:
            return written
        self.refuse(
            path, as_written(written), one_of(_FILE_PROVENANCES), one_nearest(written, _FILE_PROVENANCES)
        )
        return otherwise

    def judge(self, model: type[Closed], data: Any, error: ValidationError, inside: str) -> None:
        """Put pydantic's errors into a person's words."""
        details = error.errors(include_url=False)
        parents = {detail["loc"][:-1] for detail in details}
        for detail in details:
            location = detail["loc"]
            # A list counts as too short when its entries are wrong; they have their own problems.
            if detail["type"] == "too_short" and location in parents:
                continue
            path = _path(inside, *location)
            if detail["type"] == "inconsistencies":
                for one in detail["ctx"]["inconsistencies"]:
                    keys = one.key.split(".")
                    self.refuse(_path(path, *keys), as_written(_dig(data, (*location, *keys))), one.expected)
                continue
            of = _shape_at(model, location)
            key = next((step for step in reversed(location) if isinstance(step, str)), "")
            if location[-1:] == ("[key]",):
                # The key of a table whose keys are the file's to choose.
                expected, nearest = _expectation(detail, of, key)
                self.refuse(_path(inside, *location[:-1]), "an unknown key", expected, nearest)
            elif detail["type"] != "missing":
                expected, nearest = _expectation(detail, of, key)
                self.refuse(path, as_written(_dig(data, location)), expected, nearest)
            elif path not in self.excused:
                self.refuse(path, "missing", of.wanted(key))


def _path(inside: str, *steps: int | str) -> str:
    """Dotted path of a place; entries of lists are counted from one, as people count.

    >>> _path("", "reading", 0, "value")
    'reading[1].value'
    """
    for step in steps:
        if isinstance(step, int):
            inside += f"[{step + 1}]"
        else:
            key = step if len(step) < 100 and step.isidentifier() else as_key(step)
            inside = f"{inside}.{key}" if inside else key
    return inside


def _dig(data: Any, location: tuple[int | str, ...]) -> Any:
    for step in location:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _shape_at(model: type[Closed], location: tuple[int | str, ...]) -> Shape:
    of = Shape(model=model)
    for step in location:
        if isinstance(step, str) and of.model is not None:
            of = shapes(of.model)[step]
    return of


def _expectation(detail: Any, of: Shape, key: str) -> tuple[str, str]:
    """Say what would have been right, and the nearest spelling of it."""
    kind = detail["type"]
    if kind == "value_error":
        error = detail["ctx"]["error"]
        return str(error), error.nearest if isinstance(error, NotUnderstood) else ""
    if kind in _BOUNDS:
        return of.bounds, ""
    if kind in _LENGTHS:
        return _LENGTHS[kind].format(**detail["ctx"]), ""
    nearest = one_nearest(detail["input"], of.choices) if isinstance(detail["input"], str) else ""
    return of.wanted(key), nearest
