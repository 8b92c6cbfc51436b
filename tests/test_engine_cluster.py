"""The cluster pool against a real scheduler and two real workers on loopback."""

from __future__ import annotations

import importlib
import os
from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest

from coldiron.engine.cluster import ClusterPool
from coldiron.engine.pool import Lost, Outcome
from coldiron.errors import MissingCluster
from coldiron.lamp.load import load_lamp
from coldiron.sweep.keys import identity
from coldiron.sweep.run import run_cases
from faulty_tasks import crash_on_3, die_once, double, hang_on_3, name_of, raise_on_3
from laboratory import case_of

pytestmark = [
    pytest.mark.ngspice,
    # The library leaves sockets and loops to the collector when a worker of it is killed.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]
DEADLINE_S = 30.0


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    distributed: Any = importlib.import_module("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=":0"
    ) as cluster:
        yield cluster.scheduler_address


def outcomes(pool: ClusterPool, run: Any, tasks: Any, deadline_s: float = DEADLINE_S) -> dict[int, Any]:
    found: list[Outcome[Any]] = list(pool.run_all(run, tasks, lambda task: deadline_s))
    assert len(found) == len(tasks)
    return {one.index: one.result for one in found}


def test_every_task_comes_back_once(address: str) -> None:
    assert outcomes(ClusterPool(address, identity), double, range(50)) == {n: 2 * n for n in range(50)}


def test_a_crash_costs_one_task(address: str) -> None:
    found = outcomes(ClusterPool(address, identity), crash_on_3, range(8))
    assert isinstance(found.pop(3), Lost)
    assert found == {n: n for n in (0, 1, 2, 4, 5, 6, 7)}


def test_an_exception_costs_one_task_and_keeps_its_traceback(address: str) -> None:
    found = outcomes(ClusterPool(address, identity), raise_on_3, range(6))
    raised = found.pop(3)
    assert isinstance(raised, Lost)
    assert raised.why == "ValueError: three"
    assert "in raise_on_3" in raised.words
    assert isinstance(found.pop(4), Lost)
    assert found == {n: n for n in (0, 1, 2, 5)}


def test_a_task_over_its_deadline_costs_one_task(address: str) -> None:
    found = outcomes(ClusterPool(address, identity), hang_on_3, range(6), deadline_s=2.0)
    assert isinstance(found.pop(3), Lost)
    assert found == {n: n for n in (0, 1, 2, 4, 5)}


def test_a_lost_worker_costs_nothing_but_its_time(address: str, tmp_path: Any) -> None:
    marker = str(tmp_path / "gone")
    found = outcomes(ClusterPool(address, identity), die_once, [(marker, n) for n in range(6)])
    assert found == {n: n for n in range(6)}


def test_a_worker_with_another_engine_or_program_gives_no_result(address: str) -> None:
    parent = os.getpid()
    pool = ClusterPool(address, partial(name_of, parent))
    for result in outcomes(pool, double, range(3)).values():
        assert isinstance(result, Lost)
        assert "another" in result.why


def test_cases_run_on_the_cluster(address: str) -> None:
    case = case_of(load_lamp("pantry-bulb"), "steady")
    [done] = run_cases([case], ClusterPool(address, identity))
    assert done.result.failure is None
    assert float(done.result.readings["input_power_W"]) > 5.0


def test_no_scheduler_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coldiron.engine.cluster.CONNECT_S", 0.5)
    with pytest.raises(MissingCluster, match="no scheduler answers at"):
        list(ClusterPool("127.0.0.1:9", identity).run_all(double, [1], lambda task: 1.0))
