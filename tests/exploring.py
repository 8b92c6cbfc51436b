"""`coldiron explore` as a person starts it: a process of its own, its address, what its page says."""

from __future__ import annotations

import http.client
import json
import re
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from urllib.parse import quote, urlsplit

from browser import Browser

PATIENCE_S = 60.0


class Explorer:
    """The server of one lamp or study; ends with the block."""

    def __init__(self, file: str, folder: Path, port: int = 0) -> None:
        self._file, self._folder, self._port = file, folder, port

    def __enter__(self) -> Self:
        """Start it and wait for its address."""
        ask = "import sys; from coldiron.cli.main import main; sys.exit(main())"
        command = ["explore", self._file, "--port", str(self._port), "--store", str(self._folder / "store")]
        self.process = subprocess.Popen(
            [sys.executable, "-c", ask, *command],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=self._folder,
        )
        assert self.process.stdout is not None
        self.said = ""
        while not (found := re.search(r"http://\S+", self.said)):
            line = self.process.stdout.readline()
            assert line, self.process.stderr and self.process.stderr.read()
            self.said += line
        self.address = found.group()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End it."""
        self.end()

    def end(self) -> int:
        """Ctrl-C; returns the exit status."""
        if self.process.poll() is None:
            self.process.send_signal(2)
        self.process.communicate(timeout=30)
        return self.process.returncode

    @property
    def port(self) -> int:
        """Port it listens on."""
        port = urlsplit(self.address).port
        assert port is not None
        return port

    def ask(
        self, path: str, method: str = "GET", body: bytes | None = None, **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of a request below the token."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            given = {name.replace("_", "-"): value for name, value in headers.items()}
            connection.request(method, urlsplit(self.address).path + path, body, given)
            answer = connection.getresponse()
            return (
                answer.status,
                {name.lower(): value for name, value in answer.getheaders()},
                answer.read(),
            )
        finally:
            connection.close()

    def post(self, path: str, content: Any, **headers: str) -> tuple[int, Any]:
        """What the page's own posts get."""
        own = {"Origin": f"http://127.0.0.1:{self.port}", "Content_Type": "application/json"} | headers
        status, _, body = self.ask(path, "POST", json.dumps(content).encode(), **own)
        return status, body

    def open(self, browser: Browser, **words: Any) -> None:
        """Open its page in a state and wait until all has been told."""
        kept = {key: value if isinstance(value, str) else json.dumps(value) for key, value in words.items()}
        browser.driver.get("about:blank")
        browser.complaints()
        browser.requests()
        browser.driver.get(self.address + "#" + "&".join(f"{key}={quote(v)}" for key, v in kept.items()))
        settled(browser)


def wait_for(browser: Browser, script: str, *arguments: Any) -> Any:
    """Wait until an expression in the page is true, and return its value."""
    until = time.monotonic() + PATIENCE_S
    while not (value := browser.ask(script, *arguments)):
        assert time.monotonic() < until, (
            script,
            browser.ask("document.getElementById('state')?.textContent"),
        )
        time.sleep(0.05)
    return value


def settled(browser: Browser) -> None:
    """Wait until the newest hand has had all its answers."""
    wait_for(browser, "window.coldiron && coldiron.number > 0 && coldiron.ended === coldiron.number")


def drawn(browser: Browser) -> None:
    """Wait until the strips of the newest hand are painted."""
    wait_for(
        browser,
        "window.coldiron && coldiron.number > 0 && coldiron.painted.at(-1)?.[0] === coldiron.number",
    )


def eventually(said: Callable[[], bool]) -> None:
    """Wait until something holds."""
    until = time.monotonic() + PATIENCE_S
    while not said():
        assert time.monotonic() < until
        time.sleep(0.05)
