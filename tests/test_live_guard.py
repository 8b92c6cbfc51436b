"""Who may ask the live page: RFC 6454 origins, RFC 9110 host, fetch metadata; on a real server."""

from __future__ import annotations

import hashlib
import http.client
import json
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from coldiron.live.guard import HEADERS, LARGEST_BODY_BYTES
from exploring import Explorer

pytestmark = pytest.mark.ngspice
PAGE = "abcdef0123456789"
HAND = {"page": PAGE, "number": 1, "task": {"bench": "steady"}}


@pytest.fixture(scope="module")
def bulb(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Explorer]:
    with Explorer("pantry-bulb", tmp_path_factory.mktemp("guard")) as explorer:
        yield explorer


def test_it_listens_on_loopback_only(bulb: Explorer) -> None:
    assert urlsplit(bulb.address).hostname == "127.0.0.1"
    others = {str(each[4][0]) for each in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for other in others - {"127.0.0.1", "127.0.1.1"}:
        with pytest.raises(OSError, match="refused"):
            socket.create_connection((other, bulb.port), timeout=2).close()


def test_every_answer_carries_the_strict_policy(bulb: Explorer) -> None:
    for path in ("", "lamp", "page.js", "nothing"):
        _, headers, _ = bulb.ask(path)
        assert {name: headers.get(name) for name in HEADERS} == HEADERS
        assert "unsafe" not in headers["content-security-policy"]
        assert "server" not in headers


def test_without_the_token_there_is_nothing(bulb: Explorer) -> None:
    for path in ("/", "/lamp", "/wrong/", "/wrong/lamp", urlsplit(bulb.address).path[:-2] + "/"):
        connection = http.client.HTTPConnection("127.0.0.1", bulb.port, timeout=10)
        connection.request("GET", path)
        assert connection.getresponse().status == 404
        connection.close()


@pytest.mark.parametrize("path", ["../pyproject.toml", "..%2f..%2fpage.py", "vendor/", "%2e%2e/app.py"])
def test_no_other_file_can_be_asked_for(bulb: Explorer, path: str) -> None:
    assert bulb.ask(path)[0] == 404


def test_another_host_or_two_or_none_is_refused(bulb: Explorer) -> None:
    # A name of an attacker's own that resolves to 127.0.0.1 arrives with that name as Host.
    assert bulb.ask("lamp", Host=f"evil.example:{bulb.port}")[0] == 421
    assert bulb.ask("lamp", Host="127.0.0.1")[0] == 421
    assert bulb.ask("lamp", Host=f"localhost:{bulb.port}")[0] == 200
    path = urlsplit(bulb.address).path
    for lines in ("", f"Host: 127.0.0.1:{bulb.port}\r\nHost: evil.example\r\n"):
        with socket.create_connection(("127.0.0.1", bulb.port), timeout=10) as raw:
            raw.sendall(f"GET {path}lamp HTTP/1.1\r\n{lines}\r\n".encode())
            assert raw.recv(200).split()[1] in (b"400", b"421")


def test_another_origin_is_refused_and_a_post_needs_its_own(bulb: Explorer) -> None:
    assert bulb.ask("lamp", Origin="http://evil.example")[0] == 403
    assert bulb.ask("lamp", Origin="null")[0] == 403
    assert bulb.ask("lamp", Origin=f"http://127.0.0.1:{bulb.port + 1}")[0] == 403
    assert bulb.ask("lamp", Sec_Fetch_Site="cross-site")[0] == 403
    body = json.dumps(HAND).encode()
    assert bulb.ask("hand", "POST", body, Content_Type="application/json")[0] == 403
    assert bulb.post("hand", HAND)[0] == 202
    assert bulb.post("hand", HAND, Content_Type="text/plain")[0] == 415
    assert bulb.ask("hand", "DELETE")[0] == 405


def test_large_and_senseless_posts_are_refused_in_a_line(bulb: Explorer) -> None:
    assert bulb.post("hand", {"page": "x" * LARGEST_BODY_BYTES})[0] == 413
    content: Any
    for content in (
        "[",
        [],
        {},
        {**HAND, "page": "../.."},
        {**HAND, "task": {"bench": 3}},
        {**HAND, "more": 1},
    ):
        status, body = bulb.post("hand", content)
        assert status == 422
        assert len(json.loads(body)["problems"]) == 1


def test_a_wrong_value_is_told_in_the_projects_own_line(bulb: Explorer) -> None:
    task = {"bench": "steady", "changes": {"film.capacitance": "47 ohm", "flim": "none"}}
    status, body = bulb.post("hand", {**HAND, "number": 9, "task": task})
    assert status == 422
    said = " ".join(json.loads(body)["problems"])
    assert "film.capacitance" in said
    assert "a capacitance, such as 47 µF" in said
    assert "did you mean film?" in said
    for key, value in (("supply", "9 V"), ("ambient", "hot"), ("bench", "stedy")):
        status, body = bulb.post("hand", {**HAND, "number": 9, "task": {key: value}})
        assert (status, key in body.decode()) == (422, True)


def test_a_wrong_port_is_one_line(bulb: Explorer, tmp_path: Path) -> None:
    ask = "import sys; from coldiron.cli.main import main; sys.exit(main())"
    command = [sys.executable, "-c", ask, "explore", "pantry-bulb", "--port", str(bulb.port)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path)
    assert done.returncode == 2
    assert re.fullmatch(
        rf"--port is {bulb.port}: expected a port of 127.0.0.1 that is free \(.*\)\n", done.stderr
    )


def test_pages_are_bounded(bulb: Explorer) -> None:
    held = []
    try:
        for number in range(8):
            line = http.client.HTTPConnection("127.0.0.1", bulb.port, timeout=10)
            line.request("GET", f"{urlsplit(bulb.address).path}answers?page=listener{number}")
            held.append((line, line.getresponse()))
        assert [answer.status for _, answer in held] == [200] * 8
        status, _, body = bulb.ask("answers?page=oneoverall")
        assert status == 503
        assert "8 pages are open" in body.decode()
    finally:
        for line, _ in held:
            line.close()


def test_vendored_files_are_those_of_their_hashes() -> None:
    vendor = resources.files("coldiron.live") / "static" / "vendor"
    listed = [line.split() for line in (vendor / "SHA256SUMS").read_text("ascii").splitlines()]
    assert {name for _, name in listed} | {"SHA256SUMS"} == {each.name for each in vendor.iterdir()}
    for digest, name in listed:
        assert hashlib.sha256((vendor / name).read_bytes()).hexdigest() == digest
    assert "MIT" in (vendor / "uPlot.LICENSE").read_text("utf-8")
