"""Large studies: the tables that grow are those of a small study, and memory does not grow with them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from coldiron.answer.answer import Answer, answer
from coldiron.answer.front import front
from coldiron.answer.gathered import Gathered
from coldiron.answer.words import answer_lines
from coldiron.cli.large import BATCH_CASES, whole_variants
from coldiron.limits import judge
from coldiron.pictures.tradeoff import tradeoff
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.answer_files import rank_frame
from coldiron.tables.growing import GrowingTable
from coldiron.tables.tidy import csv_text, tidy, variants_text
from laboratory import case_of
from lamps import load_lamp
from weighing import Tried, finished, study_of


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
    with GrowingTable(folder, pytest.fail) as table:
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


def test_without_pyarrow_a_large_study_costs_one_line_and_one_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setattr("coldiron.tables.columnar.has_parquet", lambda: False)
    done, said = list(made_up(20)), list[str]()
    with GrowingTable(tmp_path, pytest.fail, said.append) as table:
        table.add(done)
    [line] = said
    assert "pip install 'coldiron[parquet]'" in line
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "readings.csv",
        "variants.csv",
        "verdicts.csv",
    ]
    assert sorted(table.files) == sorted(tmp_path.iterdir())
    assert (tmp_path / "readings.csv").read_text("utf-8") == csv_text(tidy(Results(done)))


def test_what_is_done_can_be_read_before_the_end(tmp_path: Path) -> None:
    done = list(made_up(20))
    with GrowingTable(tmp_path, pytest.fail) as table:
        table.add(done[:10])
        assert len(pd.read_csv(tmp_path / "readings.csv")) == len(tidy(Results(done[:10])))
        table.add(done[10:])


def held(variants: int, folder: Path) -> int:
    """Most memory of a process that writes a study of made-up readings [KiB]."""
    ask = f"""
import resource, sys
sys.path[:0] = {sys.path!r}
from pathlib import Path
from coldiron.answer.gathered import Gathered
from coldiron.limits import judge
from coldiron.tables.growing import GrowingTable
from test_sweep_large import made_up, study_of
from weighing import Tried
names = ["as found", *(f"variant {{n}}, µ" for n in range(1, {variants}))]
study = study_of([Tried(name, {{"steady": {{}}}}) for name in names])
gathered = Gathered(study)
with GrowingTable(Path({str(folder)!r}), print) as table:
    for first in range(0, {variants}, 500):
        done = list(made_up(500, first=first))
        verdicts = judge(study, done)
        gathered.add(table.add(done, verdicts), verdicts)
assert len(gathered.candidates) == {variants}
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    return int(done.stdout)


def weighed(study: Study, done: list[FinishedCase], most: int) -> Answer:
    """Answer of a study that is weighed in batches of so many cases."""
    gathered = Gathered(study)
    found = [one for one in done if one.case.variant == AS_FOUND]
    for first in range(0, len(done), most):
        batch = done[first : first + most]
        gathered.add(Results([*found, *batch] if first else batch), judge(study, batch))
    return gathered.answer()


def test_an_answer_in_batches_is_that_of_all_at_once() -> None:
    # Flicker falls as the sinks' watts rise, with a bump: every fifth is beaten in both.
    tried = [Tried(benches={"steady": {"svm": 5.0, "sinks_W": 5.0, "flicker_pct": 100.0}})] + [
        Tried(
            f"v{n}", {"steady": {"svm": 4.0 - n / 20 + (n % 5 == 0), "sinks_W": 5.0 + n / 10 + (n % 5 == 0)}}
        )
        for n in range(1, 60)
    ]
    study, done = study_of(tried, ["steady light", "cool sinks"]), finished(tried)
    whole = answer(study, Results(done), judge(study, done))
    for most in (1, 7, 1000):
        said = weighed(study, done, most)
        assert answer_lines(said) == answer_lines(whole)
        assert rank_frame(said).equals(rank_frame(whole))
        trade = front(said)
        assert trade is not None
        best = [one.candidate.number for one in trade.variants]
        assert [trade.across.reading, trade.up.reading] == ["sinks_W", "svm"]
        assert best == [0, *(n for n in range(1, 60) if n % 5)]
        assert "Nothing beats in both: 0" in tradeoff(trade, "by hand").alt


def test_batches_part_no_variant() -> None:
    cases = [one.case for one in made_up(3, (108.0, 120.0, 132.0))]
    assert whole_variants(cases) % 3 == 0
    assert whole_variants(cases[:1]) == BATCH_CASES


def test_memory_does_not_grow_with_the_study(tmp_path: Path) -> None:
    assert held(2000, tmp_path) - held(500, tmp_path) < 30_000  # 20 kB a variant


@pytest.mark.slow
def test_ten_thousand_variants_take_less_than_500_mb(tmp_path: Path) -> None:
    assert held(10_000, tmp_path) < 500_000
