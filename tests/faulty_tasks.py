"""Tasks that do as told, or crash, hang and lose their worker: importable where workers run them."""

from __future__ import annotations

import errno
import os
import resource
import signal
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from coldiron.benches import BENCHES
from coldiron.benches.base import BenchResult, Case
from coldiron.deck.deck import Deck
from coldiron.engine.pool import RETIRED_EXIT_STATUS
from coldiron.engine.waves import Waveforms
from coldiron.errors import MissingEngine, NoConvergence, SimulationFailed
from coldiron.sweep import worker
from hanging import HANG_S


def be_ready() -> None:
    """Start of a pool whose workers have this module before their first task."""


def fail_to_start() -> None:
    raise MissingEngine("none here")


def double(task: int) -> int:
    return 2 * task


def meet(task: tuple[str, int]) -> int:
    """Say which process this is when as many as are asked for are in a task at once."""
    folder, processes = task
    (Path(folder) / str(os.getpid())).touch()
    while len(list(Path(folder).iterdir())) < processes:
        time.sleep(0.001)
    return os.getpid()


def crash_on_3(task: int) -> int:
    if task == 3:
        os.abort()
    return task


class Unpicklable(Exception):
    """An exception that cannot be made again from what it was printed as."""

    def __init__(self, one: int, other: int) -> None:
        super().__init__(f"{one} and {other}")


def raise_on_3(task: int) -> int:
    if task == 3:
        raise ValueError("three")
    if task == 4:
        raise Unpicklable(3, 4)
    return task


def hang_on_3(task: int) -> int:
    if task == 3:
        hang()
    return task


def hang_s(task: int) -> float:
    """Deadlines for these: the others have all the time of a busy machine."""
    return 1.0 if task == 3 else HANG_S


def hang() -> None:
    """Never end."""
    while True:
        signal.pause()


def die_once(task: tuple[str, int]) -> int:
    """Take the worker away the first time, as a lost machine would."""
    marker, number = task
    if number == 1 and not os.path.exists(marker):  # noqa: PTH110
        with open(marker, "w"):  # noqa: PTH123
            os.kill(os.getpid(), signal.SIGKILL)
    return number


def kill_once(task: tuple[str, int | None, int]) -> int:
    """End another process the first time, or the one that this worker's pool belongs to."""
    marker, victim, number = task
    if not Path(marker).exists():
        Path(marker).touch()
        parents = Path(f"/proc/{os.getppid()}/stat").read_text().rpartition(")")[2].split()
        os.kill(victim or int(parents[1]), signal.SIGKILL)
        hang()
    return number


def fail_to_name(parent: int) -> str:
    """Have a name in the process of this number, and no engine in all others."""
    if os.getpid() != parent:
        raise MissingEngine("no engine here")
    return "mine"


def name_of(parent: int) -> str:
    """Differ between the process of this number and all others."""
    return "mine" if os.getpid() == parent else "another"


def run_unguarded(deck: Deck) -> Waveforms:
    """Run a deck past the guard, to see what the engine's own proofs are worth."""
    session = worker._this_session()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("coldiron.engine.session.check_deck", lambda text: None)
        return session.run(deck)


def attempt(deck: Deck) -> str:
    """Say how an unguarded run went."""
    try:
        waves = run_unguarded(deck)
    except SimulationFailed as failure:
        return type(failure).__name__
    return f"{waves['v(out)'][-1]:.4f}"


def spent(task: None) -> bool:
    """Whether the engine of this worker has given up on itself."""
    session = worker._session
    return session is None or session.spent


def memory_kib(task: None) -> float:
    """Resident memory of this worker [KiB]."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1024


def open_files(task: None) -> list[str]:
    """Try to make a file here, elsewhere, and in a folder of everyone; list what it came to."""
    said = []
    for name in ("here.txt", "/tmp/coldiron-canary.txt"):
        try:
            with open(name, "w") as file:  # noqa: PTH123
                file.write("x")
            said.append(f"wrote {name}")
        except OSError as error:
            said.append(errno.errorcode[error.errno or 0])
        finally:
            Path(name).unlink(missing_ok=True)
    return said


def retire_once(task: tuple[str, int]) -> int:
    """Leave as a worker with a spent engine does, the first time."""
    marker, number = task
    if number == 2 and not Path(marker).exists():
        Path(marker).touch()
        os._exit(RETIRED_EXIT_STATUS)
    return number


def retire_always(marker: str) -> None:
    """Leave as a worker with a spent engine does, every time; count in a file."""
    with Path(marker).open("a") as file:
        file.write("x")
    os._exit(RETIRED_EXIT_STATUS)


def process_id(task: None) -> int:
    return os.getpid()


def threads(task: None) -> int:
    return len(list(Path("/proc/self/task").iterdir()))


def working_folder(task: None) -> tuple[str, list[str]]:
    return str(Path.cwd()), sys.path


def busy_until(gate: str) -> str:
    """Run until a file is there; say in another that it has begun."""
    if gate:
        Path(f"{gate}.begun").touch()
        while not Path(gate).exists():
            time.sleep(0.001)
    return gate


def note(task: tuple[str, str]) -> None:
    """Add a word to a file."""
    log, word = task
    with Path(log).open("a") as file:
        file.write(f"{word} ")


class Unreadable:
    """A result that is sent, and cannot be read where it arrives."""

    def __reduce__(self) -> tuple[Any, tuple[str]]:
        """Make a number of what is none."""
        return int, ("no number",)


def strange(what: str) -> Any:
    """Do what a task never should, or say which process this one was forked from."""
    match what:
        case "exit":
            raise SystemExit(5)
        case "interrupt":
            raise KeyboardInterrupt
        case "unpicklable result":
            return lambda: None
        case "unreadable result":
            return Unreadable()
        case "close":
            os.closerange(3, 256)
        case "parent":
            return os.getppid()
        case "own":
            return os.getpid()
    return "done"


class StubbornLab(worker.SessionSimulator):
    """A lab whose engine gives up on decks with certain words."""

    refused: tuple[str, ...] = ()

    def run(self, deck: Deck) -> Waveforms:
        """Run a deck, or give up on it."""
        if any(words in deck.text for words in self.refused):
            raise NoConvergence("stopped at 0 s", "timestep too small")
        return super().run(deck)


def take_stubbornly(case: Case, refused: tuple[str, ...]) -> BenchResult:
    """Take a bench's readings while the engine gives up on decks with certain words."""
    lab = StubbornLab(worker._this_session())
    lab.refused = refused
    found = BENCHES[case.bench].take(case, lab)
    return BenchResult(found.readings, {}, {}, found.how_run)
