"""A command that is sent a signal at a defined point: before or after the nth call of a function."""

from __future__ import annotations

import functools
import os
import pkgutil
import signal
import sys
from collections.abc import Callable
from typing import Any, NamedTuple


class Point(NamedTuple):
    """Where a command is stopped: `place` as module:function, `number` of the call."""

    place: str
    number: int = 1
    after: bool = False


def words(point: Point, number: signal.Signals, *command: str, group: bool = True) -> list[str]:
    """Command line that runs a command and sends it a signal at a point, as a terminal does to its group."""
    ask = (
        f"import sys; sys.path[:0] = {sys.path!r}; import stopping; "
        f"stopping.stop_at(stopping.{point!r}, {int(number)}, group={group}); "
        "from coldiron.cli.main import main; sys.exit(main())"
    )
    return [sys.executable, "-c", ask, *command]


def stop_at(point: Point, number: int, *, group: bool) -> None:
    """Let a function of this process send a signal to it."""
    # What starts the tests in the background may have let interrupts be ignored.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    owner_name, _, name = (
        point.place.rpartition(".")
        if "." in point.place.partition(":")[2]
        else (point.place.partition(":")[0], "", point.place.partition(":")[2])
    )
    owner = pkgutil.resolve_name(owner_name)
    inner: Callable[..., Any] = getattr(owner, name)
    calls = 0

    def strike() -> None:
        os.killpg(0, number) if group else os.kill(os.getpid(), number)

    @functools.wraps(inner)
    def outer(*args: Any, **more: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls == point.number and not point.after:
            strike()
        result = inner(*args, **more)
        if calls == point.number and point.after:
            strike()
        return result

    setattr(owner, name, outer)
