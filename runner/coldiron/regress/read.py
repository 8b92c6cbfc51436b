"""The two files of a reference become a ReferenceTable, or one line that says why they cannot be used."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.toml_file import read_toml
from coldiron.regress.head import HEAD_KEYS, complete_file, digest
from coldiron.regress.reference import FORMAT, CaseName, ReferenceTable, Value, completed
from coldiron.study.model import AS_FOUND
from coldiron.wording import as_written, printable

LARGEST_BYTES = 20_000_000
_LONGEST_PATH, _LONGEST_TEXT = 600, 1000

_Entry = Annotated[list[float | str], Field(min_length=2, max_length=2)]
_Entries = list[_Entry]


class _File(BaseModel):
    """The tables of the complete file."""

    model_config = ConfigDict(strict=True, extra="forbid")

    format: int
    study: str
    readings: int
    versions: _Entries
    templates: _Entries
    rules: _Entries
    input: dict[str, _Entries]
    case: dict[str, dict[str, dict[str, _Entries]]] = Field(default_factory=dict)
    over: dict[str, dict[str, dict[str, _Entries]]] = Field(default_factory=dict)
    kept: dict[str, dict[str, dict[str, _Entries]]] = Field(default_factory=dict)


def read_reference(path: Path, study: str, anew: str) -> ReferenceTable:
    """Read the reference of a study: the file that a person reviews, and the complete one beside it.

    Parameters
    ----------
    path : Path
        The first of the two.
    study : str
        Name of the study it has to belong to.
    anew : str
        Command that writes it anew, for whoever has to mend it.

    Raises
    ------
    FileProblems
        If there is none, or it is damaged, of another format or of another study, or the two are not of one
        writing.
    """
    if not path.exists():
        raise _refusal(path, f"a reference to compare the study with; {anew} writes the first")
    mend = f"restore it from version control, or write it anew: {anew}"
    head = read_toml(path, largest_bytes=LARGEST_BYTES, what="a reference")
    _check_format(path, head, anew)
    if head.get("study") != study:
        expected = f'"{printable(study)}": it is of another study'
        raise _refusal(path, expected, as_written(head.get("study")), "study")
    stray = sorted(head.keys() - HEAD_KEYS)
    if stray:
        raise _refusal(path, f"what a reference holds: no such key ({mend})", "damaged", printable(stray[0]))
    beside = complete_file(path)
    if not beside.exists():
        raise _refusal(beside, f"the readings of {path.name} ({mend})", "missing")
    table = read_toml(beside, largest_bytes=LARGEST_BYTES, what="a reference")
    _check_format(beside, table, anew)
    damaged = _unprintable(table)
    if damaged is not None:
        expected = f"names and texts of one line that prints ({mend})"
        raise _refusal(beside, expected, "damaged", printable(damaged))
    try:
        file = _File.model_validate(table)
        record = _record(file)
    except (ValidationError, _Damaged) as error:
        key, expected = _first_words(error)
        raise _refusal(beside, f"{expected} ({mend})", "damaged", key) from None
    if file.study != study:
        raise _refusal(
            beside, f'"{printable(study)}": it is of another study', as_written(file.study), "study"
        )
    if file.readings != record.count:
        raise _refusal(
            beside,
            f"{file.readings} readings, as its head says, not {record.count}: "
            f"lines are missing, or two references were merged ({mend})",
        )
    if head.get("all") != digest(beside.read_text(encoding="utf-8")):
        raise _refusal(
            path, f"{beside.name} as it was written with it: one of the two was changed or merged ({mend})"
        )
    return record


def _refusal(path: Path, expected: str, value: str = "", key: str = "") -> FileProblems:
    return FileProblems([Problem(printable(str(path)), key, value, expected)])


def _check_format(path: Path, table: Mapping[str, Any], anew: str) -> None:
    number = table.get("format")
    if not isinstance(number, int) or isinstance(number, bool):
        expected = f"a reference of format {FORMAT}; {anew} writes one"
        raise _refusal(path, expected, as_written(number) or "missing", "format")
    if number != FORMAT:
        age = "an older" if number < FORMAT else "a newer"
        raise _refusal(
            path, f"{FORMAT}: {age} coldiron wrote this; {anew} writes it anew", str(number), "format"
        )


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
        over=_by_case(file.over),
        kept=_by_case(file.kept),
        rules=_texts(file.rules, "rules"),
    )


def _by_case(table: Mapping[str, Mapping[str, Mapping[str, _Entries]]]) -> dict[CaseName, dict[str, float]]:
    return {
        CaseName(variant, bench, conditions): _numbers(limits, f"limits of {variant}.{bench}")
        for variant, benches in table.items()
        for bench, supplies in benches.items()
        for conditions, limits in supplies.items()
    }


def _numbers(rows: _Entries, key: str) -> dict[str, float]:
    found = {name: value for name, value in _entries(rows, key).items() if isinstance(value, float)}
    if len(found) < len(rows):
        raise _Damaged(printable(key), "a number for each limit")
    return found


def _entries(rows: _Entries, key: str) -> dict[str, Value]:
    """Names and values, each name once and not a number."""
    names = [name for name, _ in rows]
    wrong = [name for n, name in enumerate(names) if not isinstance(name, str) or name in names[:n]]
    if wrong:
        raise _Damaged(printable(key), f'each name once, as text ("{printable(str(wrong[0]))}")')
    return {str(name): value for name, value in rows}


def _texts(rows: _Entries, key: str) -> dict[str, str]:
    return {name: str(value) for name, value in _entries(rows, key).items()}
