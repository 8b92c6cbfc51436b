"""`coldiron lesson`: run a lesson, hold what it says against its runs, leave a page or a notebook."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from coldiron.cli.arguments import CAUTION
from coldiron.engine.local_pool import shared_pool
from coldiron.errors import FileProblems, Problem
from coldiron.lessons.model import lesson_names, load_lesson
from coldiron.lessons.page import notebook, page, shown
from coldiron.lessons.record import record
from coldiron.sweep.worker import start_worker
from coldiron.tables.files import write_whole

ENDINGS = (".html", ".ipynb")


def main(args: argparse.Namespace) -> int:
    """List the lessons, or write one."""
    if args.lesson is None:
        for name in lesson_names():
            lesson = load_lesson(name)
            sys.stdout.write(f"{name:18}{lesson.title} ({lesson.minutes} minutes, {lesson.lamp})\n")
        return 0
    lesson, name = load_lesson(args.lesson), Path(args.lesson).stem
    to: Path = args.to or Path("results/lessons") / f"{name}.html"
    if to.suffix not in ENDINGS:
        raise FileProblems([Problem("--to", "", str(to), "a file that ends in .html or .ipynb")])
    steps = shown(lesson, record(lesson, shared_pool(args.workers, start_worker)), name)
    text = page(lesson, steps, CAUTION) if to.suffix == ".html" else notebook(lesson, name, steps)
    write_whole(to, text)
    claims = sum(len(step.claim) for step in lesson.step)
    sys.stdout.write(f"{lesson.title}: {len(steps)} steps, {claims} claims held by their runs. {to}\n")
    return 0
