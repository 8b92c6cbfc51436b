"""A lesson as a page that can be printed, and as a notebook that runs it."""

from __future__ import annotations

import html
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

import jinja2

from coldiron.errors import FileProblems
from coldiron.lessons import drawn
from coldiron.lessons.claims import check, told
from coldiron.lessons.model import Lesson, Step
from coldiron.lessons.record import Recorded


@dataclass(frozen=True)
class Shown:
    """One step, ready to be shown: texts with their figures, pictures as sources of images, their words."""

    step: Step
    ask: str
    choices: tuple[str, ...]
    answer: str
    text: str
    circuit: str
    strips: str = ""
    strips_said: str = ""
    bars: str = ""
    bars_said: str = ""

    def _repr_html_(self) -> str:
        """Show the step in a notebook."""
        images = "".join(
            f'<img alt="{html.escape(alt)}" src="{source}" style="max-width:100%">'
            for source, alt in ((self.strips, self.strips_said), (self.bars, self.bars_said))
            if source
        )
        return f"<p><b>{html.escape(self.answer)}</b></p>{images}<p>{html.escape(self.text)}</p>"


def shown(lesson: Lesson, runs: Mapping[str, Recorded], file: str) -> list[Shown]:
    """Every step with the figures that its runs give.

    Raises
    ------
    FileProblems
        If a run refutes what the lesson says: then it is not said.
    """
    problems = check(lesson, runs, file)
    if problems:
        raise FileProblems(problems)
    first = runs[next(iter(lesson.runs))]
    return [_shown(step, runs, first) for step in lesson.step]


def _shown(step: Step, runs: Mapping[str, Recorded], first: Recorded) -> Shown:
    return Shown(
        step,
        told(step.ask, step, runs),
        tuple(told(choice, step, runs) for choice in step.choices),
        told(step.answer, step, runs),
        told(" ".join(step.text.split()), step, runs),
        drawn.as_data(drawn.circuit_svg(step, runs, first)),
        drawn.as_data(drawn.strips_svg(step, runs)) if step.strips else "",
        drawn.strips_said(step, runs) if step.strips else "",
        drawn.as_data(drawn.bars_svg(step, runs)) if step.bars else "",
        drawn.bars_said(step, runs) if step.bars else "",
    )


def style() -> str:
    """Style sheet of a lesson."""
    return (files("coldiron.lessons") / "lesson.css").read_text(encoding="utf-8")


def page(
    lesson: Lesson,
    steps: list[Shown],
    caution: str,
    *,
    sheet: str = "",
    links: Mapping[int, str] | None = None,
) -> str:
    """HTML of a lesson.

    Parameters
    ----------
    lesson : Lesson
    steps : list of Shown
    caution : str
    sheet : str
        Address of the style sheet; it stands inside the page when empty, so that the page is one file.
    links : mapping, optional
        By the number of a step, from 1: where its run can be taken in hand.
    """
    text = (files("coldiron.lessons") / "lesson.html.j2").read_text(encoding="utf-8")
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    return environment.from_string(text).render(
        lesson=lesson,
        steps=steps,
        caution=caution,
        sheet=sheet,
        style="" if sheet else style(),
        links=links or {},
    )


def notebook(lesson: Lesson, name: str, steps: list[Shown]) -> str:
    """Notebook (nbformat 4.5) that asks, and runs each step when its cell is run."""

    def cell(kind: str, number: int, text: str) -> dict[str, object]:
        made: dict[str, object] = {"cell_type": kind, "id": f"c{number}", "metadata": {}, "source": text}
        return made | ({"outputs": [], "execution_count": None} if kind == "code" else {})

    begin = f"from coldiron.api import taught\n\nlesson = taught({name!r})"
    cells = [
        cell("markdown", 0, f"# {lesson.title}\n\n{lesson.summary}\n\nAbout {lesson.minutes} minutes."),
        cell("code", 1, begin),
    ]
    for number, step in enumerate(steps):
        choices = "\n".join(f"- {choice}" for choice in step.choices)
        asked = f"## {number + 1}. {step.step.name}\n\n{step.ask}\n\n{choices}"
        cells += [
            cell("markdown", 2 + 2 * number, asked),
            cell("code", 3 + 2 * number, f"lesson[{number}]"),
        ]
    meta = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    content = {"nbformat": 4, "nbformat_minor": 5, "metadata": meta, "cells": cells}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"
