"""A worker pool on a cluster: the same tasks on the workers of a Dask scheduler, anywhere on a network.

A worker of the cluster runs nothing of a task itself. It keeps a local pool with a process for each of its
threads; what crashes or runs over its deadline ends a process of that pool, and neither the worker nor the
scheduler hears of it. So nothing of theirs has to be set for us, and others may use them at the same time.
A worker that is lost for reasons of its own has its tasks run again elsewhere, as the scheduler is set to.
"""

from __future__ import annotations

import contextlib
import importlib
import logging
import math
import os
import socket
import time
import urllib.parse
import warnings
from collections.abc import Callable, Iterator, Sequence
from queue import Empty, SimpleQueue
from typing import Any

from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import Lost, Outcome, Result, Task
from coldiron.errors import MissingCluster

CONNECT_S = 10.0
"""How long to look for a scheduler [s]."""
WORKERLESS_S = 10.0
"""How long to wait for its first worker, and to go on without any [s]."""
LOOK_EVERY_S = 1.0
LONGEST_GREETING = 2**20
"""Of a scheduler [bytes]; it has some hundred."""
IDLE_S = 60.0
"""How long the processes started for us on a worker stay when there is nothing to do [s]."""


class ClusterPool:
    """Workers of a scheduler.

    Parameters
    ----------
    address : str
        Of the scheduler, such as "tcp://10.0.0.5:8786" or "10.0.0.5:8786".
    identity : callable
        Names code and engine of the process it is called in. A worker of another identity is refused: it
        would answer with another program's numbers.
    start : callable, optional
        Runs once on each worker, in the process that its own workers are forked from.

    Raises
    ------
    MissingCluster
        If the address is none, whether or not there is anything to compute.
    """

    def __init__(
        self, address: str, identity: Callable[[], str], start: Callable[[], None] | None = None
    ) -> None:
        _place(address)
        self._address = address
        self._identity = identity
        self._start = start

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish.

        Raises
        ------
        MissingCluster
            If there is no scheduler or no worker, or a worker cannot compute what this process would.
        """
        client = _client(self._address)
        under_way: dict[str, tuple[int, Any]] = {}
        finished: SimpleQueue[Any] = SimpleQueue()
        upcoming = iter(range(len(tasks)))
        try:
            expected = self._identity()
            _check_workers(client, self._identity, expected)
            present = _Present(client)
            while True:
                # A short queue: results leave as they come, so memory does not grow with the number of tasks.
                while len(under_way) < 2 * present.threads + 1 and (i := next(upcoming, None)) is not None:
                    arguments = run, tasks[i], deadline_s(tasks[i]), self._start, self._identity, expected
                    future = client.submit(_run_there, *arguments, pure=False)
                    under_way[future.key] = i, future
                    future.add_done_callback(finished.put)
                if not under_way:
                    return
                try:
                    future = finished.get(timeout=LOOK_EVERY_S)
                except Empty:
                    present.look()
                else:
                    yield Outcome(under_way.pop(future.key)[0], _outcome(future))
        except _NobodyLeft as end:
            for i in [*(i for i, _ in under_way.values()), *upcoming]:
                yield Outcome(i, Lost(str(end)))
        finally:
            _leave(client, [future for _, future in under_way.values()])


class _NobodyLeft(Exception):
    """Nobody is there any more who could run a task."""


class _Present:
    """Who is there: the threads of all workers, looked at now and then."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._alone_since_s = math.inf
        self.threads = 1
        self.look()

    def look(self) -> None:
        """Count anew; raise `_NobodyLeft` when nobody has been there for a while."""
        if self._client.status != "running":
            raise _NobodyLeft("the scheduler of the cluster is gone")
        self.threads = sum(worker["nthreads"] for worker in _workers(self._client).values())
        now_s = time.monotonic()
        self._alone_since_s = math.inf if self.threads else min(self._alone_since_s, now_s)
        if now_s - self._alone_since_s > WORKERLESS_S:
            raise _NobodyLeft("no worker of the cluster is left")


def _client(address: str) -> Any:
    """Connect to a scheduler that has workers, or say in one line why that cannot be."""
    try:
        distributed = importlib.import_module("distributed")
    except ImportError:
        raise MissingCluster("a cluster needs the extra 'cluster': pip install 'coldiron[cluster]'") from None
    # What it has to say about lost workers is said by the outcomes.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    security = distributed.Security()
    _knock(address, security)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about versions: they are compared below
            client = distributed.Client(address, timeout=CONNECT_S, security=security, set_as_default=False)
    except Exception as error:  # noqa: BLE001  whatever it is, there is no cluster
        raise MissingCluster(f"no scheduler answers at {address}: {error or type(error).__name__}") from None
    try:
        _check_versions(client)
        client.wait_for_workers(1, timeout=WORKERLESS_S)
    except TimeoutError:
        client.close()
        raise MissingCluster(f"the scheduler at {address} has no workers") from None
    except BaseException:
        client.close()
        raise
    return client


def _knock(address: str, security: Any) -> None:
    """Find out at once whether a scheduler listens: the library itself looks for long, or waits for ever.

    A scheduler is the first to speak: it says the length of its greeting in eight bytes.
    """
    scheme, host, port = _place(address)
    tls = security.get_connection_args("client").get("ssl_context") if scheme == "tls" else None
    if scheme == "tls" and tls is None:
        raise MissingCluster(
            f"{address} needs certificates: name them in Dask's configuration (distributed.comm.tls)"
        )
    try:
        with socket.create_connection((host, port), timeout=CONNECT_S) as plain:
            heard = tls.wrap_socket(plain) if tls else plain
            greeting = heard.recv(8)
            heard.close()
    except OSError as error:
        why = error.strerror or error
        raise MissingCluster(f"no scheduler answers at {address}: {why}") from None
    if len(greeting) < 8 or int.from_bytes(greeting, "little") > LONGEST_GREETING:
        raise MissingCluster(f"no scheduler answers at {address}: what listens there is something else")


def _place(address: str) -> tuple[str, str, int]:
    """Scheme, host and port of an address.

    Raises
    ------
    MissingCluster
        If it is none.
    """
    scheme, _, place = address.rpartition("://")
    parts = urllib.parse.urlsplit(f"//{place}")
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    if scheme not in ("", "tcp", "tls") or not host or not port:
        raise MissingCluster(
            f'--cluster is "{address}": expected HOST:PORT, tcp://HOST:PORT or tls://HOST:PORT'
        )
    return scheme, host, port


def _check_versions(client: Any) -> None:
    """Refuse a cluster whose Dask or Python is another: what travels between them may not be understood."""
    told = client.get_versions(check=False)
    own = _versions(told["client"])
    workers = {f"worker {at}": one for at, one in told["workers"].items()}
    for who, one in {"the scheduler": told["scheduler"], **workers}.items():
        if one is not None and _versions(one) != own:
            raise MissingCluster(f"{who} has {_versions(one)}, and this is {own}: make them the same")


def _versions(told: Any) -> str:
    packages = told["packages"]
    python = ".".join(str(packages["python"]).split(".")[:2])
    return f"Dask {packages['distributed']} on Python {python}"


def _check_workers(client: Any, identity: Callable[[], str], expected: str) -> None:
    """Refuse workers that would compute something else than this process, or nothing."""
    for at, told in client.run(identity, on_error="return").items():
        if isinstance(told, BaseException):
            raise MissingCluster(f"worker {at} cannot run this program: {told or type(told).__name__}")
        if told != expected:
            raise MissingCluster(f"worker {at} {_ANOTHER}")


_ANOTHER = "has another engine or another version of this program: make them the same"


def _workers(client: Any) -> dict[str, Any]:
    workers: dict[str, Any] = client.scheduler_info(n_workers=-1)["workers"]
    return workers


def _outcome(future: Any) -> Any:
    """What a task gave, or what the cluster did to it."""
    if future.status == "finished":
        return future.result()
    if future.status != "error":
        return Lost("the scheduler of the cluster is gone")
    error = future.exception()
    if type(error).__name__ == "KilledWorker":
        return Lost("the workers of the cluster that had it were lost")
    return Lost.raised(error)


def _run_there(
    run: Callable[[Task], Result],
    task: Task,
    deadline_s: float,
    start: Callable[[], None] | None,
    identity: Callable[[], str],
    expected: str,
) -> Result | Lost:
    """Run a task in the local pool of a worker, which may have come after the others were looked at."""
    if identity() != expected:
        return Lost(f"the worker on {os.uname().nodename} {_ANOTHER}")
    worker = importlib.import_module("distributed").get_worker()
    try:
        pool = shared_pool(worker.state.nthreads, start, idle_s=IDLE_S)
        return pool.submit(run, task, deadline_s).result()
    except Exception as error:  # noqa: BLE001  whatever a task raises is its own loss
        return Lost.raised(error)


def _leave(client: Any, under_way: list[Any]) -> None:
    """Take back what waits; what was started for us on the workers ends by itself."""
    with contextlib.suppress(Exception):  # the cluster may be gone
        if client.status == "running":
            client.cancel(under_way, force=True)
    with contextlib.suppress(Exception):
        client.close()
