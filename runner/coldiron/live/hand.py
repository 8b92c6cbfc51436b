"""What a hand on the page asks: changes of the lamp, a bench, and under what; as a study would have it.

A hand becomes a study of two variants, the lamp as found and the lamp in hand. So its cases are those that
`coldiron study` would run, and the page's readings are its readings.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coldiron.benches.base import Case
from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.live.handles import neighbours, parts_told
from coldiron.quantities import CELSIUS, NotUnderstood
from coldiron.study.apply import Workshop
from coldiron.study.change import Change
from coldiron.study.conditions import MainsCondition
from coldiron.study.model import KNOWN_BENCHES, Study, Variant
from coldiron.sweep.cases import study_cases
from coldiron.wording import one_nearest, one_of, printable

IN_HAND = "in hand"
"""Name of the variant that the page changes."""
MOST_PINS = 6
COLDEST_C, HOTTEST_C = -60.0, 100.0
PAGE = "page"

_Changes = dict[Annotated[str, Field(max_length=80)], Any]


class Task(BaseModel):
    """What the page sends: all that decides a run, in the words of a study file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    changes: Annotated[_Changes, Field(max_length=40)] = {}
    bench: Annotated[str, Field(max_length=20)] = "steady"
    angle: Annotated[float, Field(ge=0, le=360)] = 90.0
    polarity: Literal[1, -1] = 1
    supply: Annotated[str, Field(max_length=40)] = ""
    ambient: Annotated[str, Field(max_length=20)] = ""


class Posted(BaseModel):
    """One post of the page: who, the number of the hand, the task, what is pinned, what was touched."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    page: Annotated[str, Field(pattern=r"^[a-z0-9]{8,32}$")]
    number: Annotated[int, Field(ge=0, le=2**53)]
    task: Task
    pins: Annotated[tuple[_Changes, ...], Field(max_length=MOST_PINS)] = ()
    touched: Annotated[str, Field(max_length=80)] = ""
    better: Annotated[str, Field(max_length=200)] = ""


@dataclass(frozen=True)
class Hand:
    """A task that has been understood: a study of the lamp as found and the lamp in hand."""

    task: Task
    study: Study
    changes: tuple[Change, ...]

    @property
    def lamp(self) -> Lamp:
        """The lamp in hand."""
        return self.study.variants[-1].lamp

    @cached_property
    def conditions_key(self) -> str:
        """Everything but the changes, as the one text that the page makes of it too."""
        task = self.task
        angle = int(task.angle) if task.angle.is_integer() else task.angle
        content = [task.bench, angle, task.polarity, task.supply, task.ambient]
        return json.dumps(content, ensure_ascii=False, separators=(",", ":"))

    def case(self, variant: str, bench: str = "") -> Case:
        """Case of the lamp as found, or in hand, on a bench (its own when absent)."""
        asked = self.study.model_copy(update={"benches": (bench or self.task.bench,)})
        return next(case for case in study_cases(asked) if case.variant == variant)

    def strip_case(self, variant: str) -> Case:
        """The same with the one angle and polarity that the strips show."""
        case = self.case(variant)
        one = replace(
            case.conditions, surge_angles_deg=(self.task.angle,), surge_polarities=(self.task.polarity,)
        )
        return replace(case, conditions=one) if case.bench == "surge" else case


class Understood:
    """Reads tasks about one study.

    Parameters
    ----------
    study : Study
        The study, or the lamp, that was opened.
    """

    def __init__(self, study: Study) -> None:
        self.study = study
        self._workshop = Workshop(study.lamp, PAGE)
        self.parts = parts_told(study.lamp)

    def beside(self, changes: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
        """Changes with one value a step lower, and a step higher."""
        return [stepped for _, stepped in neighbours(self.parts, changes, key)]

    def all_beside(self, changes: Mapping[str, Any]) -> list[tuple[str, dict[str, Any]]]:
        """The same for every value that a person would turn, each with its words."""
        keys = [
            handle["key"]
            for part in self.parts
            for handle in part["handles"]
            if handle["main"] and part["key"] != "mains"
        ]
        return [one for key in keys for one in neighbours(self.parts, changes, key)]

    def lamp(self, changes: Mapping[str, Any]) -> tuple[Lamp, tuple[Change, ...]]:
        """Lamp with some changes applied, and those that really change something.

        Raises
        ------
        FileProblems
            With everything that is wrong with them.
        """
        problems: list[Problem] = []
        lamp, made = self._workshop.apply(changes, "change", problems)
        if problems:
            raise FileProblems(problems)
        return lamp, made

    def hand(self, task: Task) -> Hand:
        """A task in the words of the study.

        Raises
        ------
        FileProblems
            With everything that is wrong with it.
        """
        if task.bench not in KNOWN_BENCHES:
            raise _refused("bench", task.bench, one_of(KNOWN_BENCHES), one_nearest(task.bench, KNOWN_BENCHES))
        lamp, made = self.lamp(task.changes)
        found = self.study.variants[0]
        variants = (found, Variant(name=IN_HAND, changes=made, lamp=lamp))
        study = self.study.model_copy(update={"variants": variants, "conditions": self._conditions(task)})
        return Hand(task, study, made)

    def _conditions(self, task: Task) -> Any:
        conditions = self.study.conditions
        update: dict[str, Any] = {
            "mains": (conditions.mains[0],),
            "surroundings": conditions.surroundings[:1],
        }
        try:
            if task.supply:
                update["mains"] = (MainsCondition.read(task.supply),)
        except NotUnderstood as error:
            raise _refused("supply", task.supply, error.expected, error.nearest) from None
        try:
            if task.ambient:
                ambient_c = CELSIUS.parse(task.ambient)
                if not COLDEST_C <= ambient_c <= HOTTEST_C:
                    raise NotUnderstood(f"between {COLDEST_C:g} °C and {HOTTEST_C:g} °C")
                update["ambient_c"] = ambient_c
        except NotUnderstood as error:
            raise _refused("ambient", task.ambient, error.expected, error.nearest) from None
        return conditions.model_copy(update=update)


def _refused(key: str, value: str, expected: str, nearest: str = "") -> FileProblems:
    return FileProblems([Problem(PAGE, key, f'"{printable(value)}"', expected, nearest)])


def read_posted(text: bytes) -> Posted:
    """What the page posted.

    Raises
    ------
    FileProblems
        If it is not what the page posts.
    """
    try:
        return Posted.model_validate_json(text)
    except (ValidationError, ValueError) as error:
        where = ""
        if isinstance(error, ValidationError):
            where = ".".join(map(str, error.errors(include_url=False)[0]["loc"]))
        raise FileProblems([Problem(PAGE, printable(where), "", "what the page sends")]) from None
