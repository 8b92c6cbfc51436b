"""A store that someone has prepared: nothing of it reaches a deck, a terminal or a table unlooked at."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import subprocess
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.engine import store as stores
from coldiron.engine.store import FILE_NAME, Store
from coldiron.study.load import load_study
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.cases import study_cases
from coldiron.sweep.keys import case_key
from coldiron.sweep.stored import NotAResult, read_back, waves_read_back, written
from laboratory import case_of
from lamps import load_lamp

DECK = "* a title\nR1 a 0 100\n.tran 1e-05 0.001 0 1e-05 uic\n.end\n"
SOUND: dict[str, Any] = json.loads(
    written(CaseResult({"bus_mean_V": 1.0, "weakest_part": "bridge"}, {"steady": DECK}))
)
ESCAPES = "\x1b[2J\x1b]0;owned\x07"
PREPARED: dict[str, Any] = {
    "a control card": {"decks": {"steady": DECK.replace("R1 a", ".control\nshell touch owned\n.endc\nR1 a")}},
    "a command in a comment": {"decks": {"steady": DECK.replace("R1", "*# shell touch owned\nR1")}},
    "an include": {"decks": {"steady": DECK.replace("R1", ".include /etc/passwd\nR1")}},
    "a path for a label": {"decks": {"../../owned": DECK}},
    "escape codes in a label": {"decks": {ESCAPES: DECK}},
    "escape codes in a reading": {"readings": {"weakest_part": ESCAPES}},
    "a formula for an id": {"readings": {"=1+1": 1.0}},
    "lines in a reading": {"readings": {"weakest_part": "a\nb"}},
    "a list for a reading": {"readings": {"bus_mean_V": [1.0]}},
    "a truth for a reading": {"readings": {"bus_mean_V": True}},
    "escape codes for why it does not apply": {"not_applicable": ESCAPES},
    "escape codes in a word on how it was run": {"how_run": {"steady": ESCAPES}},
    "a failure of one word": {"failure": "no"},
    "a failure of three": {"failure": ["a", "b", "c"]},
    "time that runs back": {"cpu_s": -1.0},
    "time without end": {"engine_s": float("inf")},
    "no time": {"cpu_s": float("nan")},
    "half a run": {"runs": 0.5},
    "another key": {"owned": 1},
    "text without end": {"readings": {"weakest_part": "x" * 10_000}},
}  # fmt: skip


@pytest.mark.parametrize("what", PREPARED)
def test_a_prepared_row_is_none(what: str) -> None:
    with pytest.raises(NotAResult) as refusal:
        read_back(json.dumps(SOUND | PREPARED[what]).encode())
    assert str(refusal.value).isprintable()
    assert read_back(json.dumps(SOUND).encode()).readings == SOUND["readings"]


@pytest.mark.parametrize("missing", SOUND)
def test_a_row_without_something_is_none(missing: str) -> None:
    with pytest.raises(NotAResult, match=missing):
        read_back(json.dumps({key: value for key, value in SOUND.items() if key != missing}).encode())


plain = st.none() | st.booleans() | st.floats() | st.text()
tables = st.recursive(
    plain, lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from([*SOUND, "x"]), inner)
)


@given(st.binary(max_size=200) | tables.map(lambda table: json.dumps(table).encode()))
def test_whatever_stands_in_a_row_it_is_a_result_or_none(content: bytes) -> None:
    for read in (read_back, waves_read_back):
        with contextlib.suppress(NotAResult):
            read(content)


@pytest.mark.parametrize(
    "head",
    [
        b"[]", b"{}}", b'{"steady": {}}', b'{"steady": {"time": 1}}', b'{"steady": {"time": -1}}',
        b'{"steady": {"time": 2, "v(bus)": 1}}', b'{"../x": {"time": 3}}', b'{"steady": {"v(bus)": 3}}',
        b'{"steady": {"time": 3, "x\\n": 0}}', b'{"steady": {"time": 99999999999999}}', b"\x80\x04",
    ],
)  # fmt: skip
def test_prepared_waves_are_none(head: bytes) -> None:
    with pytest.raises(NotAResult):
        waves_read_back(head + b"\n" + bytes(24))


def test_failure_text_is_printable_wherever_it_comes_from() -> None:
    failure = Failure(f"no answer {ESCAPES}\nat all", f"first\r\n{ESCAPES}last")
    row = SOUND | {"failure": [f"no answer {ESCAPES}", f"words\n{ESCAPES}"]}
    recalled = read_back(json.dumps(row).encode()).failure
    assert recalled is not None
    for text in (failure.why, failure.engine_words, failure.last_words, recalled.why, recalled.engine_words):
        assert text.replace("\n", "").isprintable()
    assert "\n" not in failure.why
    assert failure.last_words == "\\u001b[2J\\u001b]0;owned\\u0007last"


def test_a_row_that_swells_is_damage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(stores, "LARGEST_ROW_BYTES", 1000)
    store = Store(tmp_path, said.append)
    assert store._connection is not None
    store._connection.execute(
        "INSERT INTO kept (key, content) VALUES ('a', ?)", (zlib.compress(bytes(10_000_000)),)
    )
    assert store.get("a") is None
    assert len(said) == 1
    store.close()


@pytest.fixture
def prepared(tmp_path: Path) -> Iterator[tuple[Store, list[str]]]:
    said: list[str] = []
    store = Store(tmp_path, said.append)
    yield store, said
    store.close()


def test_a_prepared_row_is_said_once_and_replaced(prepared: tuple[Store, list[str]]) -> None:
    store, said = prepared
    cases = [case_of(load_lamp("pantry-bulb"), bench) for bench in ("steady", "unplug")]
    cache = StoredCases(store)
    for case in cases:
        store.put({case_key(case): json.dumps(SOUND | PREPARED["a control card"]).encode()})
        assert cache.recall(case, with_waves=False) is None
    [line] = said
    assert "computed anew" in line
    assert line.isprintable()
    cache.keep([(cases[0], CaseResult({"bus_mean_V": 2.0}, {}))])
    recalled = cache.recall(cases[0], with_waves=False)
    assert recalled is not None
    assert recalled.readings == {"bus_mean_V": 2.0}


def test_prepared_waves_are_computed_anew(prepared: tuple[Store, list[str]]) -> None:
    store, said = prepared
    case = case_of(load_lamp("pantry-bulb"), "steady")
    key = case_key(case)
    store.put({key: json.dumps(SOUND).encode(), f"{key} waves": b"PK\x03\x04 not ours"})
    assert StoredCases(store).recall(case, with_waves=True) is None
    assert len(said) == 1


@pytest.mark.ngspice
def test_a_study_with_a_prepared_store_gives_its_own_readings(tmp_path: Path) -> None:
    (tmp_path / "bulb.toml").write_text('lamp = "pantry-bulb"\nbenches = ["steady", "unplug"]\n')
    cases = list(study_cases(load_study(tmp_path / "bulb.toml")))
    store = Store(tmp_path / "results" / ".store", print)
    evil = SOUND | PREPARED["a control card"] | {"readings": {"weakest_part": ESCAPES}}
    failed = SOUND | {"readings": {}, "failure": [ESCAPES, ESCAPES]}
    for case, row in zip(cases, (evil, failed), strict=True):
        store.put({case_key(case): json.dumps(row).encode()})
    store.close()
    with sqlite3.connect(tmp_path / "results" / ".store" / FILE_NAME) as connection:
        connection.execute(
            "CREATE TRIGGER t AFTER INSERT ON kept BEGIN DELETE FROM kept WHERE number = 0; END"
        )
    connection.close()
    ask = "import sys; from coldiron.cli.main import main; sys.exit(main())"
    words = [sys.executable, "-c", ask, "study", "bulb.toml", "--no-pictures"]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 3, "a failure that is told is shown, in plain text"
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stderr.count("computed anew") == 1
    for path in (tmp_path / "results" / "bulb").rglob("*.*"):
        text = path.read_text(encoding="utf-8")
        assert "\x1b" not in text
        assert ".control" not in text
    assert cases[0].bench in (tmp_path / "results" / "bulb" / "readings.csv").read_text()
