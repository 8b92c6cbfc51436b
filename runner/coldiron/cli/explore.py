"""`coldiron explore`: a page on this machine, until Ctrl-C."""

from __future__ import annotations

import argparse
import contextlib
import secrets
import socket
import sys

import uvicorn

from coldiron.cli.arguments import CAUTION
from coldiron.cli.main import say_error
from coldiron.engine.local_pool import shared_pool
from coldiron.errors import FileProblems, Problem
from coldiron.lamp.load import lamp_from
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.live.app import Opened, application
from coldiron.live.guard import LARGEST_BODY_BYTES, Guard
from coldiron.live.work import start
from coldiron.resources import resource_dir
from coldiron.study.load import is_lamp, make_study, study_from
from coldiron.study.model import USUAL_BENCHES
from coldiron.sweep.worker import engine_version
from coldiron.tables.files import file_stem

LOOPBACK = "127.0.0.1"
_LINES_BYTES = 65_536
_MOST_CONNECTIONS = 64


def main(args: argparse.Namespace) -> int:
    """Serve the page of a lamp or a study until Ctrl-C, which ends it as it ends every command."""
    opened = asked_for(args.file)
    # The crew is there before the server and its threads; the first hand need not wait for the engine.
    pool = shared_pool(args.workers, start)
    engine = pool.submit(engine_version, None, 60.0).result()
    listening = _listening(args.port)
    port = listening.getsockname()[1]
    token = secrets.token_urlsafe(18)
    app = Guard(application(opened, pool, args.store, say_error), token, port)
    said = (
        f"{opened.study.lamp.name}, answered by {engine} on this machine:\n\n"
        f"  http://{LOOPBACK}:{port}/{token}/\n\n"
        f"Open it in a browser; Ctrl-C ends it. {CAUTION}\n"
    )
    server = _Server(
        said,
        uvicorn.Config(
            app,
            log_level="critical",
            access_log=False,
            server_header=False,
            date_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=1,
            timeout_keep_alive=30,
            h11_max_incomplete_event_size=_LINES_BYTES + LARGEST_BODY_BYTES,
            limit_concurrency=_MOST_CONNECTIONS,
            http="h11",
            ws="none",
        ),
    )
    with listening, contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    # Nothing but a signal ends it; whether it arrives here as one is a matter of microseconds.
    raise KeyboardInterrupt(f"the page is closed; its finished cases are in {args.store}")


class _Server(uvicorn.Server):
    """Says its address once it listens and hears signals: one that comes while it starts may get lost."""

    def __init__(self, said: str, config: uvicorn.Config) -> None:
        super().__init__(config)
        self._said = said

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say it."""
        await super().startup(sockets=sockets)
        sys.stdout.write(self._said)
        sys.stdout.flush()


def asked_for(path_or_name: str) -> Opened:
    """A study, or the study of a lamp alone, and how a study file would name that lamp.

    Raises
    ------
    FileProblems
        With everything that is wrong with it.
    """
    path = find_file(path_or_name, "studies", "lamps")
    table = read_toml(path)
    if not is_lamp(table):
        return Opened(study_from(table, path), str(table["lamp"]), CAUTION)
    lamp = lamp_from(table, path)
    is_shipped = path.parent == resource_dir("variants") / "lamps"
    study = make_study(lamp, name=file_stem(path.stem), benches=list(USUAL_BENCHES))
    return Opened(study, path.stem if is_shipped else path.name, CAUTION)


def _listening(port: int) -> socket.socket:
    """Socket on loopback, and nowhere else.

    Raises
    ------
    FileProblems
        If somebody has the port.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((LOOPBACK, port))
        listening.listen(_MOST_CONNECTIONS)
    except OSError as error:
        listening.close()
        expected = f"a port of {LOOPBACK} that is free ({error.strerror})"
        raise FileProblems([Problem("--port", "", str(port), expected)]) from None
    return listening
