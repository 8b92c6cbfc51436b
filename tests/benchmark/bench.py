"""`make bench`: the standard study by the project's way and by the plain one, on this machine, in one go.

Prints processor and wall seconds, their ratios, and the largest difference of each headline reading
between the two; keeps all of it as results/bench/<version>.json.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.metadata
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmark import plain
from coldiron.benches.base import GAVE_UP, Case
from coldiron.engine.local_pool import LocalPool, shared_pool
from coldiron.engine.pool import WorkerPool
from coldiron.engine.store import Store
from coldiron.study.load import load_study
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.cases import study_cases
from coldiron.sweep.keys import identity
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker

HERE = Path(__file__).resolve().parent
RESULTS = HERE.parents[1] / "results" / "bench"
STUDY = HERE / "standard.toml"
HEADLINES = (
    "inrush_peak_A", "inrush_i2t_A2s", "input_power_W", "input_current_A", "power_factor", "string_W",
    "sinks_W", "led_current_A", "flicker_pct", "surge_sink_peak_A", "surge_string_peak_A",
    "surge_drain_peak_V", "surge_bus_peak_V", "surge_bridge_peak_A", "surge_sink_energy_mJ",
    "sink_die_C", "string_C", "housing_C",
)  # fmt: skip


@dataclass(frozen=True)
class Road:
    """Time that one way through the study took."""

    wall_s: float
    cpu_s: float


def timed(action: Callable[[], Any]) -> tuple[Any, float]:
    """Result of an action and its wall time [s]."""
    began = time.perf_counter()
    result = action()
    return result, time.perf_counter() - began


def start_s() -> float:
    """Processor time of starting the process that workers are forked from [s]; a fork takes 1 ms."""
    start = f"from {start_worker.__module__} import start_worker; start_worker()"
    process = subprocess.Popen([sys.executable, "-c", start])
    _, _, used = os.wait4(process.pid, 0)
    process.returncode = 0
    return used.ru_utime + used.ru_stime


def own_way(
    cases: Sequence[Case], workers: int, pool: WorkerPool | None = None
) -> tuple[list[FinishedCase], Road]:
    """Run a study without a store; processor time counts the start of the workers and this process."""
    pool = pool or shared_pool(workers, start_worker)
    began_s = time.process_time()
    done, wall_s = timed(lambda: run_cases(cases, pool))
    cpu_s = sum(one.result.cpu_s for one in done) + time.process_time() - began_s
    return done, Road(wall_s, cpu_s + start_s())


def stored_road(cases: Sequence[Case]) -> tuple[float, float]:
    """Wall time of an unchanged study in this process, and of the whole command [s]."""
    with tempfile.TemporaryDirectory() as name:
        command = [
            sys.executable, "-m", "coldiron.cli.main", "study", str(STUDY), "--out", name, "--no-pictures",
        ]  # fmt: skip
        command[1:3] = ["-c", "import sys; from coldiron.cli.main import main; sys.exit(main())"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        _, command_s = timed(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL))
        store = Store(Path(name) / ".store", print)
        _, recall_s = timed(lambda: run_cases(cases, LocalPool(1), cache=StoredCases(store)))
        store.close()
    return recall_s, command_s


def plain_road(cases: Sequence[Case], workers: int) -> tuple[list[plain.Readings], Road]:
    """Run cases by `ngspice -b`, `workers` at a time: the runs of a cold case, and hot cases as a whole."""
    spent: list[float] = []

    def run_all() -> list[plain.Readings]:
        cold = {n: plain.take(c, workers, spent.append) for n, c in enumerate(cases) if c.bench != "heat"}
        hot = {n: c for n, c in enumerate(cases) if c.bench == "heat"}
        with ThreadPoolExecutor(workers) as threads:
            found = threads.map(lambda case: plain.take_hot(case, spent.append), hot.values())
            every = cold | dict(zip(hot, found, strict=True))
        return [every[n] for n in range(len(cases))]

    found, wall_s = timed(run_all)
    return found, Road(wall_s, sum(spent))


def differences(
    done: Sequence[FinishedCase], found: Sequence[plain.Readings]
) -> dict[str, tuple[float, str]]:
    """Largest difference of each headline reading [%], and the case it is in.

    Light that hardly moves is compared on the scale of light that moves by 1 %.
    """
    worst: dict[str, tuple[float, str]] = {}
    for one, other in zip(done, found, strict=True):
        for name in HEADLINES:
            ours, theirs = one.result.readings.get(name), other.get(name)
            if not isinstance(ours, float) or not isinstance(theirs, float):
                continue
            scale = max(abs(theirs), 1.0 if name == "flicker_pct" else 1e-9)
            pct = 100.0 * (ours - theirs) / scale
            if name not in worst or abs(pct) > abs(worst[name][0]):
                worst[name] = (pct, f"{one.case.variant}, {one.case.conditions.label}")
    return worst


def help_s() -> float:
    """Wall time of `coldiron --help` [s], the middle of five."""
    command = [sys.executable, "-c", "from coldiron.cli.main import main; main(['--help'])"]
    return sorted(
        timed(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL))[1] for _ in range(5)
    )[2]


def cluster_way(cases: Sequence[Case], workers: int) -> float:
    """Wall time on a scheduler and workers on this machine's loopback [s]."""
    from coldiron.engine.cluster import ClusterPool

    distributed: Any = importlib.import_module("distributed")

    with distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=":0"
    ) as cluster:
        pool = ClusterPool(cluster.scheduler_address, identity, start_worker)
        own_way(cases[:8], workers, pool)
        done, took = own_way(cases, workers, pool)
        assert not any(one.result.failure for one in done)
        return took.wall_s


def main() -> None:
    """Run all, print a summary, keep the numbers."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sequential", type=int, default=4, help="lamps that the plain way runs one by one")
    parser.add_argument("--lamps", type=int, default=24, help="lamps of the study, fewer for a quick look")
    args = parser.parse_args()
    cores = len(os.sched_getaffinity(0))
    every = list(study_cases(load_study(str(STUDY))))
    wanted = {(c.variant, c.conditions.label): None for c in every}
    chosen = list(wanted)[: args.lamps]
    cases = [case for case in every if (case.variant, case.conditions.label) in chosen]

    own_way(cases[:4], cores)
    done, ours = own_way(cases, cores)
    _, alone = own_way(cases, 1)
    recall_s, command_s = stored_road(cases)
    found, theirs = plain_road(cases, cores)
    sample = [
        case
        for case in cases
        if (case.variant, case.conditions.label) in chosen[:: len(chosen) // args.sequential]
    ]
    _, one_by_one = plain_road(sample, 1)
    sequential_s = one_by_one.wall_s * len(cases) / len(sample)
    engine_s = sum(one.result.engine_s for one in done)
    case_s = sum(one.result.cpu_s for one in done)
    summary = {
        "version": importlib.metadata.version("coldiron"),
        "machine": f"{platform.machine()}, {cores} cores, Python {platform.python_version()}",
        "load_average": os.getloadavg()[2],
        "lamps": len(chosen),
        "cases": len(cases),
        "own": {
            "cpu_s": ours.cpu_s,
            "wall_s": ours.wall_s,
            "one_worker_wall_s": alone.wall_s,
            "cpu_s_of_bench": {
                bench: sum(one.result.cpu_s for one in done if one.case.bench == bench)
                for bench in dict.fromkeys(case.bench for case in cases)
            },
            "cpu_s_per_lamp": ours.cpu_s / len(chosen),
            "failed": sum(1 for one in done if one.result.failure),
            "fell_back": sum(1 for one in done for how in one.result.how_run.values() if GAVE_UP in how),
        },
        "plain": {
            "cpu_s": theirs.cpu_s,
            "all_cores_wall_s": theirs.wall_s,
            "sequential_wall_s": sequential_s,
            "sequential_cases": len(sample),
        },
        "ratios": {
            "cpu": theirs.cpu_s / ours.cpu_s,
            "wall_all_cores": theirs.wall_s / ours.wall_s,
            "wall_sequential": sequential_s / ours.wall_s,
            "two_workers_over_one": alone.wall_s / ours.wall_s,
            "case_over_engine": case_s / engine_s,
            "cold_over_recall": ours.wall_s / recall_s,
        },
        "unchanged_study_s": {"recall": recall_s, "whole_command": command_s},
        "cluster_over_local": cluster_way(cases, cores) / ours.wall_s,
        "help_s": help_s(),
        "largest_difference_pct": differences(done, found),
    }
    RESULTS.mkdir(parents=True, exist_ok=True)
    path = RESULTS / f"{summary['version']}.json"
    path.write_text(json.dumps(summary, indent=2, ensure_ascii=False) + "\n")
    sys.stdout.write(json.dumps(summary, indent=2, ensure_ascii=False) + f"\n{path}\n")


if __name__ == "__main__":
    main()
