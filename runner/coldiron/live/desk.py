"""Who works on what for which page.

Each page has one waiting slot that newer hands overwrite. A strip under way is never called off: a hand that
slides would see next to none. What comes after it is: readings over all angles, pins, other benches, the
neighbours of a value that was touched.
"""

from __future__ import annotations

import asyncio
import json
import math
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field
from typing import Any

from coldiron.errors import ColdironError, FileProblems
from coldiron.live import told
from coldiron.live.answers import Answers, Flight, words_of
from coldiron.live.hand import IN_HAND, Hand, Posted, Task, Understood
from coldiron.live.work import Answered, Asked
from coldiron.study.model import AS_FOUND
from coldiron.sweep.run import FinishedCase

MOST_PAGES = 8
IDLE_S = 60.0
"""A page that has not listened for so long gives its place to another."""
_STRIP, _READINGS, _PIN, _BARS, _NEIGHBOURS = 5.0, 4.0, 3.0, 2.0, 1.0
"""Priorities of the pool: what a person looks at first goes first."""
BAR_BENCHES = ("steady", "switch-on", "surge", "unplug", "heat")
"""Benches that the bars are made of, the quick ones first."""
_MOST_WAITING = 2000


class TooManyPages(ColdironError):
    """Every place is taken by a page that listens."""


@dataclass
class Page:
    """One page: what it was told of, what waits, what is under way for it."""

    name: str
    events: asyncio.Queue[str] = field(default_factory=lambda: asyncio.Queue(_MOST_WAITING))
    newest: int = -1
    drawn: int = -1
    waiting: tuple[Posted, Hand] | None = None
    strips: set[asyncio.Task[None]] = field(default_factory=set)
    after: asyncio.Task[None] | None = None
    listening: int = 0
    heard_s: float = field(default_factory=time.monotonic)
    tells: list[str] = field(default_factory=list)

    def tell(self, event: str, **data: Any) -> None:
        """Send an event, if anybody listens."""
        if self.listening and not self.events.full():
            self.events.put_nowait(f"event: {event}\ndata: {json.dumps(data, allow_nan=False)}\n\n")


class Desk:
    """Takes hands, has them answered, tells the pages.

    Parameters
    ----------
    understood : Understood
    answers : Answers
    """

    def __init__(self, understood: Understood, answers: Answers) -> None:
        self.understood = understood
        self.answers = answers
        self.pages: dict[str, Page] = {}

    def page(self, name: str) -> Page:
        """Page of a name; a new one takes a place.

        Raises
        ------
        TooManyPages
            If there is none.
        """
        if name in self.pages:
            return self.pages[name]
        if len(self.pages) >= MOST_PAGES:
            oldest = min(
                (page for page in self.pages.values() if not page.listening),
                key=lambda page: page.heard_s,
                default=None,
            )
            if oldest is None:
                raise TooManyPages(f"{MOST_PAGES} pages are open: close one and load this one anew")
            self.leave(oldest)
        page = self.pages[name] = Page(name)
        return page

    def leave(self, page: Page) -> None:
        """Forget a page and what is under way for it."""
        for task in (*page.strips, *([page.after] if page.after else ())):
            task.cancel()
        self.pages.pop(page.name, None)

    async def listen(self, page: Page) -> AsyncIterator[str]:
        """Events of a page as they come, with a word now and then so that a dead line is noticed."""
        page.listening += 1
        mine: asyncio.Queue[str] = asyncio.Queue(_MOST_WAITING)
        page.events = mine
        page.drawn = page.newest = -1
        page.waiting, page.tells = None, []
        page.tell("hello", page=page.name)
        try:
            yield "retry: 1000\n\n"
            while page.events is mine:
                try:
                    yield await asyncio.wait_for(mine.get(), 15.0)
                except TimeoutError:
                    yield ": still here\n\n"
        finally:
            page.listening -= 1
            page.heard_s = time.monotonic()
            if not page.listening and page.after:
                page.after.cancel()

    def take(self, posted: Posted) -> Hand:
        """Take a hand: it goes to a worker at once, or waits in the page's one slot.

        Raises
        ------
        FileProblems
            If it asks for what cannot be.
        TooManyPages
            If there is no place for the page.
        """
        hand = self.understood.hand(posted.task)
        page = self.page(posted.page)
        page.heard_s = time.monotonic()
        if posted.number <= page.newest:
            return hand
        page.newest = posted.number
        # Held before what came after the last strip is called off: it may be just that.
        holds = [flight for flight in self._flights_of(hand) if flight]
        if page.after:
            page.after.cancel()
            page.after = None
        if page.waiting:
            page.tell("overtaken", number=page.waiting[0].number)
        page.waiting = (posted, hand)
        self._next(page)
        for flight in holds:
            asyncio.get_running_loop().call_soon(self.answers.release, flight)
        return hand

    def _flights_of(self, hand: Hand) -> Iterator[Flight | None]:
        yield self.answers.join(_strip(hand, IN_HAND))
        yield self.answers.join(_strip(hand, AS_FOUND))

    def _next(self, page: Page) -> None:
        """Give the waiting hand to a worker, if one is free for the page."""
        if page.waiting is None:
            return
        known = self.answers.known(_strip(page.waiting[1], IN_HAND))
        if known is None and len(page.strips) >= self.answers.workers:
            return
        posted, hand = page.waiting
        page.waiting = None
        task = asyncio.ensure_future(self._strip(page, posted, hand))
        page.strips.add(task)

        def done(task: asyncio.Task[None]) -> None:
            page.strips.discard(task)
            self._next(page)

        task.add_done_callback(done)

    async def _strip(self, page: Page, posted: Posted, hand: Hand) -> None:
        """Answer a hand with its strips; the lamp as found goes beside it, once for each conditions."""
        number = posted.number
        found = asyncio.ensure_future(self.answers.get(_strip(hand, AS_FOUND), _STRIP))
        try:
            now = await self.answers.get(_strip(hand, IN_HAND), _STRIP)
            self._tell_strip(page, posted, hand, now, await found)
        except asyncio.CancelledError:
            if (task := asyncio.current_task()) and task.cancelling():
                raise  # the page has left
            page.tell("failed", number=number, why="the run was called off")
        except Exception as error:  # noqa: BLE001  whatever became of a worker is that hand's own
            page.tell("failed", number=number, why=words_of(error))
        finally:
            found.cancel()

    def _tell_strip(self, page: Page, posted: Posted, hand: Hand, now: Answered, found: Answered) -> None:
        """Tell the strips of a hand, if nothing newer is drawn, and let what comes after them begin."""
        number = posted.number
        if number < page.drawn:
            page.tell("overtaken", number=number)
            return
        page.drawn = number
        self._tell_found(page, hand, found)
        page.tell(
            "strip",
            number=number,
            conditions=hand.conditions_key,
            changes=[str(change) for change in hand.changes],
            worker_ms=round(1e3 * now.worker_s, 1),
            runs=now.result.runs,
            readings=told.readings_told(now.result.readings, found.result.readings),
            **told.strips_told(now),
        )
        if number == page.newest:
            page.after = asyncio.ensure_future(self._after(page, posted, hand))

    def _tell_found(self, page: Page, hand: Hand, found: Answered) -> None:
        if hand.conditions_key not in page.tells:
            page.tells.append(hand.conditions_key)
            page.tell("found", conditions=hand.conditions_key, **told.strips_told(found))

    async def _after(self, page: Page, posted: Posted, hand: Hand) -> None:
        """What comes after the strip, as long as no newer hand does."""
        try:
            await self._readings(page, posted, hand)
            await self._pins(page, posted, hand)
            if posted.better:
                await self._better(page, posted, hand)
            await self._bars(page, posted, hand)
            await self._neighbours(posted)
            page.tell("end", number=posted.number)
        except Exception as error:  # noqa: BLE001  as above
            page.tell("failed", number=posted.number, why=words_of(error))

    async def _readings(self, page: Page, posted: Posted, hand: Hand) -> None:
        """Readings of the bench as `coldiron study` has them: of a surge over all angles and polarities."""
        found, now = await self._both(hand, hand.task.bench, _READINGS)
        results, _ = await asyncio.to_thread(told.finished, hand.study, [(found, now)])
        page.tell(
            "readings",
            number=posted.number,
            bench=hand.task.bench,
            conditions=hand.conditions_key,
            readings=told.readings_told(
                results.readings(IN_HAND, hand.task.bench), results.readings(AS_FOUND, hand.task.bench)
            ),
            failed=now.result.failure.why if now.result.failure else now.result.not_applicable,
        )

    async def _both(self, hand: Hand, bench: str, priority: float) -> tuple[FinishedCase, FinishedCase]:
        cases = [hand.case(variant, bench) for variant in (AS_FOUND, IN_HAND)]
        found, now = await asyncio.gather(*(self.answers.get(Asked(case), priority) for case in cases))
        return FinishedCase(cases[0], found.result), FinishedCase(cases[1], now.result)

    async def _pins(self, page: Page, posted: Posted, hand: Hand) -> None:
        for number, changes in enumerate(posted.pins):
            try:
                pinned = self.understood.hand(hand.task.model_copy(update={"changes": changes}))
            except FileProblems as problems:
                page.tell("pin", number=posted.number, pin=number, why=str(problems), changes=[])
                continue
            found = await self.answers.get(_strip(pinned, IN_HAND), _PIN)
            page.tell(
                "pin",
                number=posted.number,
                pin=number,
                conditions=hand.conditions_key,
                changes=[str(change) for change in pinned.changes],
                readings=told.readings_told(found.result.readings, {}),
                **told.strips_told(found),
            )

    async def _bars(self, page: Page, posted: Posted, hand: Hand) -> None:
        """Use over allowed, bench by bench as they come in."""
        both: list[tuple[FinishedCase, FinishedCase]] = []
        benches = dict.fromkeys((hand.task.bench, *BAR_BENCHES))
        for bench in benches:
            both.append(await self._both(hand, bench, _BARS))
            results, verdicts = await asyncio.to_thread(told.finished, hand.study, list(both))
            bars, said, over = await asyncio.to_thread(told.bars_told, results, verdicts)
            page.tell(
                "bars",
                number=posted.number,
                bars=bars,
                said=said,
                over=over,
                benches=list(results.benches),
                all=len(both) == len(benches),
                warm=told.readings_told(results.readings(IN_HAND, bench), results.readings(AS_FOUND, bench)),
                bench=bench,
            )

    async def _neighbours(self, posted: Posted) -> None:
        """The strips one step either way of the value that was touched, kept for the next move."""
        for changes in self.understood.beside(posted.task.changes, posted.touched):
            try:
                hand = self.understood.hand(posted.task.model_copy(update={"changes": changes}))
            except FileProblems:
                continue
            await self.answers.get(_strip(hand, IN_HAND), _NEIGHBOURS)

    async def _better(self, page: Page, posted: Posted, hand: Hand) -> None:
        """Which way one bar would go, one step either way of each value that a person would turn."""
        bench, _, topic = posted.better.partition("|")
        found, now = await self._both(hand, bench, _BARS)
        page.tell(
            "better", number=posted.number, topic=topic, begin=True, ratio=_use(hand, found, now, topic)
        )
        for label, changes in self.understood.all_beside(posted.task.changes):
            task: Task = posted.task.model_copy(update={"changes": changes})
            try:
                other = self.understood.hand(task)
            except FileProblems:
                continue
            found, now = await self._both(other, bench, _BARS)
            page.tell(
                "better", number=posted.number, topic=topic, label=label, changes=changes,
                ratio=_use(other, found, now, topic),
            )  # fmt: skip


def _use(hand: Hand, found: FinishedCase, now: FinishedCase, topic: str) -> float | None:
    ratio = told.ratio_of(topic, told.finished(hand.study, [(found, now)])[1])
    return ratio if math.isfinite(ratio) else None


def _strip(hand: Hand, variant: str) -> Asked:
    case = hand.strip_case(variant)
    return Asked(case, one_surge=case.bench == "surge")
