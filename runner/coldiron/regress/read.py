"""A reference file becomes a table, or one line that says why it cannot be used and what mends it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.toml_file import read_toml
from coldiron.regress.reference import FORMAT, CaseName, ReferenceTable, Value, completed
from coldiron.study.model import AS_FOUND
from coldiron.wording import as_written, printable

LARGEST_BYTES = 20_000_000
_LONGEST_PATH, _LONGEST_TEXT = 600, 1000

_Entry = Annotated[list[float | str], Field(min_length=2, max_length=2)]
_Entries = list[_Entry]


class _File(BaseModel):
    """The tables of a reference file."""

    model_config = ConfigDict(strict=True, extra="forbid")

    format: int
    study: str
    readings: int
    versions: _Entries
    templates: _Entries
    input: dict[str, _Entries]
    case: dict[str, dict[str, dict[str, _Entries]]] = Field(default_factory=dict)
    over: dict[str, dict[str, dict[str, list[str]]]] = Field(default_factory=dict)


def read_reference(path: Path, study: str, anew: str) -> ReferenceTable:
    """Read the reference of a study.

    Parameters
    ----------
    path : Path
    study : str
        Name of the study it has to belong to.
    anew : str
        Command that writes it anew, for whoever has to mend it.

    Raises
    ------
    FileProblems
        If there is none, or it is damaged, of another format or of another study.
    """

    def refuse(expected: str, value: str = "", key: str = "") -> FileProblems:
        return FileProblems([Problem(printable(str(path)), key, value, expected)])

    if not path.exists():
        raise refuse(f"a reference to compare the study with; {anew} writes the first")
    table = read_toml(path, largest_bytes=LARGEST_BYTES, what="a reference")
    number = table.get("format")
    if not isinstance(number, int) or isinstance(number, bool):
        raise refuse(
            f"a reference of format {FORMAT}; {anew} writes one", as_written(number) or "missing", "format"
        )
    if number != FORMAT:
        age = "an older" if number < FORMAT else "a newer"
        raise refuse(f"{FORMAT}: {age} coldiron wrote this; {anew} writes it anew", str(number), "format")
    mend = f"restore it from version control, or write it anew: {anew}"
    damaged = _unprintable(table)
    if damaged is not None:
        raise refuse(f"names and texts of one line that prints ({mend})", "damaged", printable(damaged))
    try:
        file = _File.model_validate(table)
        record = _record(file)
    except (ValidationError, _Damaged) as error:
        key, expected = _first_words(error)
        raise refuse(f"{expected} ({mend})", "damaged", key) from None
    if file.study != study:
        raise refuse(f'"{printable(study)}": it is of another study', as_written(file.study), "study")
    if file.readings != record.count:
        raise refuse(
            f"{file.readings} readings, as its head says, not {record.count}: "
            f"lines are missing, or two references were merged ({mend})"
        )
    return record


def _unprintable(value: object, path: str = "") -> str | None:
    """Dotted path of the first name or text that does not print on one line; None without one."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, below in inner:
        step = f"{path}.{key}" if isinstance(value, dict) else path
        if len(step) > _LONGEST_PATH or not step.isprintable():
            return step
        found = _unprintable(below, step)
        if found is not None:
            return found
    return (
        path if isinstance(value, str) and (len(value) > _LONGEST_TEXT or not value.isprintable()) else None
    )


class _Damaged(ValueError):
    """A place in the file, and what should be there."""

    def __init__(self, key: str, expected: str) -> None:
        super().__init__(key, expected)
        self.key = key
        self.expected = expected


def _first_words(error: ValidationError | _Damaged) -> tuple[str, str]:
    if isinstance(error, _Damaged):
        return error.key, error.expected
    detail: Any = error.errors(include_url=False)[0]
    expected = "to be there" if detail["type"] == "missing" else f"what a reference holds: {detail['msg']}"
    return printable(".".join(str(step) for step in detail["loc"] if step not in ("float", "str"))), expected


def _record(file: _File) -> ReferenceTable:
    if AS_FOUND not in file.input:
        raise _Damaged("input", f'the variant "{AS_FOUND}"')
    found = _entries(file.input[AS_FOUND], f"input.{AS_FOUND}")
    inputs = {
        variant: completed(_entries(own, f"input.{variant}"), found) for variant, own in file.input.items()
    }
    readings = {
        CaseName(variant, bench, conditions): _entries(rows, f"case.{variant}.{bench}")
        for variant, benches in file.case.items()
        for bench, supplies in benches.items()
        for conditions, rows in supplies.items()
    }
    stray = {case.variant for case in readings} - inputs.keys()
    if stray:
        raise _Damaged("input", f'the variant "{min(stray)}", of which it has readings')
    return ReferenceTable(
        study=file.study,
        inputs=inputs,
        templates=_texts(file.templates, "templates"),
        versions=_texts(file.versions, "versions"),
        readings=readings,
        over={
            CaseName(variant, bench, conditions): frozenset(limits)
            for variant, benches in file.over.items()
            for bench, supplies in benches.items()
            for conditions, limits in supplies.items()
        },
    )


def _entries(rows: _Entries, key: str) -> dict[str, Value]:
    """Names and values, each name once and not a number."""
    names = [name for name, _ in rows]
    wrong = [name for n, name in enumerate(names) if not isinstance(name, str) or name in names[:n]]
    if wrong:
        raise _Damaged(printable(key), f'each name once, as text ("{printable(str(wrong[0]))}")')
    return {str(name): value for name, value in rows}


def _texts(rows: _Entries, key: str) -> dict[str, str]:
    return {name: str(value) for name, value in _entries(rows, key).items()}
