"""Entry point: words of the command line to a command; failures to one line and an exit status."""

from __future__ import annotations

import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence

from coldiron.cli.arguments import parser
from coldiron.errors import ColdironError

INTERRUPTED_STATUS = 130
_LIGHT_START = {"PYDANTIC_DISABLE_PLUGINS": "__all__", "OPENBLAS_NUM_THREADS": "1"}
"""A command neither looks through all installed packages for plugins nor starts threads for sums it does not
do: 60 ms of processor time."""


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0 done; 1 a reading moved or a limit broke (regress); 2 the files or the installation are wrong;
    3 some cases gave no answer; 130 interrupted.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot print Ω gets a question mark, not a traceback.
            stream.reconfigure(errors="replace")
    args = parser().parse_args(words)
    for name, value in _LIGHT_START.items():
        os.environ.setdefault(name, value)
    try:
        command = importlib.import_module(f"coldiron.cli.{args.command}")
        # Modules stay until the end: the garbage collector need not go through them, then least of all.
        gc.freeze()
        status: int = command.main(args)
    except ColdironError as failure:
        say_error(str(failure))
        return failure.exit_status
    except KeyboardInterrupt as interrupt:
        say_error(f"interrupted: {interrupt}" if interrupt.args else "interrupted")
        return INTERRUPTED_STATUS
    except BrokenPipeError:
        # The reader of a pipe has left; there is nobody to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as failure:
        say_error(
            f"{failure.filename or 'a file'}: expected to be readable or writable, but {failure.strerror}"
        )
        return ColdironError.exit_status
    return status


def say_error(text: str) -> None:
    """Print to standard error."""
    sys.stderr.write(f"{text}\n")
