"""A study that is killed, interrupted or cannot write takes up where it was, and ends with the same bytes."""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from coldiron.errors import CannotWrite
from coldiron.tables import files

pytestmark = pytest.mark.ngspice
STUDY = """
lamp = "pantry-bulb"
benches = ["switch-on", "steady", "surge", "unplug"]
[grid]
"reservoir.capacitance" = ["as found", "10 µF", "47 µF"]
"line_fusing.resistance" = ["as found", "22 Ω"]
"""
COMMAND = [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())", "study"]


def start(folder: Path, *words: str, limit: Callable[[], None] | None = None) -> subprocess.Popen[str]:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bulbs.toml").write_text(STUDY)
    return subprocess.Popen(
        [*COMMAND, "bulbs.toml", "--no-pictures", *words],
        cwd=folder,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=limit,
    )


def finish(folder: Path, *words: str) -> str:
    process = start(folder, *words)
    said, complaints = process.communicate(timeout=300)
    assert process.returncode == 0, complaints
    return said


def results(folder: Path) -> dict[str, bytes]:
    """Every file of the results but the store."""
    whole = folder / "results"
    return {
        str(path.relative_to(whole)): path.read_bytes()
        for path in sorted(whole.rglob("*"))
        if path.is_file() and ".store" not in path.parts
    }


def gone(group: int, within_s: float = 60.0) -> bool:
    """Whether every process of a group has ended by itself."""
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    os.killpg(group, signal.SIGKILL)
    return False


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, bytes], float]:
    """Results of a study that nothing happened to, and how long it took [s]."""
    folder = tmp_path_factory.mktemp("undisturbed")
    began = time.monotonic()
    finish(folder)
    return results(folder), time.monotonic() - began


def kill_and_finish(folder: Path, moments_s: list[float]) -> dict[str, bytes]:
    for moment_s in moments_s:
        process = start(folder)
        try:
            process.wait(timeout=moment_s)
        except subprocess.TimeoutExpired:
            process.kill()
        process.communicate()
        assert gone(process.pid), "a worker outlives its study"
    finish(folder)
    return results(folder)


def test_killed_at_random_moments(undisturbed: tuple[dict[str, bytes], float], tmp_path: Path) -> None:
    right, length_s = undisturbed
    moments = random.Random(0)
    assert kill_and_finish(tmp_path, [moments.uniform(0.1, length_s) for _ in range(5)]) == right


@pytest.mark.slow
@pytest.mark.parametrize("turn", range(10, 20))
def test_killed_at_many_random_moments(
    undisturbed: tuple[dict[str, bytes], float], tmp_path: Path, turn: int
) -> None:
    right, length_s = undisturbed
    moments = random.Random(turn)
    assert kill_and_finish(tmp_path, [moments.uniform(0.1, length_s) for _ in range(5)]) == right


def test_interrupted(undisturbed: tuple[dict[str, bytes], float], tmp_path: Path) -> None:
    right, length_s = undisturbed
    process = start(tmp_path)
    time.sleep(0.7 * length_s)
    os.killpg(process.pid, signal.SIGINT)
    _, complaints = process.communicate(timeout=60)
    if process.returncode != 0:  # it may have been through already
        assert process.returncode == 130
        [line] = [line for line in complaints.splitlines() if "interrupted" in line]
        assert "Traceback" not in complaints
        assert line == "interrupted" or "cases are kept in results/.store" in line
    assert gone(process.pid)
    finish(tmp_path)
    assert results(tmp_path) == right


def test_two_studies_at_once_on_one_store(
    undisturbed: tuple[dict[str, bytes], float], tmp_path: Path
) -> None:
    folders = [tmp_path / "one", tmp_path / "other"]
    both = [start(folder, "--store", str(tmp_path / "shared")) for folder in folders]
    for process in both:
        _, complaints = process.communicate(timeout=300)
        assert (process.returncode, complaints.strip()) == (0, "")
    assert [results(folder) for folder in folders] == [undisturbed[0]] * 2


@pytest.mark.parametrize("limit_kib", [20, pytest.param(60, marks=pytest.mark.slow), 120])
def test_a_disk_that_is_full_for_the_store_only_costs_the_store(
    undisturbed: tuple[dict[str, bytes], float], tmp_path: Path, limit_kib: int
) -> None:
    # The decks and tables of this study are each smaller than 20 KiB, the store grows beyond.
    largest = max(len(content) for content in undisturbed[0].values())

    def limit() -> None:
        most = 1024 * limit_kib
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    process = start(tmp_path, limit=limit)
    _, complaints = process.communicate(timeout=300)
    assert "Traceback" not in complaints
    assert "going on without it" in complaints
    if 1024 * limit_kib > largest:
        assert process.returncode == 0
        assert results(tmp_path) == undisturbed[0]
    else:
        assert process.returncode == 2
        assert "cannot write" in complaints.splitlines()[-1]
    finish(tmp_path)
    assert results(tmp_path) == undisturbed[0]


@pytest.mark.parametrize("name", ["tempfile.mkstemp", "os.fdopen", "pathlib.Path.replace"])
def test_a_write_that_fails_leaves_the_file_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    path = tmp_path / "readings.csv"
    files.write_whole(path, "before\n")

    def fail(*words: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(name, fail)
    with pytest.raises(CannotWrite, match=r"readings\.csv: No space left on device"):
        files.write_whole(path, "after\n")
    assert path.read_text() == "before\n"
    assert list(tmp_path.iterdir()) == [path]
