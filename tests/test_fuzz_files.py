"""Files of strangers: whatever a lamp or study file holds, it is read or refused in words, no more.

Each document is loaded, and what loads is printed as decks. Python's audit events tell of every file opened,
command run and connection made on the way.
"""

from __future__ import annotations

import json
import resource
import sys
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldiron.benches.settling import estimated_start
from coldiron.benches.steady import steady_deck
from coldiron.benches.switch_on import switch_on_deck
from coldiron.deck.guard import check_deck
from coldiron.errors import ColdironError
from coldiron.lamp.load import load_lamp
from coldiron.resources import resource_dir
from coldiron.study.load import load_study
from coldiron.sweep.cases import study_cases

SHIPPED = resource_dir("variants")
LAMPS = [tomllib.loads(path.read_text("utf-8")) for path in sorted((SHIPPED / "lamps").glob("*.toml"))]
STUDIES = [tomllib.loads(path.read_text("utf-8")) for path in sorted((SHIPPED / "studies").glob("*.toml"))]
MARK = "canary"
HOSTILE = (
    "{{ 7*7 }}", "{% include '/etc/passwd' %}", "{{ ''.__class__.__mro__ }}", "{#", "/etc/passwd",
    "/dev/zero", "x\n.control\nshell touch canary", "*# shell touch canary", "`touch canary`",
    "$(touch canary)", "a\r\n.include /etc/passwd", "../../../etc/passwd", "..", "~", "con", "\x00",
    "\u202egnp", "\ud7ff", "١٢ V", "１２", "µ" * 300, "A" * 70_000, "1e308 V", "1e-320 F", "-1 Ω", "0",
    "0 V", "inf", "nan V", "1M", "1x", "4R7R7", "9" * 5000, "1 µF µF", " ", "", "none", "as found", "'",
    '"', "\\", "=", "[[", "#", ";", "|", "file=x", ".end", "+ x", "true", "1e5 kΩ", "+1e9 %",
)  # fmt: skip

leaves: st.SearchStrategy[Any] = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(max_size=40),
    st.integers(-(10**30), 10**30),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
)
values = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=12), inner, max_size=4)
    ),
    max_leaves=8,
)


def paths(table: Any, prefix: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in a document that holds something."""
    inner = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in inner:
        yield (*prefix, key)
        yield from paths(value, (*prefix, key))


@st.composite
def documents(draw: Callable[..., Any], shipped: list[dict[str, Any]]) -> str:
    """A shipped file with some of its places exchanged, dropped or added to, or with text thrown in."""
    document = json.loads(json.dumps(draw(st.sampled_from(shipped)), default=str))
    for _ in range(draw(st.integers(0, 4))):
        places = list(paths(document))
        if not places:
            break
        place = draw(st.sampled_from(places))
        table = document
        for key in place[:-1]:
            table = table[key]
        what = draw(st.sampled_from(("exchange", "drop", "add")))
        if what == "exchange":
            table[place[-1]] = draw(values)
        elif what == "drop":
            del table[place[-1]]
        elif isinstance(table, dict):
            table[draw(st.one_of(st.sampled_from(HOSTILE[:12]), st.text(max_size=20)))] = draw(values)
    text = toml(document)
    if draw(st.integers(0, 3)) == 0:
        at = draw(st.integers(0, len(text)))
        text = text[:at] + draw(st.one_of(st.sampled_from(HOSTILE), st.text(max_size=20))) + text[at:]
    if draw(st.integers(0, 40)) == 0:
        text += "\nx = " + "[" * 3000 + "]" * 3000
    return text


def toml(document: dict[str, Any]) -> str:
    """Write a document as TOML of inline tables."""
    return "".join(f"{json.dumps(str(key))} = {inline(value)}\n" for key, value in document.items())


def inline(value: Any) -> str:
    if isinstance(value, dict):
        return (
            "{" + ", ".join(f"{json.dumps(str(key))} = {inline(inner)}" for key, inner in value.items()) + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(inline(inner) for inner in value) + "]"
    return json.dumps(value)


_events: list[tuple[str, Any]] | None = None


def _listen(event: str, words: tuple[Any, ...]) -> None:
    if _events is not None and event in (
        "open",
        "os.system",
        "subprocess.Popen",
        "os.exec",
        "socket.connect",
    ):
        _events.append((event, words[0]))


sys.addaudithook(_listen)


@contextmanager
def heard() -> Iterator[list[tuple[str, Any]]]:
    """What this process opens, starts or connects to meanwhile."""
    global _events
    _events = []
    try:
        yield _events
    finally:
        _events = None


def allowed(event: tuple[str, Any], folder: Path) -> bool:
    """Whether an event is the reading of the document, of a shipped file or of Python's own."""
    name, where = event
    if name == "open" and isinstance(where, int):
        return True  # opened by its path before
    if name != "open" or not isinstance(where, str | bytes | Path):
        return False
    path = str(where.decode() if isinstance(where, bytes) else where)
    own = (str(folder), str(SHIPPED.parent), str(SHIPPED.parent.parent), sys.prefix, sys.base_prefix)
    return path.startswith(own)


def read(text: str, load: Callable[[Path], None], folder: Path) -> None:
    """Load a document; it must load, or be refused in words."""
    path = folder / "document.toml"
    path.write_text(text, encoding="utf-8", errors="replace", newline="")
    before = sorted(folder.rglob("*"))
    with heard() as events:
        try:
            load(path)
        except ColdironError as problem:
            said = str(problem)
            assert said
            assert len(said) < 100_000
    assert [event for event in events if not allowed(event, folder)] == []
    assert sorted(folder.rglob("*")) == before
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < 1_000_000, "more than 1 GB"


def print_lamp(path: Path) -> None:
    """Load a lamp; if it is one, its decks must pass the guard and hold nothing of the file's text."""
    from laboratory import case_of

    case = case_of(load_lamp(path), "steady")
    state = case.conditions.operating_point()
    decks = [
        steady_deck(case, state, estimated_start(case.lamp, state), 0.03),
        switch_on_deck(case, 90.0, 0.01),
    ]
    for deck in decks:
        check_deck(deck.text)
        assert MARK not in "\n".join(line for line in deck.text.splitlines() if not line.startswith("* "))


def print_study(path: Path) -> None:
    """Load a study and lay out its first cases."""
    study = load_study(str(path))
    for _, case in zip(range(3), study_cases(study), strict=False):
        check_deck(switch_on_deck(case, 90.0, 0.01).text)


def hold(examples: int) -> settings:
    return settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the shipped lamps beside the documents, as studies name them."""
    # What is imported when it is first needed is read from disk: have it there before anything is watched.
    for lamp in sorted((SHIPPED / "lamps").glob("*.toml")):
        print_lamp(lamp)
    return tmp_path_factory.mktemp("fuzz")


@hold(150)
@given(text=documents(LAMPS))
def test_lamp_files(folder: Path, text: str) -> None:
    read(text, print_lamp, folder)


@hold(150)
@given(text=documents(STUDIES))
def test_study_files(folder: Path, text: str) -> None:
    read(text, print_study, folder)


@pytest.mark.slow
@hold(5000)
@given(text=documents(LAMPS))
def test_many_lamp_files(folder: Path, text: str) -> None:
    read(text, print_lamp, folder)


@pytest.mark.slow
@hold(5000)
@given(text=documents(STUDIES))
def test_many_study_files(folder: Path, text: str) -> None:
    read(text, print_study, folder)
