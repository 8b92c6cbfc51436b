"""Large studies: the tables that grow are those of a small study, and memory does not grow with them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from coldiron.lamp.load import load_lamp
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.growing import GrowingTable
from coldiron.tables.tidy import csv_text, tidy, variants_text
from laboratory import case_of


def made_up(variants: int, supplies: tuple[float, ...] = (120.0,), first: int = 0) -> Iterator[FinishedCase]:
    """Cases with readings that nothing computed: 100 numbers, a text, a failure now and then."""
    bulb = load_lamp("pantry-bulb")
    for number in range(first, first + variants):
        name = "as found" if number == 0 else f"variant {number}, µ"
        for voltage_v in supplies:
            case = replace(case_of(bulb, "steady", voltage_v=voltage_v), variant=name)
            numbers = {f"reading_{n}_W": number + n / 7.0 for n in range(100)}
            found = CaseResult(
                {"light_A": 0.1 + number, **numbers, "weakest_part": "sinks, energy"}, {"steady": "* deck"}
            )
            yield FinishedCase(case, CaseResult({}, {}, Failure("gave up")) if number % 50 == 49 else found)


def write(folder: Path, done: list[FinishedCase], most: int) -> GrowingTable:
    with GrowingTable(folder) as table:
        for first in range(0, len(done), most):
            table.add(done[first : first + most])
    return table


@pytest.mark.parametrize("most", [1, 7, 60, 1000])
@pytest.mark.parametrize("supplies", [(120.0,), (108.0, 120.0, 132.0)])
def test_grown_tables_are_those_of_a_small_study(
    tmp_path: Path, most: int, supplies: tuple[float, ...]
) -> None:
    done = list(made_up(60, supplies))
    grown = write(tmp_path, done, most * len(supplies))
    whole = Results(done)
    assert (tmp_path / "readings.csv").read_text("utf-8") == csv_text(tidy(whole))
    assert (tmp_path / "variants.csv").read_text("utf-8") == variants_text(whole)
    assert grown.failed == len(supplies)
    table = pd.read_parquet(tmp_path / "readings.parquet")
    assert table["value"].dtype == "float64"
    assert table.equals(tidy(whole).astype(dict.fromkeys(("variant", "bench", "conditions", "reading"), str)))


def test_what_is_done_can_be_read_before_the_end(tmp_path: Path) -> None:
    done = list(made_up(20))
    with GrowingTable(tmp_path) as table:
        table.add(done[:10])
        assert len(pd.read_csv(tmp_path / "readings.csv")) == len(tidy(Results(done[:10])))
        table.add(done[10:])


def held(variants: int, folder: Path) -> int:
    """Most memory of a process that writes a study of made-up readings [KiB]."""
    ask = f"""
import resource, sys
sys.path[:0] = {sys.path!r}
from pathlib import Path
from coldiron.tables.growing import GrowingTable
from test_sweep_large import made_up
with GrowingTable(Path({str(folder)!r})) as table:
    for first in range(0, {variants}, 500):
        table.add(list(made_up(500, first=first)))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    return int(done.stdout)


def test_memory_does_not_grow_with_the_study(tmp_path: Path) -> None:
    assert held(4000, tmp_path) - held(1000, tmp_path) < 60_000


@pytest.mark.slow
def test_ten_thousand_variants_take_less_than_500_mb(tmp_path: Path) -> None:
    assert held(10_000, tmp_path) < 500_000
