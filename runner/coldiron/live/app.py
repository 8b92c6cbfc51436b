"""Routes of the live page. Everything stands behind `guard.Guard`; addresses are relative to the token."""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import asynccontextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route

from coldiron.deck.render import named
from coldiron.engine.local_pool import LocalPool
from coldiron.errors import FileProblems, Problem
from coldiron.lessons.model import lesson_names, load_lesson
from coldiron.lessons.page import page, shown
from coldiron.lessons.page import style as lesson_style
from coldiron.lessons.record import record
from coldiron.live.answers import Answers, Shelf, words_of
from coldiron.live.desk import Desk, TooManyPages
from coldiron.live.hand import IN_HAND, Task, Understood, read_posted
from coldiron.live.shown import lamp_told, svg_of
from coldiron.live.told import moment_told
from coldiron.live.ways_out import strips_csv, study_text
from coldiron.live.work import Asked
from coldiron.study.model import Study
from coldiron.wording import one_of, printable

KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
STATIC = (
    "page.css", "page.js", "handles.js", "strips.js", "bars.js", "trail.js", "state.js",
    "vendor/uPlot.iife.min.js", "vendor/uPlot.min.css",
)  # fmt: skip
"""Every file that is served; nothing else can be asked for."""


class Opened(NamedTuple):
    """What `coldiron explore` was asked to open: a study, how another study names its lamp, the caution."""

    study: Study
    lamp_file: str
    caution: str = ""


def application(opened: Opened, pool: LocalPool, store: Path | None, say: Callable[[str], None]) -> Starlette:
    """The page's server.

    Parameters
    ----------
    opened : Opened
    pool : LocalPool
        Started with `coldiron.live.work.start`.
    store : Path or None
        Folder of the store of finished cases; None keeps nothing.
    say : callable
        Told when the store is given up.
    """
    shelf = Shelf(store, say)
    understood = Understood(opened.study)
    answers = Answers(pool, shelf)
    desk = Desk(understood, answers)

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        for each in list(desk.pages.values()):
            desk.leave(each)
        await asyncio.to_thread(shelf.close)

    def task_of(request: Request) -> Task:
        try:
            return Task.model_validate_json(request.query_params.get("t", "{}"))
        except ValidationError:
            raise _not_a_task() from None

    taught: dict[str, str] = {}

    async def lamp(request: Request) -> Response:
        return JSONResponse(await asyncio.to_thread(lamp_told, understood, opened.caution))

    async def drawing(request: Request) -> Response:
        changed, _ = understood.lamp(task_of(request).changes)
        row = request.query_params.get("row") == "1"
        text = await asyncio.to_thread(svg_of, changed, opened.study.lamp, in_one_row=row)
        return Response(text, media_type="image/svg+xml")

    async def hand(request: Request) -> Response:
        posted = read_posted(await request.body())
        desk.take(posted)
        return JSONResponse({"number": posted.number}, 202)

    async def heard(request: Request) -> Response:
        own = desk.page(_page_name(request))
        return StreamingResponse(desk.listen(own), media_type="text/event-stream")

    async def strip_of(request: Request) -> tuple[Any, Any]:
        understood_hand = understood.hand(task_of(request))
        case = understood_hand.strip_case(IN_HAND)
        return understood_hand, await answers.get(Asked(case, case.bench == "surge"), 5.0)

    async def moment(request: Request) -> Response:
        of, found = await strip_of(request)
        at = float(request.query_params.get("at", "0"))
        if found.strips is None or not math.isfinite(at):
            return JSONResponse({})
        told = moment_told(of.lamp, found.strips, at * found.strips.axis.size_s)
        return JSONResponse(told)

    async def deck(request: Request) -> Response:
        of, found = await strip_of(request)
        text = list(found.result.decks.values())[-1]
        return PlainTextResponse(named(text, lamp=of.lamp.name, study=opened.study.name, variant=IN_HAND))

    async def csv(request: Request) -> Response:
        _, found = await strip_of(request)
        if found.strips is None:
            return PlainTextResponse("no strips of this run\n", 404)
        return Response(strips_csv(found.strips), media_type="text/csv")

    async def study(request: Request) -> Response:
        posted = read_posted(await request.body())
        text = await asyncio.to_thread(study_text, understood, opened.lamp_file, posted.task, posted.pins)
        return PlainTextResponse(text)

    async def lesson(request: Request) -> Response:
        name = request.query_params.get("name", "")
        if name not in lesson_names():
            raise FileProblems([Problem("page", "lesson", printable(name), one_of(lesson_names()))])
        if name not in taught:
            taught[name] = await asyncio.to_thread(_taught, name, opened, pool)
        return Response(taught[name], media_type="text/html; charset=utf-8")

    routes = [
        Route("/", _static("page.html")),
        *(Route(f"/{name}", _static(name)) for name in STATIC),
        Route("/lamp", lamp),
        Route("/drawing", drawing),
        Route("/hand", hand, methods=["POST"]),
        Route("/answers", heard),
        Route("/moment", moment),
        Route("/deck", deck),
        Route("/strips.csv", csv),
        Route("/study", study, methods=["POST"]),
        Route("/lesson", lesson),
        Route("/lesson.css", _text(lesson_style(), "text/css")),
    ]
    return Starlette(
        routes=routes,
        lifespan=lifespan,
        exception_handlers={
            FileProblems: _problems,
            TooManyPages: _full,
            ValueError: _unreadable,
            Exception: _unforeseen,
        },
    )


def _page_name(request: Request) -> str:
    name = request.query_params.get("page", "")
    if not (8 <= len(name) <= 32 and name.isascii() and name.isalnum()):
        raise _not_a_task()
    return name


def _not_a_task() -> FileProblems:
    return FileProblems([Problem("page", "", "", "what the page sends")])


def _static(name: str) -> Callable[[Request], Awaitable[Response]]:
    content = (files("coldiron.live") / "static" / name).read_bytes()
    kind = KINDS[Path(name).suffix]

    async def serve(request: Request) -> Response:
        return Response(content, media_type=f"{kind}; charset=utf-8")

    return serve


def _text(content: str, kind: str) -> Callable[[Request], Awaitable[Response]]:
    async def serve(request: Request) -> Response:
        return Response(content, media_type=f"{kind}; charset=utf-8")

    return serve


def _taught(name: str, opened: Opened, pool: LocalPool) -> str:
    """Page of a lesson, each step with a way to take its run in hand where it is of this lamp."""
    own = load_lesson(name)
    steps = shown(own, record(own, pool), name)
    links = {}
    if own.lamp == opened.lamp_file:
        for number, step in enumerate(own.step, 1):
            run = own.runs[step.run]
            if not run.at and not run.leakage:
                words = {
                    "b": run.bench,
                    "a": f"{run.angle:g}",
                    "p": run.polarity,
                    "c": json.dumps(dotted(run.change)),
                }
                links[number] = f"./#{urlencode(words)}"
    return page(own, steps, opened.caution, sheet="lesson.css", links=links)


def dotted(change: Mapping[str, Any]) -> dict[str, Any]:
    """Changes with one key a value, as handles have them.

    Examples
    --------
    >>> dotted({"reservoir": {"capacitance": "22 µF"}, "varistor": "none"})
    {'reservoir.capacitance': '22 µF', 'varistor': 'none'}
    """
    flat: dict[str, Any] = {}
    for key, value in change.items():
        if isinstance(value, Mapping):
            flat |= {f"{key}.{field}": each for field, each in value.items()}
        else:
            flat[key] = value
    return flat


async def _problems(request: Request, error: Exception) -> Response:
    assert isinstance(error, FileProblems)
    lines = [
        f"{problem.key.removeprefix('change.')}{f' is {problem.value}' if problem.value else ''}: "
        f"expected {problem.expected}{f' (did you mean {problem.nearest}?)' if problem.nearest else ''}"
        for problem in error.problems[:5]
    ]
    return JSONResponse({"problems": lines}, 422)


async def _full(request: Request, error: Exception) -> Response:
    return JSONResponse({"problems": [str(error)]}, 503)


async def _unreadable(request: Request, error: Exception) -> Response:
    return JSONResponse({"problems": [printable(str(error))]}, 422)


async def _unforeseen(request: Request, error: Exception) -> Response:
    return JSONResponse({"problems": [f"no answer: {printable(words_of(error))}"]}, 500)
