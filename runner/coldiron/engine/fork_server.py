"""The process that workers are forked from, and what a worker does.

It is started by an entry of its own and never imports the program that asked for it: a script without a main
guard, a notebook, a prompt or standard input are all the same to it. It imports everything once, opens the
engine once, and then does nothing but fork: a worker is ready in 2 ms. It has one thread, or a fork could
copy a lock that nobody will ever open.

Two things go over its socket, always as question and answer: `FORK`, with the worker's end of a connection,
is answered by the worker's process id; `REAP` and an id by the exit status. A worker stays a zombie until it
is asked for, so that its id means no other process while anyone may still send it a signal. When the socket
ends, so does everything here.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import pickle
import signal
import socket
import struct
import sys
import time
import traceback
from multiprocessing.connection import Connection
from typing import NoReturn

FORK, REAP = 1, 2
QUESTION = struct.Struct("!Bi")
ANSWER = struct.Struct("!i")
NO_FORK = -1
"""Answer when this machine gives no further process."""
LEAVING_S = 1.0
"""How long a worker that has closed its connection may take to end by itself [s]."""
_PR_SET_PDEATHSIG = 1


class RaisedElsewhere(Exception):
    """An exception of a task that cannot travel between processes: its name and what it said."""


def serve(start: str, ready: int, control: int) -> None:
    """Be the process that workers are forked from.

    Parameters
    ----------
    start : str
        Pickled callable in hexadecimal digits, or None: runs once here, before the first worker is forked.
    ready, control : int
        Descriptors of a connection that takes one answer, in the form of a task's, when the start is through;
        and of the socket of the questions.
    """
    said = Connection(ready)
    answer = None
    try:
        run = pickle.loads(bytes.fromhex(start))
        if run is not None:
            run()
        gc.collect()
        # What every worker shares stays shared: no collection goes through it, and copies its pages.
        gc.freeze()
    except BaseException as error:  # noqa: BLE001  all of it is for the one who asked
        answer = _raised(error)
    failed = answer is not None
    try:
        said.send_bytes(answer or pickle.dumps((None, None)))
        said.close()
    except OSError:
        failed = True  # who asked is gone
    if failed:
        return
    workers: set[int] = set()
    with socket.socket(fileno=control) as questions:
        while True:
            question, descriptors, _, _ = socket.recv_fds(questions, QUESTION.size, 1)
            if len(question) < QUESTION.size:
                break
            what, pid = QUESTION.unpack(question)
            if what == FORK:
                pid = _fork(descriptors[0], questions)
                workers |= {pid} - {NO_FORK}
                os.close(descriptors[0])
                questions.sendall(ANSWER.pack(pid))
            else:
                workers.discard(pid)
                questions.sendall(ANSWER.pack(_reap(pid)))
    for pid in workers:
        os.kill(pid, signal.SIGKILL)


def _fork(connection: int, questions: socket.socket) -> int:
    parent = os.getpid()
    try:
        pid = os.fork()
    except OSError:
        return NO_FORK
    if pid:
        return pid
    try:
        questions.close()
        if sys.platform == "linux":
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
        if os.getppid() == parent:
            _work(Connection(connection))
    finally:
        os._exit(1)


def _reap(pid: int) -> int:
    """Exit status of a worker that has closed its connection; the number of a signal is negative."""
    until = time.monotonic() + LEAVING_S
    ended, status = os.waitpid(pid, os.WNOHANG)
    while not ended and time.monotonic() < until:
        time.sleep(0.0005)
        ended, status = os.waitpid(pid, os.WNOHANG)
    if not ended:
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
    return os.waitstatus_to_exitcode(status)


def _work(connection: Connection) -> NoReturn:
    """Take tasks, give back what they return or raise, until there are no more."""
    with contextlib.suppress(EOFError, OSError):
        while True:
            content = connection.recv_bytes()
            try:
                run, task = pickle.loads(content)
                answer = pickle.dumps((run(task), None), pickle.HIGHEST_PROTOCOL)
            except BaseException as error:  # noqa: BLE001  whatever a task raises is its own answer
                answer = _raised(error)
            connection.send_bytes(answer)
    os._exit(0)


def _raised(error: BaseException) -> bytes:
    """Answer of a task that raised: the exception and its traceback, in a form that arrives."""
    words = "".join(traceback.format_exception(error))
    if isinstance(error, Exception):  # what ends a process here must not end the one that asked
        with contextlib.suppress(Exception):
            answer = pickle.dumps((None, (error, words)))
            pickle.loads(answer)
            return answer
    named = RaisedElsewhere("".join(traceback.format_exception_only(error)).strip())
    return pickle.dumps((None, (named, words)))
