"""The cluster pool against a real scheduler and real workers on loopback, and against what is none."""

from __future__ import annotations

import contextlib
import importlib
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from coldiron.engine.cluster import ClusterPool
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import Lost, Outcome
from coldiron.errors import MissingCluster
from coldiron.spread.margins import margins
from coldiron.spread.population import Drawing
from coldiron.spread.values import varied
from coldiron.study.load import make_study
from coldiron.study.spread import Spread
from coldiron.sweep.keys import identity
from coldiron.sweep.run import run_cases
from coldiron.sweep.worker import start_worker
from faulty_tasks import (
    be_ready,
    crash_on_3,
    double,
    fail_to_name,
    hang_on_3,
    hang_s,
    kill_once,
    meet,
    name_of,
    raise_on_3,
)
from hanging import HANG_S
from laboratory import case_of
from lamps import load_lamp

pytestmark = [
    pytest.mark.ngspice,
    # The library leaves sockets and loops to the collector when a worker of it is killed.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """One worker with one thread, and one with two."""
    distributed: Any = importlib.import_module("distributed")
    with distributed.SpecCluster(
        scheduler={
            "cls": distributed.Scheduler,
            "options": {"host": "127.0.0.1", "dashboard": False, "dashboard_address": ":0"},
        },
        workers={
            name: {
                "cls": distributed.Nanny,
                "options": {"nthreads": nthreads, "host": "127.0.0.1", "dashboard": False},
            }
            for name, nthreads in (("one", 1), ("two", 2))
        },
    ) as cluster:
        yield cluster.scheduler_address


def outcomes(
    pool: ClusterPool, run: Any, tasks: Any, deadline_s: Any = lambda task: HANG_S
) -> dict[int, Any]:
    found: list[Outcome[Any]] = list(pool.run_all(run, tasks, deadline_s))
    assert len(found) == len(tasks)
    return {one.index: one.result for one in found}


def pool_at(address: str) -> ClusterPool:
    return ClusterPool(address, identity, be_ready)


def test_every_task_comes_back_once(address: str) -> None:
    assert outcomes(pool_at(address), double, range(50)) == {n: 2 * n for n in range(50)}


def test_each_thread_of_a_worker_has_a_process(address: str, tmp_path: Path) -> None:
    found = outcomes(pool_at(address), meet, [(str(tmp_path), 3)] * 20)
    assert len(set(found.values())) == 3


def test_a_crash_costs_one_task(address: str) -> None:
    found = outcomes(pool_at(address), crash_on_3, range(8))
    assert found.pop(3) == Lost("the engine process ended with status -6")
    assert found == {n: n for n in (0, 1, 2, 4, 5, 6, 7)}


def test_an_exception_costs_one_task_and_keeps_its_traceback(address: str) -> None:
    found = outcomes(pool_at(address), raise_on_3, range(6))
    raised = found.pop(3)
    assert isinstance(raised, Lost)
    assert raised.why == "ValueError: three"
    assert "in raise_on_3" in raised.words
    assert isinstance(found.pop(4), Lost)
    assert found == {n: n for n in (0, 1, 2, 5)}


def test_a_task_over_its_deadline_costs_one_task(address: str) -> None:
    found = outcomes(pool_at(address), hang_on_3, range(6), hang_s)
    assert found.pop(3) == Lost("not finished within 1 s")
    assert found == {n: n for n in (0, 1, 2, 4, 5)}


def test_nothing_of_the_scheduler_is_set_for_us(address: str) -> None:
    distributed: Any = importlib.import_module("distributed")
    with distributed.Client(address, set_as_default=False) as client:
        before = client.run_on_scheduler(settings)
        outcomes(pool_at(address), crash_on_3, range(6))
        assert client.run_on_scheduler(settings) == before


def settings(dask_scheduler: Any) -> dict[str, str]:
    """Plain attributes of a scheduler that no work changes."""
    kept = ("allowed_failures", "validate", "worker_ttl", "idle_timeout", "plugins", "preloads", "extensions")
    return {name: repr(getattr(dask_scheduler, name)) for name in kept}


def test_a_worker_with_another_engine_or_program_is_refused_at_once(address: str) -> None:
    with pytest.raises(MissingCluster, match="has another engine or another version of this program"):
        outcomes(ClusterPool(address, partial(name_of, os.getpid())), double, range(3))
    with pytest.raises(MissingCluster, match="cannot run this program: no engine here"):
        outcomes(ClusterPool(address, partial(fail_to_name, os.getpid())), double, range(3))


def test_cases_run_on_the_cluster(address: str) -> None:
    case = case_of(load_lamp("pantry-bulb"), "steady")
    [done] = run_cases([case], ClusterPool(address, identity, start_worker))
    assert done.result.failure is None
    assert float(done.result.readings["input_power_W"]) > 5.0


@contextlib.contextmanager
def own_cluster(workers: int) -> Iterator[tuple[str, list[int]]]:
    """A scheduler and workers in processes that a test may take away: the address, and their ids."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = str(free.getsockname()[1])
    address = f"tcp://127.0.0.1:{port}"
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    scheduler = [
        "dask_scheduler",
        "--host",
        "127.0.0.1",
        "--port",
        port,
        "--no-dashboard",
        "--dashboard-address",
        ":0",
    ]
    worker = ["dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
    processes = [
        subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{words[0]}", *words[1:]],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for words in [scheduler, *[worker] * workers]
    ]
    try:
        distributed: Any = importlib.import_module("distributed")
        with distributed.Client(address, timeout=HANG_S, set_as_default=False) as client:
            if workers:
                client.wait_for_workers(workers, timeout=HANG_S)
        yield address, [process.pid for process in processes]
    finally:
        for process in processes:
            process.kill()
            process.wait()


@pytest.mark.slow
def test_lamps_of_tolerances_are_the_same_on_a_cluster(address: str) -> None:
    """A sample is drawn before anything runs: workers or a cluster give the same to the last digit."""
    study = make_study("kerbside-flood", benches=["unplug"], spread={"runs": 20})
    values = tuple(varied(study.lamp, study.benches, Spread(runs=20)))
    drawing = Drawing(study, "as found", study.lamp, Spread(runs=20), study.benches, values)
    found = []
    for pool in (shared_pool(2, start_worker), ClusterPool(address, identity, start_worker)):
        run = partial(run_cases, pool=pool, readings_only=True)
        found.append(margins(drawing, run))
    assert repr(found[0].readings) == repr(found[1].readings)
    assert repr(found[0].limits) == repr(found[1].limits)


def test_a_lost_worker_costs_nothing_but_its_time(tmp_path: Path) -> None:
    with own_cluster(2) as (address, _):
        tasks = [(str(tmp_path / "gone"), None, n) for n in range(6)]
        assert outcomes(pool_at(address), kill_once, tasks) == {n: n for n in range(6)}


@pytest.mark.parametrize("who", ["worker", "scheduler"])
def test_when_nobody_is_left_the_rest_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, who: str
) -> None:
    monkeypatch.setattr("coldiron.engine.cluster.WORKERLESS_S", 0.0)
    with own_cluster(1) as (address, (scheduler, worker)):
        tasks = [
            (str(tmp_path / "gone"), {"worker": worker, "scheduler": scheduler}[who], n) for n in range(20)
        ]
        found = outcomes(pool_at(address), kill_once, tasks)
    lost = {one.why for one in found.values() if isinstance(one, Lost)}
    words = {
        "worker": "no worker of the cluster is left",
        "scheduler": "the scheduler of the cluster is gone",
    }
    assert lost == {words[who]}


def refused(address: str) -> str:
    with pytest.raises(MissingCluster) as caught:
        outcomes(pool_at(address), double, [1])
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    "address", ["", "127.0.0.1", "127.0.0.1:", "foo://127.0.0.1:8786", "tcp://:8786", "a:b", "a:99999"]
)
def test_what_is_no_address_is_one_line(address: str) -> None:
    assert refused(address) == (
        f'--cluster is "{address}": expected HOST:PORT, tcp://HOST:PORT or tls://HOST:PORT'
    )


def test_no_scheduler_is_one_line() -> None:
    assert refused("127.0.0.1:9") == "no scheduler answers at 127.0.0.1:9: Connection refused"
    assert refused("nowhere.invalid:8786").startswith("no scheduler answers at nowhere.invalid:8786: ")
    assert "needs certificates" in refused("tls://127.0.0.1:9")


def test_something_else_at_the_address_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        address = f"127.0.0.1:{other.getsockname()[1]}"
        with monkeypatch.context() as impatient:
            impatient.setattr("coldiron.engine.cluster.CONNECT_S", 1.0)
            assert refused(address) == f"no scheduler answers at {address}: timed out"
        other.accept()[0].close()

        def speak() -> None:
            with other.accept()[0] as someone:
                someone.sendall(b"220 ready\r\n")

        speaker = threading.Thread(target=speak)
        speaker.start()
        assert "something else" in refused(address)
        speaker.join()


def test_no_worker_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coldiron.engine.cluster.WORKERLESS_S", 0.1)
    with own_cluster(0) as (address, _):
        assert refused(address) == f"the scheduler at {address} has no workers"


def test_another_version_is_one_line(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    distributed: Any = importlib.import_module("distributed")
    told = distributed.Client.get_versions

    def other(client: Any, check: bool) -> Any:
        versions = told(client, check=check)
        versions["scheduler"]["packages"]["distributed"] = "1.0"
        return versions

    monkeypatch.setattr(distributed.Client, "get_versions", other)
    assert refused(address).startswith("the scheduler has Dask 1.0 on Python ")


def test_a_refused_cluster_leaves_nothing_on_the_terminal(tmp_path: Path) -> None:
    ask = "import sys; from coldiron.cli.main import main; sys.exit(main(sys.argv[1:]))"
    for address in ("127.0.0.1:9", "foo://x", "127.0.0.1"):
        done = subprocess.run(
            [sys.executable, "-c", ask, "study", "kerbside-rework", "--no-pictures", "--out", str(tmp_path),
             "--cluster", address],
            capture_output=True, text=True, timeout=HANG_S,
        )  # fmt: skip
        assert done.returncode == 2
        assert len(done.stderr.strip().splitlines()) == 1, done.stderr
