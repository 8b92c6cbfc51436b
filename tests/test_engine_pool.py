"""The local pool: a crash, a hang or a worker that retires costs its own task at most."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from coldiron.engine.pool import LocalPool, Lost
from faulty_tasks import crash_on_3, die_once, double, hang_on_3, raise_on_3, retire_once


def outcomes(run: Any, tasks: Any, deadline_s: float = 30.0, workers: int = 2) -> dict[int, Any]:
    found = list(LocalPool(workers).run_all(run, tasks, lambda task: deadline_s))
    assert len(found) == len(tasks)
    return {one.index: one.result for one in found}


@pytest.mark.parametrize("workers", [1, 2])
def test_every_task_comes_back_once(workers: int) -> None:
    assert outcomes(double, range(40), workers=workers) == {n: 2 * n for n in range(40)}


def test_no_task_is_no_outcome() -> None:
    assert outcomes(double, []) == {}


def test_a_crash_costs_one_task_and_says_how_it_ended() -> None:
    found = outcomes(crash_on_3, range(8))
    lost = found.pop(3)
    assert isinstance(lost, Lost)
    assert "ended with status -6" in lost.why  # SIGABRT
    assert found == {n: n for n in (0, 1, 2, 4, 5, 6, 7)}


def test_an_exception_costs_one_task_and_keeps_its_traceback() -> None:
    found = outcomes(raise_on_3, range(4))
    raised = found.pop(3)
    assert isinstance(raised, Lost)
    assert raised.why == "ValueError: three"
    assert "in raise_on_3" in raised.words
    assert found == {n: n for n in range(3)}


def test_a_hang_costs_one_task_and_says_its_deadline() -> None:
    found = outcomes(hang_on_3, range(6), deadline_s=2.0)
    lost = found.pop(3)
    assert isinstance(lost, Lost)
    assert lost.why == "not finished within 2 s"
    assert found == {n: n for n in (0, 1, 2, 4, 5)}


def test_a_kill_from_outside_costs_one_task(tmp_path: Path) -> None:
    found = outcomes(die_once, [(str(tmp_path / "gone"), n) for n in range(5)])
    assert isinstance(found.pop(1), Lost)
    assert found == {n: n for n in (0, 2, 3, 4)}


def test_a_worker_that_retires_hands_its_task_on(tmp_path: Path) -> None:
    tasks = [(str(tmp_path / "retired"), n) for n in range(5)]
    assert outcomes(retire_once, tasks) == {n: n for n in range(5)}
