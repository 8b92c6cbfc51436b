"""The excerpt of a report that a notebook shows: the answer and the first table, as a piece of HTML."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import jinja2

from coldiron.answer.answer import answer
from coldiron.answer.words import answer_lines
from coldiron.limits import Verdict
from coldiron.report.caveats import caveats
from coldiron.report.marks import SourceList
from coldiron.report.overview import overviews
from coldiron.study.model import Study
from coldiron.sweep.results import Results


def excerpt(study: Study, results: Results, verdicts: Sequence[Verdict]) -> str:
    """HTML without style and script of its own, for a page that belongs to someone else."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("excerpt.html.j2").render(
        study=study,
        answer=answer_lines(answer(study, results, verdicts)),
        caveats=caveats(results, verdicts),
        overviews=overviews(results, verdicts, SourceList(verdicts)),
    )
