"""A lesson as a file has it: runs, and steps that ask before they show."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.model import Closed, Inconsistency, Name
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import understand
from coldiron.quantities import Ratio
from coldiron.resources import resource_dir
from coldiron.wording import one_nearest, one_of, printable

BENCHES = ("steady", "heat", "surge", "switch-on", "unplug", "off-glow")
Text = Annotated[str, Field(min_length=1, max_length=1200)]
NAMED = re.compile(r"\{([a-z0-9_]+)\}")
"""Where a claim's figure stands in a text."""
_FIGURE = re.compile(
    r"(?<![\w.])[0-9]+(?:[.,][0-9]+)?"
    r"(?: ?(?:[pnµmkM]?(?:V|A|W|J|F|Ω|s|Hz|K|C)|°C|%|°)(?![\w])|(?:\.[0-9]+)(?![\w]))"
)
"""A figure with a unit, or one with decimals."""


class Run(Closed):
    """What is run: a bench, the changes of the lamp, where on the sine a surge comes.

    `at` lets only one thing be warm: the temperatures of dies and string, each "warm" (where the lamp
    settles) or "cold", for the bench "steady".
    """

    bench: str
    angle: Annotated[float, Field(ge=0, le=360)] = 90.0
    polarity: Literal["+", "-"] = "+"
    change: dict[str, Any] = Field(default_factory=dict)
    leakage: dict[str, Any] = Field(default_factory=dict)
    at: dict[str, str] = Field(default_factory=dict)

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Only a steady lamp can be given temperatures."""
        if self.at and self.bench != "steady":
            yield Inconsistency("at", 'the bench "steady"')
        if set(self.at) - {"dies", "string"} or set(self.at.values()) - {"warm", "cold"}:
            yield Inconsistency("at", '"dies" and "string", each "warm" or "cold"')


class Claim(Closed):
    """Something that is said, and what it is held to: `value` in the words of `lessons.claims`.

    The run has to give `gives` within `within_ratio` of it, more than `above`, less than `below`.
    """

    value: Text
    name: Annotated[str, Field(pattern=r"^[a-z0-9_]*$")] = ""
    gives: str | None = None
    within_ratio: Annotated[Ratio, Field(ge=0, le=0.5)] = 0.02
    above: str | None = None
    below: str | None = None

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """A claim claims something."""
        if self.gives is None and self.above is None and self.below is None:
            yield Inconsistency("gives", "gives, above or below")


class Step(Closed):
    """One step: what it shows, what it asks before, what it says after."""

    name: Name
    run: str
    beside: str = ""
    window: tuple[str, str] | None = None
    strips: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    highlight: tuple[str, ...] = ()
    ask: Text
    choices: Annotated[tuple[str, ...], Field(min_length=2, max_length=5)]
    answer: str
    text: Text
    claim: tuple[Claim, ...] = ()

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The answer is a choice; every figure is a claim's; every claim with a name is said."""
        if self.answer not in self.choices:
            yield Inconsistency("answer", f"one of the choices ({one_of(self.choices)})")
        said = f"{self.ask} {self.answer} {self.text}"
        names = set(NAMED.findall(said + " ".join(self.choices)))
        claimed = {claim.name for claim in self.claim if claim.name}
        for name in sorted(names - claimed):
            yield Inconsistency("text", f'a claim called "{name}"')
        for name in sorted(claimed - names):
            yield Inconsistency("claim", f'"{{{name}}}" somewhere in the text')
        for figure in _FIGURE.findall(NAMED.sub("", said)):
            yield Inconsistency("text", f'a claim in place of "{figure}", which nothing holds')
        if not self.strips and not self.bars:
            yield Inconsistency("strips", "strips or bars to show")


class Lesson(Closed):
    """A lesson: a shipped lamp, what is run, and the steps."""

    title: Name
    lamp: str
    summary: Text
    minutes: Annotated[int, Field(ge=1, le=60)]
    runs: Annotated[dict[str, Run], Field(min_length=1)]
    step: Annotated[tuple[Step, ...], Field(min_length=2)]

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Runs are of benches, steps show runs that there are."""
        for name, run in self.runs.items():
            if run.bench not in BENCHES:
                yield Inconsistency(f"runs.{name}.bench", one_of(BENCHES))
        for number, step in enumerate(self.step, 1):
            for shown in (step.run, step.beside):
                if shown and shown not in self.runs:
                    yield Inconsistency(f"step[{number}].run", one_of(self.runs))


def lesson_names() -> list[str]:
    """Names of the shipped lessons."""
    return sorted(path.stem for path in (resource_dir("variants") / "lessons").glob("*.toml"))


def load_lesson(path_or_name: str | Path) -> Lesson:
    """Lesson of a file, or a shipped one by its name.

    Raises
    ------
    FileProblems
        With everything that is wrong with it.
    """
    path = Path(path_or_name)
    if len(path.parts) == 1 and not path.suffix:
        names = lesson_names()
        if str(path) not in names:
            nearest = one_nearest(path, names)
            raise FileProblems([Problem(printable(str(path)), "", "not known", one_of(names), nearest)])
        path = resource_dir("variants") / "lessons" / f"{path}.toml"
    problems: list[Problem] = []
    lesson = understand(Lesson, read_toml(path, what="a lesson"), path.name, problems)
    if lesson is None or problems:
        raise FileProblems(problems)
    return lesson
