"""The key of a stored case: all that a case runs through is in it, and no name that people give."""

from __future__ import annotations

import importlib.metadata
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

import worker_probe
from coldiron.benches import BENCHES
from coldiron.benches.base import Case
from coldiron.engine.local_pool import LocalPool, shared_pool
from coldiron.engine.store import FILE_NAME, Store
from coldiron.lamp.load import load_lamp
from coldiron.resources import resource_dir
from coldiron.study.disturbances import Leakage
from coldiron.sweep import code
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.keys import case_key
from coldiron.sweep.run import run_cases
from coldiron.sweep.worker import Work, run_work, start_worker
from hanging import HANG_S
from laboratory import case_of

pytestmark = pytest.mark.ngspice


class Ran(NamedTuple):
    """What a worker had imported and opened when every bench had run in it, and what they gave."""

    modules: list[str]
    files: list[Path]
    found: list[tuple[Case, CaseResult]]


@pytest.fixture(scope="module")
def ran() -> Ran:
    lamp = load_lamp("kerbside-flood")
    cases = [case_of(lamp, bench, leakage=Leakage(capacitance_f=1e-9)) for bench in BENCHES]
    with LocalPool(1, start_worker) as pool:
        pool.submit(worker_probe.listen, None, HANG_S).result()
        found = pool.submit(run_work, Work(tuple(cases), keep_waves=True), HANG_S).result()
        assert [one.failure or one.not_applicable for one in found if one.failure or one.not_applicable] == []
        modules = pool.submit(worker_probe.imported, None, HANG_S).result()
        opened = pool.submit(worker_probe.opened, None, HANG_S).result()
    return Ran(modules, [Path(name) for name in opened], list(zip(cases, found, strict=True)))


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package, to be touched."""
    copy = tmp_path_factory.mktemp("copy") / "coldiron"
    shutil.copytree(code.PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    return copy


def test_a_change_of_any_module_that_a_worker_imports_moves_the_key(ran: Ran, package: Path) -> None:
    ours = [name for name in ran.modules if name.partition(".")[0] == "coldiron"]
    # The pool's own end of a worker hands tasks over, and decides nothing of them.
    ours = [name for name in ours if name != "coldiron.engine.fork_server"]
    assert {"coldiron.study.disturbances", "coldiron.parts.varistor", "coldiron.heat.network"} <= set(ours)
    before = code.digest_of(package)
    assert before == code.code_digest()
    still = []
    for name in ours:
        place = package.joinpath(*name.split(".")[1:])
        path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
        text = path.read_text(encoding="utf-8")
        path.write_text(f"{text}\n", encoding="utf-8")
        if code.digest_of(package) == before:
            still.append(name)
        path.write_text(text, encoding="utf-8")
    assert still == []


@pytest.mark.parametrize("name", ["cli/main.py", "tables/tidy.py", "readings/catalogue/kind.py"])
def test_a_change_of_what_only_shows_leaves_the_key(package: Path, name: str) -> None:
    before = code.digest_of(package)
    path = package / name
    text = path.read_text(encoding="utf-8")
    path.write_text(f"{text}\n", encoding="utf-8")
    assert code.digest_of(package) == before
    path.write_text(text, encoding="utf-8")


def test_every_library_that_a_worker_imports_is_in_the_key(ran: Ran) -> None:
    homes = importlib.metadata.packages_distributions()
    loaded = {home for name in ran.modules if "." not in name for home in homes.get(name, ())}
    # Where setuptools is installed, it hooks itself into every start of Python.
    loaded = {name.lower().replace("_", "-") for name in loaded} - {"coldiron", "setuptools"}
    assert {"numpy", "scipy", "jinja2", "pyspice", "pydantic"} <= loaded
    _, foreign = code.imported()
    # What pytest brings is not there: a worker does not import its caller.
    assert loaded - code.versions_of(foreign).keys() == set()


@pytest.mark.parametrize("library", ["numpy", "scipy", "jinja2", "pyspice", "pydantic-core", "markupsafe"])
def test_another_version_of_a_library_moves_the_key(
    package: Path, monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    before = code.digest_of(package)
    head = code._head

    def other(name: str) -> str:
        text = head(name)
        return text.replace("\nVersion: ", "\nVersion: 1!", 1) if name == library else text

    monkeypatch.setattr(code, "_head", other)
    assert code.digest_of(package) != before


def test_every_file_of_ours_that_a_worker_opens_is_in_the_key(ran: Ran) -> None:
    known = set(code.imported()[0].values()) | set(code.data_files())
    known |= set(resource_dir("netlists").rglob("*.cir.j2"))
    homes = (code.PACKAGE, resource_dir("netlists"), resource_dir("variants"))
    ours = [path for path in ran.files if any(path.is_relative_to(home) for home in homes)]
    assert any(path.name == "bench.cir.j2" for path in ours)
    assert [path for path in ours if path not in known and path.suffix != ".pyc"] == []


def test_what_every_bench_gives_is_kept_and_believed(ran: Ran, store: Store) -> None:
    """A store that doubted its own rows would compute those cases at every run."""
    cached = StoredCases(store)
    cached.keep(ran.found)
    for case, result in ran.found:
        back = cached.recall(case, with_waves=True)
        assert back is not None, case.bench
        assert replace(back, waves=None) == replace(result, waves=None)
        assert back.waves is not None
        assert result.waves is not None
        assert {label: row.keys() for label, row in back.waves.items()} == {
            label: row.keys() for label, row in result.waves.items()
        }
        for label, row in result.waves.items():
            assert all(np.array_equal(back.waves[label][name], row[name]) for name in row)


def test_a_deck_that_the_guard_refused_is_not_kept_to_be_refused_again(store: Store) -> None:
    case = case_of(load_lamp("pantry-bulb"), "unplug")
    refused = CaseResult({}, {"failed": "* a title\n.control\n.end\n"}, Failure("deck line 2: card .control"))
    StoredCases(store).keep([(case, refused)])
    assert StoredCases(store).recall(case, with_waves=False) is None


def test_a_program_that_changes_while_it_runs_keeps_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it computes has the name of its files, which are another program by now."""
    source = tmp_path / "law.py"
    source.touch()
    monkeypatch.setattr(code, "_files", lambda: (source,))
    monkeypatch.setattr(code, "_BEGAN_NS", source.stat().st_ctime_ns)
    case, found = case_of(load_lamp("pantry-bulb"), "unplug"), CaseResult({"bus_mean_V": 1.0}, {})
    said: list[str] = []
    store = Store(tmp_path / "store", said.append)
    StoredCases(store).keep([(case, found)])
    other = replace(case, bench="steady")
    monkeypatch.setattr(code, "_BEGAN_NS", source.stat().st_ctime_ns - 1)
    for _ in range(2):
        StoredCases(store).keep([(other, found)])
    store.close()
    assert said == [
        f"store {tmp_path / 'store' / FILE_NAME}: the program has been changed since it was started; "
        "going on without it"
    ]
    store = Store(tmp_path / "store", pytest.fail)
    assert StoredCases(store).recall(case, with_waves=False) == found
    assert StoredCases(store).recall(other, with_waves=False) is None
    source.unlink()
    assert code.has_changed()
    store.close()


def test_names_are_no_part_of_the_key() -> None:
    lamp = load_lamp("pantry-bulb")
    case = case_of(lamp, "steady")
    other = lamp.model_copy(update={"name": "another", "note": "from the attic"})
    for same in (replace(case, study="x"), replace(case, variant="x"), replace(case, lamp=other)):
        assert case_key(same) == case_key(case)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    kept = Store(tmp_path, lambda line: pytest.fail(line))
    yield kept
    kept.close()


def test_equal_circuits_share_a_case_and_each_deck_has_its_own_names(store: Store) -> None:
    lamp = load_lamp("pantry-bulb")
    case = case_of(lamp, "unplug")
    named = replace(case, study="other", variant="twin", lamp=lamp.model_copy(update={"name": "Cellar"}))

    class Counting:
        runs = 0

        def run_all(self, run: Any, works: Any, deadline_s: Any) -> Iterator[Any]:
            self.runs += sum(len(work.cases) for work in works)
            return shared_pool(1, start_worker).run_all(run, works, deadline_s)

    pool = Counting()
    [one, twin] = run_cases([case, named], pool, cache=StoredCases(store))
    [later] = run_cases([replace(named, variant="third")], pool, cache=StoredCases(store))
    assert pool.runs == 1
    assert one.result.readings == twin.result.readings == later.result.readings
    assert one.result.decks == later.result.decks
    [label, *_] = twin.decks
    assert twin.decks[label].splitlines()[1:4] == ["* lamp    Cellar", "* study   other", "* variant twin"]
    assert later.decks[label].splitlines()[3] == "* variant third"
