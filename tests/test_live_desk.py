"""The desk behind the live page: numbered hands, one waiting slot, what is called off and what never is."""

from __future__ import annotations

import asyncio
import json
import tomllib
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from coldiron.engine.local_pool import LocalPool
from coldiron.lamp.load import load_lamp
from coldiron.lamp.toml_file import shipped_names
from coldiron.live.answers import Answers, Shelf
from coldiron.live.desk import Desk, Page
from coldiron.live.hand import IN_HAND, Posted, Task, Understood
from coldiron.live.handles import neighbours, parts_told, steps
from coldiron.live.shown import lamp_told
from coldiron.live.ways_out import study_text
from coldiron.live.work import start
from coldiron.preferred import E24, Bought
from coldiron.quantities import OHM
from coldiron.study.load import load_study, study_from
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import run_cases

pytestmark = pytest.mark.ngspice
PAGE = "abcdef0123456789"
SHARE = {"reservoir.capacitance": "22 µF", "reservoir.voltage": "400 V", "line_fusing.resistance": "10 Ω"}


@pytest.fixture(scope="module")
def pool() -> Iterator[LocalPool]:
    with LocalPool(2, start) as pool:
        yield pool


@pytest.fixture(scope="module")
def understood() -> Understood:
    return Understood(load_study("kerbside-rework"))


Play = Callable[[Desk, Page, list[tuple[str, Any]]], Awaitable[None]]


def played(pool: LocalPool, understood: Understood, play: Play) -> list[tuple[str, Any]]:
    """Let somebody play at a desk; returns the events that the page was told of."""

    async def whole() -> list[tuple[str, Any]]:
        desk = Desk(understood, Answers(pool, Shelf(None, print)))
        page = desk.page(PAGE)
        told: list[tuple[str, Any]] = []

        async def hear() -> None:
            async for text in desk.listen(page):
                if text.startswith("event: "):
                    head, _, body = text.partition("\ndata: ")
                    told.append((head.removeprefix("event: "), json.loads(body)))

        hearing = asyncio.ensure_future(hear())
        while not told:
            await asyncio.sleep(0.005)
        await asyncio.wait_for(play(desk, page, told), 120.0)
        hearing.cancel()
        desk.leave(page)
        return told

    return asyncio.run(whole())


def hand(number: int, changes: dict[str, Any], **task: Any) -> Posted:
    return Posted(page=PAGE, number=number, task=Task(changes=changes, **{"bench": "steady", **task}))


async def until(told: list[tuple[str, Any]], event: str, number: int) -> dict[str, Any]:
    while True:
        for name, data in told:
            if name in (event, "failed") and data.get("number") == number:
                assert name == event, data
                return dict(data)
        await asyncio.sleep(0.005)


def test_a_strip_under_way_is_never_called_off_and_one_waits(understood: Understood) -> None:
    async def slide(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        for number in range(1, 9):
            desk.take(hand(number, {"bleed.resistance": f"{100 + number}k"}))
            await asyncio.sleep(0)
            assert len(page.strips) <= 1
        await until(told, "strip", 8)

    with LocalPool(1, start) as lone:
        told = played(lone, understood, slide)
    drawn = [data["number"] for name, data in told if name == "strip"]
    passed = [data["number"] for name, data in told if name == "overtaken"]
    # Seven newer hands came while the first was under way: it is drawn all the same, and then the newest.
    assert (drawn[0], drawn[-1]) == (1, 8)
    assert sorted(drawn + passed) == list(range(1, 9))


def test_what_comes_after_the_strip_is_called_off_by_a_newer_hand(
    pool: LocalPool, understood: Understood
) -> None:
    async def play(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        desk.take(hand(1, {"bleed.resistance": "330k"}))
        await until(told, "strip", 1)
        desk.take(hand(2, {"bleed.resistance": "390k"}))
        await until(told, "end", 2)

    told = played(pool, understood, play)
    assert ("end", {"number": 1}) not in told
    assert not any(name == "failed" for name, _ in told)
    assert [data["all"] for name, data in told if name == "bars" and data["number"] == 2][-1] is True


def test_as_found_is_told_once_for_each_conditions(pool: LocalPool, understood: Understood) -> None:
    async def play(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        for number, bench in enumerate(("steady", "steady", "unplug", "steady"), 1):
            desk.take(hand(number, {"bleed.resistance": f"{200 + number}k"}, bench=bench))
            await until(told, "strip", number)

    told = played(pool, understood, play)
    assert [json.loads(data["conditions"])[0] for name, data in told if name == "found"] == [
        "steady",
        "unplug",
    ]


def test_a_step_back_is_answered_from_memory_and_neighbours_are_there(
    pool: LocalPool, understood: Understood
) -> None:
    async def play(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        first = Posted(
            page=PAGE, number=1, task=Task(changes={"sinks.count": 4}, bench="steady"), touched="sinks.count"
        )
        desk.take(first)
        await until(told, "end", 1)
        under_way = desk.answers.counts["under way"]
        desk.take(hand(2, {"sinks.count": 3}))
        await asyncio.sleep(0)
        assert (under_way, desk.answers.counts["under way"]) == (0, 0)
        await until(told, "strip", 2)

    told = played(pool, understood, play)
    assert [data["number"] for name, data in told if name == "strip"] == [1, 2]


def test_which_way_is_better_runs_a_step_either_way(pool: LocalPool, understood: Understood) -> None:
    async def play(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        posted = hand(1, {}).model_copy(update={"better": "steady|rating/string, continuous current"})
        desk.take(posted)
        await until(told, "end", 1)

    told = [data for name, data in played(pool, understood, play) if name == "better"]
    now = told[0]["ratio"]
    by_label = {data["label"]: data["ratio"] for data in told[1:]}
    # The sinks hold I = V/R each: one step of E24 up from 9.1 Ω is less current, one down is more.
    assert by_label["sinks, sense resistor 10 Ω"] < now < by_label["sinks, sense resistor 8.2 Ω"]
    assert by_label["sinks, sense resistor 10 Ω"] / now == pytest.approx(9.1 / 10, rel=0.02)


@pytest.mark.parametrize("bench", ["steady", "surge"])
def test_readings_are_those_of_coldiron_study_for_the_copied_study(
    pool: LocalPool, understood: Understood, tmp_path: Path, bench: str
) -> None:
    posted = hand(1, SHARE, bench=bench, supply="240 V 50 Hz")

    async def play(desk: Desk, page: Page, told: list[tuple[str, Any]]) -> None:
        desk.take(posted)
        await until(told, "readings", 1)

    [page_readings] = [data for name, data in played(pool, understood, play) if name == "readings"]
    text = study_text(understood, "kerbside-flood", posted.task, [{"varistor": "none"}, SHARE])
    table = tomllib.loads(text)
    study = study_from(table, tmp_path / "copied.toml")
    assert [str(change) for change in study.variants[1].changes] == [
        str(change) for change in understood.hand(posted.task).changes
    ]
    # As found, the hand, one pin: the other pin is the hand again.
    assert len(study.variants) == 3
    cases = [
        case for case in study_cases(study) if case.bench == bench and case.variant == study.variants[1].name
    ]
    [done] = run_cases(cases, pool)
    told = {each["id"]: each["value"] for each in page_readings["readings"] if each["id"] != "light_pct"}
    assert told == {name: value for name, value in done.result.readings.items() if value == value}
    assert done.case.conditions == understood.hand(posted.task).case(IN_HAND).conditions


@pytest.mark.parametrize("name", shipped_names("lamps"))
def test_every_step_of_every_handle_is_a_value_that_the_lamp_takes(name: str) -> None:
    lamp = load_lamp(name)
    understood = Understood(load_study("kerbside-rework").model_copy(update={"lamp": lamp}))
    parts = parts_told(lamp)
    assert {drawn for part in parts for drawn in part["drawn"]} >= {
        part.name for part in lamp.circuit if part.shown
    }
    for part in parts:
        if part["fit"]:
            assert understood.lamp(part["fit"]["change"])[1]
        if not part["fitted"]:
            continue
        for handle in part["handles"]:
            if handle["main"]:
                for text, changes in neighbours(parts, {}, handle["key"]):
                    assert understood.lamp(changes)[1], text
        for states in part["states"]:
            for state in states["states"]:
                assert understood.lamp({states["part"]: state})[1]


def test_every_variant_of_the_study_can_be_started_from(understood: Understood) -> None:
    offered = dict(lamp_told(understood, "")["variants"])
    assert list(offered) == [variant.name for variant in understood.study.variants[1:]]
    for variant in understood.study.variants[1:]:
        assert understood.lamp(offered[variant.name])[0] == variant.lamp


def test_steps_are_those_of_iec_60063() -> None:
    # IEC 60063, E24 and E6.
    assert [OHM.format(each) for each in steps(Bought(series=E24), 9.1, 8.0, 13.0)] == [
        "8.2 Ω", "9.1 Ω", "10 Ω", "11 Ω", "12 Ω", "13 Ω",
    ]  # fmt: skip
    flood = {part["key"]: part for part in parts_told(load_lamp("kerbside-flood"))}
    by_key = {handle["key"]: handle for handle in flood["reservoir"]["handles"]}
    around = by_key["reservoir.capacitance"]["steps"]
    assert around[around.index("33 µF") - 2 :][:5] == ["15 µF", "22 µF", "33 µF", "47 µF", "68 µF"]
