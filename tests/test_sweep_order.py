"""Whatever runs the cases, in whatever order, and whatever the store holds: the tables are the same bytes."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coldiron.benches.base import Case
from coldiron.engine.cluster import ClusterPool
from coldiron.engine.local_pool import LocalPool, shared_pool
from coldiron.engine.store import Store
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.keys import case_key, identity
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker
from coldiron.tables.tidy import csv_text, tidy, variants_text
from laboratory import case_of, changed
from lamps import load_lamp, reservoir

pytestmark = pytest.mark.ngspice


def cases() -> list[Case]:
    """Three variants on four benches."""
    bulb = load_lamp("pantry-bulb")
    variants = {
        "as found": bulb,
        "10 µF": changed(bulb, reservoir=reservoir(10e-6)),
        "no bleed": changed(bulb, bleed=None),
    }
    return [
        replace(case_of(lamp, bench), variant=name)
        for name, lamp in variants.items()
        for bench in ("switch-on", "steady", "surge", "unplug")
    ]


def tables(done: list[FinishedCase]) -> tuple[str, str]:
    assert [one.result.failure for one in done] == [None] * len(done)
    results = Results(done)
    return csv_text(tidy(results)), variants_text(results)


@pytest.fixture(scope="module")
def one_worker() -> tuple[str, str]:
    return tables(run_cases(cases(), shared_pool(1, start_worker)))


def test_two_workers(one_worker: tuple[str, str]) -> None:
    assert tables(run_cases(cases(), shared_pool(2, start_worker))) == one_worker


def test_each_case_alone_and_from_last_to_first(one_worker: tuple[str, str]) -> None:
    done = [run_cases([case], shared_pool(1, start_worker))[0] for case in reversed(cases()[4:8])]
    alone = csv_text(tidy(Results(done[::-1])))
    # The first line is the heading; how much light there is, is against the lamp as found, which is not here.
    rows = [row for row in one_worker[0].splitlines(keepends=True) if row.startswith("10 µF,")]
    assert alone.splitlines(keepends=True)[1:] == [row for row in rows if ",light_pct," not in row]


def test_cold_and_warm_store(one_worker: tuple[str, str], tmp_path: Path) -> None:
    def run(worker: LocalPool, *, fresh: bool = False) -> tuple[str, str]:
        store = Store(tmp_path, print)
        done = run_cases(cases(), worker, cache=StoredCases(store, fresh=fresh))
        store.close()
        return tables(done)

    class Nobody(LocalPool):
        """A pool that must not be asked."""

        def run_all(self, *words: Any) -> Iterator[Any]:
            raise AssertionError("a warm store needs no worker")

    assert run(shared_pool(2, start_worker)) == one_worker
    assert run(Nobody()) == one_worker
    assert run(shared_pool(2, start_worker), fresh=True) == one_worker


def test_a_half_filled_store_is_filled_up(one_worker: tuple[str, str], tmp_path: Path) -> None:
    store = Store(tmp_path, print)
    cache = StoredCases(store)
    run_cases(cases()[1::3], shared_pool(2, start_worker), cache=cache)
    assert tables(run_cases(cases(), shared_pool(2, start_worker), cache=cache)) == one_worker
    store.close()


def test_waves_are_the_same_cold_and_warm(tmp_path: Path) -> None:
    store = Store(tmp_path, print)
    cache = StoredCases(store)
    [case] = [case_of(load_lamp("pantry-bulb"), "steady")]
    # Kept without waves, it is computed again when they are asked for.
    run_cases([case], shared_pool(1, start_worker), cache=cache)
    [cold] = run_cases([case], shared_pool(1, start_worker), cache=cache, keep_waves=True)
    [warm] = run_cases([case], shared_pool(1, start_worker), cache=cache, keep_waves=True)
    assert cold.result.waves is not None
    assert warm.result.waves is not None
    for label, vectors in cold.result.waves.items():
        assert {name: wave.tobytes() for name, wave in vectors.items()} == {
            name: wave.tobytes() for name, wave in warm.result.waves[label].items()
        }
    store.close()


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_cluster(one_worker: tuple[str, str]) -> None:
    distributed: Any = importlib.import_module("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=":0"
    ) as cluster:
        assert (
            tables(run_cases(cases(), ClusterPool(cluster.scheduler_address, identity, start_worker)))
            == one_worker
        )


def test_whatever_decides_a_case_decides_its_key() -> None:
    lamp = load_lamp("pantry-bulb")
    case = case_of(lamp, "steady")
    others = [
        replace(case, lamp=changed(load_lamp("pantry-bulb"), mains={"voltage_v": 119.0})),
        replace(case, bench="surge"),
        replace(case, conditions=replace(case.conditions, voltage_v=121.0)),
        replace(case, conditions=replace(case.conditions, surge_polarities=(1,))),
        replace(case, lamp=changed(lamp, bleed=None)),
        replace(case, lamp=changed(lamp, sinks={"sense_resistor_ohm": 4.71})),
    ]
    assert len({case_key(one) for one in (case, *others)}) == 7
    assert case_key(case) == case_key(case_of(load_lamp("pantry-bulb"), "steady"))
