"""Worker processes of this machine, seen from the process that uses them: started, spoken to, ended."""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from multiprocessing import connection
from typing import Any

from coldiron.engine.fork_server import ANSWER, FORK, NO_FORK, QUESTION, REAP
from coldiron.errors import NoWorkers

_ENTRY = """import sys
sys.path[:] = {path!r}
from coldiron.engine.fork_server import serve
serve({start!r}, {ready}, {control})"""
_ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""A worker has a core for itself, and the process it is forked from must have one thread."""


class Worker:
    """One worker process and the connection to it.

    Its process id stays its own until `buried`, so that `kill` can never reach another process.
    """

    def __init__(self, pid: int, parent: subprocess.Popen[bytes], ours: connection.Connection) -> None:
        self.pid = pid
        self.parent = parent
        self._connection = ours
        self._alive = True

    def fileno(self) -> int:
        """Descriptor that can be read when an answer is there, or the worker is gone."""
        return self._connection.fileno()

    def send(self, content: bytes) -> None:
        """Hand over a task.

        Raises
        ------
        OSError
            If the worker is gone.
        """
        self._connection.send_bytes(content)

    def receive(self) -> bytes:
        """Take an answer.

        Raises
        ------
        EOFError, OSError
            If the worker is gone.
        """
        return self._connection.recv_bytes()

    def kill(self) -> None:
        """End the process, whatever it does."""
        if self._alive:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGKILL)

    def buried(self) -> None:
        """Forget the process."""
        self._alive = False
        self._connection.close()


class ForkServer:
    """The process that workers are forked from (`fork_server`), started when it is first needed.

    Parameters
    ----------
    start : callable, optional
        Runs once in it, before the first fork. It is importable by its name.
    """

    def __init__(self, start: Callable[[], None] | None = None) -> None:
        self._start = pickle.dumps(start).hex()
        self._process: subprocess.Popen[bytes] | None = None
        self._control: socket.socket | None = None

    def fork(self) -> Worker | None:
        """Make a worker, or None when this machine has no room for another process.

        Raises
        ------
        NoWorkers
            If the process to fork from cannot be started.
        """
        if self._process is not None and self._process.poll() is not None:
            self.close()  # it was ended by someone else: another takes its place
        if self._control is None:
            self._open()
        assert self._process is not None
        ours, theirs = connection.Pipe()
        with theirs:
            pid = self._ask(FORK, 0, theirs.fileno())
        if pid == NO_FORK:
            ours.close()
            return None
        return Worker(pid, self._process, ours)

    def bury(self, worker: Worker) -> int | None:
        """Forget a worker that has ended or is about to; returns its exit status where it can be known."""
        try:
            return self._ask(REAP, worker.pid) if worker.parent is self._process else None
        except NoWorkers:
            return None
        finally:
            worker.buried()

    def close(self) -> None:
        """End the process, and with it every worker forked from it."""
        if self._control is not None:
            self._control.close()
            self._control = None
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def _ask(self, what: int, pid: int, *descriptors: int) -> int:
        question = QUESTION.pack(what, pid)
        try:
            if self._control is None:
                raise ConnectionError
            if descriptors:
                socket.send_fds(self._control, [question], descriptors)
            else:
                self._control.sendall(question)
            answer = self._control.recv(ANSWER.size, socket.MSG_WAITALL)
        except OSError:
            answer = b""
        if len(answer) < ANSWER.size:
            self.close()
            raise NoWorkers("the process that workers are forked from is gone")
        status: int = ANSWER.unpack(answer)[0]
        return status

    def _open(self) -> None:
        ours, theirs = socket.socketpair()
        hears, says = connection.Pipe(duplex=False)
        entry = _ENTRY.format(
            # "" means the working folder, which a worker leaves.
            path=[os.path.abspath(place) for place in sys.path],  # noqa: PTH100  "" has no Path
            start=self._start,
            ready=says.fileno(),
            control=theirs.fileno(),
        )
        with theirs, says, hears:
            try:
                self._process = subprocess.Popen(
                    # -P: CPython 3.13.0 looks for the working folder at a missing attribute of a module, and
                    # fails without an exception when that folder is gone, if the path began with "".
                    [sys.executable, "-P", "-c", entry],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    pass_fds=(says.fileno(), theirs.fileno()),
                    env=os.environ | _ONE_THREAD,
                )
                says.close()
                _, failure = unpacked(hears.recv_bytes())
            except (OSError, EOFError) as error:
                failure = error, ""
        self._control = ours
        if failure is not None:
            self.close()
            why = failure[0]
            raise NoWorkers(f"no worker process can be started: {why or type(why).__name__}") from why


def unpacked(content: bytes) -> tuple[Any, tuple[BaseException, str] | None]:
    """Result of a task, or the exception it raised and its traceback."""
    result, failure = pickle.loads(content)
    return result, failure
