"""The limits of standards, as data files hold them: each with clause, edition, value and provenance."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Literal

from pydantic import Field

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.model import Closed, Inconsistency, Note
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import understand
from coldiron.limits.verdict import Group
from coldiron.quantities import Ampere, Farad, Hertz, Ratio, Volt, Watt
from coldiron.resources import resource_dir
from coldiron.study.holding import Replacement
from coldiron.study.model import Study
from coldiron.wording import one_nearest, ordinal

Per = Literal["", "power factor", "mA/W", "mA/W and order", "hertz of the light"]
"""What a written value is multiplied with to become the limit in the reading's unit."""


class LimitRow(Closed):
    """One [[limit]] of a file.

    The fields from `power_above_w` on say where it applies. Rows of one `topic` answer one question. Where
    rows have an `alternative`, it is enough that all rows of one number are met.
    """

    id: str
    topic: str = ""
    what: str
    reading: str
    orders: tuple[int, ...] = ()
    most: float | None = None
    least: float | None = None
    per: Per = ""
    clause: str
    known: Literal["verified", "from memory"]
    note: Note = ""
    alternative: int | None = None
    power_above_w: Watt = 0.0
    power_from_w: Watt = 0.0
    power_up_to_w: Watt = math.inf
    mains_from_v: Volt | None = None
    mains_below_v: Volt = math.inf
    connection: tuple[str, ...] = ()
    portable: bool | None = None
    use: tuple[str, ...] = ()
    capacitance_above_f: Farad = 0.0
    light_from_hz: Hertz = 0.0
    light_below_hz: Hertz = math.inf

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """A limit is one from above or one from below."""
        if (self.most is None) == (self.least is None):
            yield Inconsistency("most", "most or least, one of them")


class Disregard(Closed):
    """Below the larger of both a harmonic current is not judged."""

    share_ratio: Ratio = 0.0
    current_a: Ampere = 0.0


class RuleFile(Closed):
    """One file of limits: a standard, and what its rows have in common.

    `kind` says which lamps it is about, `mains_*` on which mains, each up to and with the value.
    """

    standard: str
    edition: str
    group: Group
    bench: str
    kind: tuple[str, ...] = ()
    mains_from_v: Volt = 0.0
    mains_up_to_v: Volt = math.inf
    mains_frequency_hz: tuple[Hertz, ...] = ()
    rated_supply: bool = False
    disregard: Disregard = Disregard()
    limit: Annotated[tuple[LimitRow, ...], Field(min_length=1)]


@dataclass(frozen=True)
class Limit:
    """One limit on one reading; `id` is the file's name, a dot and the row's id.

    Limits of one `question` answer it together: their scopes exclude each other, or they are alternatives.
    """

    id: str
    question: tuple[str, str]
    source: str
    group: Group
    bench: str
    reading: str
    what: str
    row: LimitRow
    file: RuleFile
    value: float
    order: int = 0
    clause: str = ""
    provenance: str = ""

    @property
    def mains_from_v(self) -> float:
        """Lowest nominal mains it applies on [V]."""
        return self.file.mains_from_v if self.row.mains_from_v is None else self.row.mains_from_v

    @property
    def least(self) -> bool:
        """Whether it is a limit from below."""
        return self.row.most is None


@cache
def shipped_limits() -> tuple[Limit, ...]:
    """Every limit of the data files, in the order of the files' names.

    Raises
    ------
    FileProblems
        With everything that is wrong in the files.
    """
    problems: list[Problem] = []
    found: list[Limit] = []
    for path in sorted((resource_dir("variants") / "limits").glob("*.toml")):
        rules = understand(RuleFile, read_toml(path), str(path), problems)
        if rules is not None:
            for row in rules.limit:
                found += _limits(path.stem, rules, row)
    if problems:
        raise FileProblems(problems)
    return tuple(found)


def _limits(stem: str, rules: RuleFile, row: LimitRow) -> Iterator[Limit]:
    value = row.most if row.most is not None else row.least
    assert value is not None
    for order in row.orders or (_order(row.reading),):
        yield Limit(
            id=f"{stem}.{row.id}",
            question=(stem, row.topic or row.id),
            source=f"{rules.standard}, {rules.edition}",
            group=rules.group,
            bench=rules.bench,
            reading=row.reading.replace("_N_", f"_{order}_"),
            what=row.what.replace("Nth", ordinal(order)),
            row=row,
            file=rules,
            value=value,
            order=order,
            clause=row.clause,
            provenance=row.known,
        )


def _order(reading: str) -> int:
    match = re.fullmatch(r"harmonic_(\d+)_pct", reading)
    return int(match[1]) if match else 0


def limits_of(study: Study) -> tuple[Limit, ...]:
    """Every limit a study is held to, its own replacements in place; a limit replaced by "none" is gone."""
    replaced = study.limits.replace
    held = []
    for limit in shipped_limits():
        new = replaced.get(limit.id)
        if new is None:
            held.append(limit)
        elif new.value is not None:
            held.append(_replaced(limit, new))
    return tuple(held)


def _replaced(limit: Limit, new: Replacement) -> Limit:
    assert new.value is not None
    # A study writes its value in the reading's unit: what the standard multiplies with no longer counts.
    row = limit.row.model_copy(update={"per": "", "note": f"in place of {limit.value:g} of {limit.source}"})
    return dataclasses.replace(
        limit, value=new.value, row=row, source=new.source, group="study", clause=limit.id, provenance="study"
    )


def check_replacements(study: Study) -> None:
    """Refuse a study that replaces a limit which does not exist.

    Raises
    ------
    FileProblems
        Naming each, with the nearest that exists.
    """
    known = list(dict.fromkeys(limit.id for limit in shipped_limits()))
    problems = [
        Problem(
            f"study {study.name}",
            f'limits.replace."{name}"',
            "an unknown limit",
            "the id of a limit, such as eu-2019-2020.svm; ratings of parts are changed in the lamp",
            one_nearest(name, known),
        )
        for name in study.limits.replace
        if name not in known
    ]
    if problems:
        raise FileProblems(problems)
