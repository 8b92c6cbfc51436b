"""A study that is killed, interrupted or cannot write takes up where it was, and ends with the same bytes."""

from __future__ import annotations

import os
import re
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
from hanging import HANG_S
from stopping import Point, words

pytestmark = pytest.mark.ngspice
STUDY = """
lamp = "pantry-bulb"
benches = ["switch-on", "steady", "surge", "unplug"]
[grid]
"reservoir.capacitance" = ["as found", "10 µF", "47 µF"]
"line_fusing.resistance" = ["as found", "22 Ω"]
"""
COMMAND = [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())"]
RUN = ("study", "bulbs.toml", "--no-pictures")
KEEP = "coldiron.sweep.cache:StoredCases.keep"
POINTS = (
    Point("coldiron.cli.running:run_in_batches"),
    Point("subprocess:Popen.__init__", after=True),
    Point("coldiron.engine.workers:ForkServer.fork", after=True),
    Point("coldiron.engine.workers:ForkServer.fork", 2),
    Point(KEEP),
    Point("coldiron.engine.store:Store._drop_oldest"),  # within a transaction
    Point(KEEP, 2, after=True),
    Point("coldiron.tables.files:_replace", 3),
    Point("coldiron.tables.run_folder:RunFolder._write"),
    Point("coldiron.tables.run_folder:RunFolder._write", 2),
)
"""From the first step of a study to the last."""


def start(
    folder: Path, *words: str, limit: Callable[[], None] | None = None, at: list[str] | None = None
) -> subprocess.Popen[str]:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bulbs.toml").write_text(STUDY)
    return subprocess.Popen(
        [*(at or [*COMMAND, *RUN]), *words],
        cwd=folder,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=limit,
    )


def finish(folder: Path, *words: str) -> str:
    process = start(folder, *words)
    said, complaints = process.communicate(timeout=HANG_S)
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


def gone(group: int) -> bool:
    """Whether every process of a group has ended by itself."""
    until = time.monotonic() + HANG_S
    while time.monotonic() < until:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    os.killpg(group, signal.SIGKILL)
    return False


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Results of a study that nothing happened to."""
    folder = tmp_path_factory.mktemp("undisturbed")
    finish(folder)
    return results(folder)


def stopped(folder: Path, point: Point, number: signal.Signals, *, group: bool = True) -> tuple[int, str]:
    """Exit status of a study that was sent a signal at a point, and its complaints; nothing outlives it."""
    process = start(folder, at=words(point, number, *RUN, group=group))
    _, complaints = process.communicate(timeout=HANG_S)
    assert gone(process.pid), "a worker outlives its study"
    return process.returncode, complaints


def test_killed_at_every_step_one_after_the_other(undisturbed: dict[str, bytes], tmp_path: Path) -> None:
    for point in POINTS:
        # The process alone: what it has started has to notice by itself.
        status, complaints = stopped(tmp_path, point, signal.SIGKILL, group=False)
        assert status == -signal.SIGKILL, f"{point} was not reached"
        assert "Traceback" not in complaints, point
    finish(tmp_path)
    assert results(tmp_path) == undisturbed


@pytest.mark.slow
@pytest.mark.parametrize("point", POINTS, ids=str)
def test_killed_once(undisturbed: dict[str, bytes], tmp_path: Path, point: Point) -> None:
    assert stopped(tmp_path, point, signal.SIGKILL)[0] == -signal.SIGKILL
    finish(tmp_path)
    assert results(tmp_path) == undisturbed


@pytest.mark.parametrize(
    ("number", "point"),
    [
        (signal.SIGINT, Point(KEEP, 2)),
        (signal.SIGTERM, Point(KEEP, 2)),
        (signal.SIGHUP, Point(KEEP, 2)),
        (signal.SIGINT, Point("subprocess:Popen.__init__", after=True)),
        (signal.SIGTERM, Point("subprocess:Popen.__init__", after=True)),
        (signal.SIGTERM, Point("coldiron.tables.files:_replace", 3)),
    ],
    ids=str,
)
def test_interrupted(
    undisturbed: dict[str, bytes], tmp_path: Path, number: signal.Signals, point: Point
) -> None:
    status, complaints = stopped(tmp_path, point, number)
    assert status == 128 + number
    [line] = complaints.strip().splitlines()
    if "_replace" in point.place:
        assert line.startswith("interrupted: all ")
    else:
        kept = "[1-9] of" if point.place == KEEP else "0 of"
        assert re.match(rf"interrupted: {kept} \d+ cases are kept in results/\.store; the same command", line)
    finish(tmp_path)
    assert results(tmp_path) == undisturbed


@pytest.mark.parametrize("point", [Point(KEEP), *POINTS[-3:-1]], ids=str)
def test_an_interrupted_run_leaves_the_finished_one(
    undisturbed: dict[str, bytes], tmp_path: Path, point: Point
) -> None:
    finish(tmp_path)
    process = start(tmp_path, "--fresh", at=words(point, signal.SIGTERM, *RUN))
    process.communicate(timeout=HANG_S)
    found = results(tmp_path)
    if process.returncode == 0:  # within the last step the run is through before it ends
        assert "_write" in point.place
    else:
        assert process.returncode == 128 + signal.SIGTERM
    assert found == undisturbed


def test_two_studies_at_once_on_one_store(undisturbed: dict[str, bytes], tmp_path: Path) -> None:
    folders = [tmp_path / "one", tmp_path / "other"]
    both = [start(folder, "--store", str(tmp_path / "shared")) for folder in folders]
    for process in both:
        _, complaints = process.communicate(timeout=HANG_S)
        assert (process.returncode, complaints.strip()) == (0, "")
    assert [results(folder) for folder in folders] == [undisturbed] * 2


@pytest.mark.parametrize("limit_kib", [20, pytest.param(60, marks=pytest.mark.slow), 120])
def test_a_disk_that_is_full_for_the_store_only_costs_the_store(
    undisturbed: dict[str, bytes], tmp_path: Path, limit_kib: int
) -> None:
    # The decks and tables of this study are each smaller than 20 KiB, the store grows beyond.
    largest = max(len(content) for content in undisturbed.values())

    def limit() -> None:
        most = 1024 * limit_kib
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    process = start(tmp_path, limit=limit)
    said, complaints = process.communicate(timeout=HANG_S)
    assert "Traceback" not in complaints
    assert "going on without it" in complaints
    if 1024 * limit_kib > largest:
        assert process.returncode == 0
        assert results(tmp_path) == undisturbed
    else:
        assert process.returncode == 2
        assert "no file is written" in complaints.splitlines()[-1]
        assert "Mains can kill" in said, "the table is shown all the same"
    finish(tmp_path)
    assert results(tmp_path) == undisturbed


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
