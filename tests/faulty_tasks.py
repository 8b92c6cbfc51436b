"""Tasks that do as told, or crash, hang and lose their worker: importable where workers run them."""

from __future__ import annotations

import os
import signal
import time


def double(task: int) -> int:
    return 2 * task


def crash_on_3(task: int) -> int:
    if task == 3:
        os.abort()
    return task


def hang_on_3(task: int) -> int:
    if task == 3:
        time.sleep(600.0)
    return task


def die_once(task: tuple[str, int]) -> int:
    """Take the worker away the first time, as a lost machine would."""
    marker, number = task
    if number == 1 and not os.path.exists(marker):  # noqa: PTH110
        with open(marker, "w"):  # noqa: PTH123
            os.kill(os.getpid(), signal.SIGKILL)
    return number


def name_of(parent: int) -> str:
    """Differ between the process of this number and all others."""
    return "mine" if os.getpid() == parent else "another"
