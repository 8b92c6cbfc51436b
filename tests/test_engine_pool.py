"""The local pool: whatever becomes of a task or its worker costs that task at most, and the pool goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import CancelledError, wait
from pathlib import Path
from typing import Any

import pytest

from coldiron.engine.local_pool import MOST_RETIREMENTS, LocalPool, shared_pool
from coldiron.engine.pool import Lost
from coldiron.errors import MissingEngine, NoWorkers, WorkerLost
from faulty_tasks import (
    be_ready,
    busy_until,
    crash_on_3,
    die_once,
    double,
    fail_to_start,
    hang_on_3,
    hang_s,
    note,
    process_id,
    raise_on_3,
    retire_always,
    retire_once,
    strange,
    threads,
    working_folder,
)
from hanging import HANG_S, gone


@pytest.fixture(scope="module")
def pool() -> Iterator[LocalPool]:
    with LocalPool(2, be_ready) as living:
        yield living


def outcomes(pool: LocalPool, run: Any, tasks: Any, deadline_s: Any = lambda task: HANG_S) -> dict[int, Any]:
    found = list(pool.run_all(run, tasks, deadline_s))
    assert len(found) == len(tasks)
    return {one.index: one.result for one in found}


@pytest.mark.parametrize("workers", [1, 2])
def test_every_task_comes_back_once(pool: LocalPool, workers: int) -> None:
    pool.workers = workers
    assert outcomes(pool, double, range(40)) == {n: 2 * n for n in range(40)}
    pool.workers = 2


def test_no_task_is_no_outcome(pool: LocalPool) -> None:
    assert outcomes(pool, double, []) == {}


def test_a_crash_costs_one_task_and_says_how_it_ended(pool: LocalPool) -> None:
    found = outcomes(pool, crash_on_3, range(8))
    assert found.pop(3) == Lost("the engine process ended with status -6")  # SIGABRT
    assert found == {n: n for n in (0, 1, 2, 4, 5, 6, 7)}


def test_an_exception_costs_one_task_and_keeps_its_traceback(pool: LocalPool) -> None:
    found = outcomes(pool, raise_on_3, range(6))
    raised, unpicklable = found.pop(3), found.pop(4)
    assert isinstance(raised, Lost)
    assert raised.why == "ValueError: three"
    assert raised.words.startswith("Traceback (most recent call last)")
    assert "in raise_on_3" in raised.words
    assert isinstance(unpicklable, Lost)
    assert "3 and 4" in unpicklable.why
    assert "in raise_on_3" in unpicklable.words
    assert found == {n: n for n in (0, 1, 2, 5)}


@pytest.mark.parametrize("what", ["exit", "interrupt", "unpicklable result", "unreadable result", "close"])
def test_whatever_else_a_task_does_costs_itself(pool: LocalPool, what: str) -> None:
    found = outcomes(pool, strange, ["", what, "", ""])
    assert isinstance(found.pop(1), Lost)
    assert found == dict.fromkeys((0, 2, 3), "done")


def test_a_task_that_cannot_be_sent_costs_itself(pool: LocalPool) -> None:
    found = outcomes(pool, double, [1, threading.Lock(), 3])
    assert isinstance(found.pop(1), Lost)
    assert found == {0: 2, 2: 6}


def test_a_hang_costs_one_task_and_says_its_deadline(pool: LocalPool) -> None:
    found = outcomes(pool, hang_on_3, range(6), hang_s)
    assert found.pop(3) == Lost("not finished within 1 s")
    assert found == {n: n for n in (0, 1, 2, 4, 5)}


def test_a_kill_from_outside_costs_one_task(pool: LocalPool, tmp_path: Path) -> None:
    found = outcomes(pool, die_once, [(str(tmp_path / "gone"), n) for n in range(5)])
    assert isinstance(found.pop(1), Lost)
    assert found == {n: n for n in (0, 2, 3, 4)}


def test_a_worker_that_retires_hands_its_task_on(pool: LocalPool, tmp_path: Path) -> None:
    tasks = [(str(tmp_path / "retired"), n) for n in range(5)]
    assert outcomes(pool, retire_once, tasks) == {n: n for n in range(5)}


def test_a_task_that_finds_every_engine_spent_is_lost(pool: LocalPool, tmp_path: Path) -> None:
    found = outcomes(pool, retire_always, [str(tmp_path / "tried")])
    assert found == {0: Lost("the engine process ended with status 70")}
    assert (tmp_path / "tried").stat().st_size == MOST_RETIREMENTS + 1


def test_workers_live_on_and_are_let_go_in_time(pool: LocalPool, monkeypatch: pytest.MonkeyPatch) -> None:
    pool.workers = 1
    asked = [pool.submit(process_id, None, HANG_S).result() for _ in range(5)]
    assert len(set(asked)) == 1
    monkeypatch.setattr("coldiron.engine.local_pool.TASKS_OF_A_WORKER", 1)
    pool.submit(process_id, None, HANG_S).result()
    assert pool.submit(process_id, None, HANG_S).result() not in asked
    assert gone(asked[0])
    pool.workers = 2


def test_all_workers_and_what_they_are_forked_from_are_replaced(pool: LocalPool) -> None:
    for _ in range(2):
        parent, child = (pool.submit(strange, what, HANG_S).result() for what in ("parent", "own"))
        os.kill(parent, signal.SIGKILL)
        assert gone(parent)
        assert gone(child)
        assert pool.submit(double, 4, HANG_S).result() == 8


def test_a_higher_priority_goes_first_and_equals_in_their_order(pool: LocalPool, tmp_path: Path) -> None:
    pool.workers = 1
    gate, log = tmp_path / "gate", tmp_path / "log"
    held = pool.submit(busy_until, str(gate), HANG_S)
    later: list[Any] = [
        pool.submit(note, (str(log), name), HANG_S, priority=priority)
        for name, priority in (("a", 0), ("b", 0), ("first", 5), ("last", -1), ("second", 5))
    ]
    gate.touch()
    wait([held, *later], timeout=HANG_S)
    assert log.read_text().split() == ["first", "second", "a", "b", "last"]
    pool.workers = 2


def test_a_task_that_waits_can_be_cancelled(pool: LocalPool, tmp_path: Path) -> None:
    pool.workers = 1
    held = pool.submit(busy_until, str(tmp_path / "gate"), HANG_S)
    log = tmp_path / "log"
    waiting = pool.submit(note, (str(log), "x"), HANG_S)
    assert waiting.cancel()
    (tmp_path / "gate").touch()
    held.result()
    pool.submit(double, 1, HANG_S).result()
    assert waiting.cancelled()
    assert not log.exists()
    pool.workers = 2


def test_a_task_that_runs_can_be_cancelled_and_its_worker_is_replaced(
    pool: LocalPool, tmp_path: Path
) -> None:
    pool.workers = 1
    before = pool.submit(process_id, None, HANG_S).result()
    running = pool.submit(busy_until, str(tmp_path / "never"), HANG_S)
    while not (tmp_path / "never.begun").exists():
        time.sleep(0.001)
    assert running.running()
    assert running.cancel()
    assert running.cancelled()
    with pytest.raises(CancelledError):
        running.result()
    assert pool.submit(process_id, None, HANG_S).result() != before
    assert gone(before)
    done = pool.submit(double, 3, HANG_S)
    assert done.result() == 6
    assert not done.cancel()
    pool.workers = 2


def test_who_stops_asking_ends_what_runs(pool: LocalPool, tmp_path: Path) -> None:
    tasks = ["", str(tmp_path / "never")]
    found = pool.run_all(busy_until, tasks, lambda task: HANG_S)
    assert next(found).result == ""
    found.close()  # type: ignore[attr-defined]
    assert pool.submit(double, 3, HANG_S).result() == 6


def test_an_answer_raises_what_the_task_raised(pool: LocalPool) -> None:
    with pytest.raises(ValueError, match="three") as caught:
        pool.submit(raise_on_3, 3, HANG_S).result()
    assert "in raise_on_3" in str(caught.value.__cause__)
    with pytest.raises(WorkerLost, match="status -6"):
        pool.submit(crash_on_3, 3, HANG_S).result()


def test_many_threads_share_a_pool(pool: LocalPool) -> None:
    found: dict[int, int] = {}

    def ask(first: int) -> None:
        for n in range(first, first + 50):
            found[n] = pool.submit(double, n, HANG_S).result()

    askers = [threading.Thread(target=ask, args=(first,)) for first in range(0, 400, 50)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    assert found == {n: 2 * n for n in range(400)}


def test_a_worker_has_one_thread_and_no_working_folder_in_its_path(pool: LocalPool) -> None:
    assert pool.submit(threads, None, HANG_S).result() == 1
    folder, path = pool.submit(working_folder, None, HANG_S).result()
    assert folder == str(Path.cwd())
    assert "" not in path


def test_closing_ends_every_process_and_cancels_what_waits(tmp_path: Path) -> None:
    pool = LocalPool(1, be_ready)
    parent, worker = (pool.submit(strange, what, HANG_S).result() for what in ("parent", "own"))
    running = pool.submit(busy_until, str(tmp_path / "never"), HANG_S)
    waiting = pool.submit(double, 1, HANG_S)
    pool.close()
    assert gone(worker)
    assert gone(parent)
    assert running.cancelled()
    assert waiting.cancelled()
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit(double, 1, HANG_S)
    pool.close()


def test_a_start_that_fails_is_said_and_tried_again() -> None:
    with LocalPool(1, fail_to_start) as pool:
        for _ in range(2):
            with pytest.raises(MissingEngine, match="none here"):
                list(pool.run_all(double, [1, 2, 3], lambda task: HANG_S))
        with pytest.raises(NoWorkers, match="no worker process can be started: none here"):
            pool.submit(double, 1, HANG_S).result()


def test_a_python_that_cannot_be_started_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for executable in ("/nowhere/python", "/bin/false"):
        monkeypatch.setattr(sys, "executable", executable)
        with LocalPool(1) as pool, pytest.raises(NoWorkers, match="no worker process can be started"):
            list(pool.run_all(double, [1], lambda task: HANG_S))


def test_a_process_shares_one_pool() -> None:
    one = shared_pool(1, be_ready)
    assert shared_pool(2, be_ready) is one
    assert one.workers == 2
    one.close()
    other = shared_pool(1, be_ready)
    assert other is not one
    assert other.submit(double, 1, HANG_S).result() == 2
    other.close()


HOST = """
import os, sys
sys.path[:] = {path!r}
from faulty_tasks import be_ready, busy_until, strange
from coldiron.engine.local_pool import LocalPool
pool = LocalPool(2, be_ready)
asked = [pool.submit(strange, what, {hang_s}) for what in ("parent", "own")]
print(*(one.result() for one in asked), flush=True)
busy = [pool.submit(busy_until, {never!r}, {hang_s}) for _ in range(2)]
{end}
"""


@pytest.mark.parametrize(
    ("end", "status"),
    [("", 0), ("sys.exit(3)", 3), ("os._exit(4)", 4), ("os.kill(os.getpid(), 9)", -9)],
    ids=["falls off", "exits", "exits at once", "is killed"],
)
def test_nothing_outlives_the_process_it_works_for(tmp_path: Path, end: str, status: int) -> None:
    text = HOST.format(path=sys.path, never=str(tmp_path / "never"), end=end, hang_s=HANG_S)
    done = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, timeout=HANG_S)
    assert (done.returncode, done.stderr) == (status, "")
    assert all(gone(int(pid)) for pid in done.stdout.split())
