"""Entry point: words of the command line to a command; failures to one line and an exit status."""

from __future__ import annotations

import contextlib
import gc
import importlib
import io
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from types import FrameType

from coldiron.cli.arguments import alone_help, parser
from coldiron.errors import ColdironError, NoWorkers

INTERRUPTED_STATUS = 130
"""128 and the number of the signal, as shells have it."""
USAGE_STATUS = 2
"""Nothing was asked for: a script whose word is empty must not pass."""
_ENDINGS = (signal.SIGTERM, signal.SIGHUP)
_LIGHT_START = {"PYDANTIC_DISABLE_PLUGINS": "__all__", "OPENBLAS_NUM_THREADS": "1"}
"""A command neither looks through all installed packages for plugins nor starts threads for sums it does not
do: 60 ms of processor time."""

_ended_by: list[int] = []


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0 done; 1 a reading moved or a limit broke (regress); 2 the files or the installation are wrong;
    3 some cases gave no answer; 130 interrupted, 143 terminated, 129 the terminal is gone.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot print Ω gets a question mark, not a traceback.
            stream.reconfigure(errors="replace")
    _ended_by.clear()
    try:
        with _ended_like_interrupts():
            try:
                return _run(words)
            finally:
                # A reader who has left is noticed here, and not when the interpreter ends.
                sys.stdout.flush()
    except ColdironError as failure:
        why = failure.__cause__
        # Of a worker that cannot start a person has to know what to install, and not that it is a worker.
        say_error(
            str(why) if isinstance(failure, NoWorkers) and isinstance(why, ColdironError) else str(failure)
        )
        return failure.exit_status
    except KeyboardInterrupt as interrupt:
        say_error(f"interrupted: {interrupt}" if interrupt.args else "interrupted")
        return _interrupted_status()
    except BrokenPipeError:
        # The reader of a pipe has left; there is nobody to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as failure:
        say_error(
            f"{failure.filename or 'a file'}: expected to be readable or writable, but {failure.strerror}"
        )
        return _interrupted_status() if _ended_by else ColdironError.exit_status


def _run(words: Sequence[str] | None) -> int:
    given = list(sys.argv[1:] if words is None else words)
    whole = parser()
    alone = alone_help(whole, given)
    if alone:
        sys.stdout.write(alone)
        return USAGE_STATUS
    args = whole.parse_args(given)
    for name, value in _LIGHT_START.items():
        os.environ.setdefault(name, value)
    command = importlib.import_module(f"coldiron.cli.{args.command}")
    # Modules stay until the end: the garbage collector need not go through them, then least of all.
    gc.freeze()
    status: int = command.main(args)
    return status


@contextlib.contextmanager
def _ended_like_interrupts() -> Iterator[None]:
    """Whoever ends this process meanwhile gets what Ctrl-C gets: what is kept, in a line."""

    def end(number: int, frame: FrameType | None) -> None:
        for other in before:
            signal.signal(other, signal.SIG_IGN)  # once is enough: it ends as fast as it can
        _ended_by.append(number)
        raise KeyboardInterrupt

    before = {}
    if threading.current_thread() is threading.main_thread():
        # What is ignored already stays so: nohup means it.
        before = {number: signal.SIG_DFL for number in _ENDINGS if signal.getsignal(number) is signal.SIG_DFL}
    for number in before:
        signal.signal(number, end)
    try:
        yield
    finally:
        for number, handler in before.items():
            if not _ended_by:
                signal.signal(number, handler)


def _interrupted_status() -> int:
    return 128 + _ended_by[0] if _ended_by else INTERRUPTED_STATUS


def say_error(text: str) -> None:
    """Print to standard error, if anybody is there."""
    with contextlib.suppress(OSError):
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()
