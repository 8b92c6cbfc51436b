"""Reading lamp files: whatever bytes, paths and tables come, a lamp or one clear line."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.lamp.load import lamp_from, load_lamp
from coldiron.lamp.toml_file import read_toml, shipped_names
from coldiron.wording import one_of
from lamps import linear
from small_lamp import SMALL, complaints


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", "lamp.toml: expected a lamp or a study, not an empty file"),
        (b" \n\t\n", "lamp.toml: expected a lamp or a study, not an empty file"),
        (bytes(range(256)), "lamp.toml: expected text in UTF-8"),
        (SMALL.encode("utf-16"), "lamp.toml: expected text in UTF-8"),
        (b"#" * 1_000_001, "lamp.toml: expected a file of at most 1 MB"),
        (b"name = \n", "lamp.toml: name (line 1) is empty: expected a value"),
        (
            b'name = "a"\nvoltage = 230 V # mains\n',
            'lamp.toml: voltage (line 2) is 230 V: expected text in quotes (did you mean voltage = "230 V"?)',
        ),
        (
            b"earthed = True\n",
            "lamp.toml: earthed (line 1) is True: expected true or false in small letters, without quotes "
            "(did you mean earthed = true?)",
        ),
        (
            "voltage = “230 V”\n".encode(),
            "lamp.toml: voltage (line 1) is “230 V”: expected text in quotes (did you mean voltage "
            '= "230 V"?)',
        ),
        (
            b"a = 1\na = 2\n",
            "lamp.toml: expected valid TOML (Cannot overwrite a value (at line 2, column 6))",
        ),
        (b"a = " + b"[" * 100_000, "lamp.toml: expected tables nested a few levels deep"),
        (b"a = " + b"{a = " * 100_000, "lamp.toml: expected tables nested a few levels deep"),
        (b".".join([b"a"] * 100_000) + b" = 1", "lamp.toml: expected keys of a few words"),
        (b"[" + b".".join([b"a"] * 100_000) + b"]", "lamp.toml: expected keys of a few words"),
        (b"a = " + b"9" * 5000, "lamp.toml: expected numbers of fewer digits"),
    ],
)
def test_a_file_that_is_no_lamp_at_all(tmp_path: Path, content: bytes, line: str) -> None:
    path = tmp_path / "lamp.toml"
    path.write_bytes(content)
    assert complaints(path) == [line]


def test_a_comment_alone_misses_every_part(tmp_path: Path) -> None:
    path = tmp_path / "lamp.toml"
    path.write_bytes(b"# nothing yet\n")
    assert complaints(path) == [
        "lamp.toml: name is missing: expected text in quotes",
        *(
            f"lamp.toml: {part} is missing: expected a table [{part}]"
            for part in ("mains", "housing", "bridge", "string", "sinks")
        ),
    ]


def test_a_path_that_is_no_file(tmp_path: Path) -> None:
    assert complaints(tmp_path / "gone.toml") == ["gone.toml is missing: expected a lamp or study file"]
    (tmp_path / "folder.toml").mkdir()
    assert complaints(tmp_path / "folder.toml") == ["folder.toml: expected a file, not a folder or a device"]
    os.mkfifo(tmp_path / "pipe.toml")
    assert complaints(tmp_path / "pipe.toml") == ["pipe.toml: expected a file, not a folder or a device"]
    (tmp_path / "zero.toml").symlink_to("/dev/zero")
    assert complaints(tmp_path / "zero.toml") == ["zero.toml: expected a file, not a folder or a device"]
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    assert complaints(tmp_path / "loop.toml") == [
        "loop.toml: expected a file that can be read (Too many levels of symbolic links)"
    ]
    assert complaints("lamp\0.toml") == [
        "lamp\\u0000.toml: expected a file that can be read (embedded null byte)"
    ]


def test_a_name_that_is_not_shipped() -> None:
    shipped = one_of(shipped_names("lamps"))
    assert complaints("kerbside-floods") == [
        f"kerbside-floods is not known: expected a file, or the name of a shipped one ({shipped}) "
        "(did you mean kerbside-flood?)"
    ]


@pytest.mark.parametrize(
    "encode",
    [
        pytest.param(lambda text: text.replace("\n", "\r\n").encode(), id="CRLF"),
        pytest.param(lambda text: b"\xef\xbb\xbf" + text.encode(), id="BOM"),
        pytest.param(
            lambda text: text.replace("Bench lamp", "Lampe für Flur 灯 µΩ").encode(), id="non-ASCII"
        ),
    ],
)
def test_accepts_what_editors_write(tmp_path: Path, encode: Any) -> None:
    path = tmp_path / "lamp.toml"
    path.write_bytes(encode(SMALL))
    assert linear(load_lamp(path)).string.series == 80


keys = st.sampled_from(
    ["name", "note", "provenance", "mains", "voltage", "frequency", "film", "capacitance", "string", "series",
     "sinks", "count", "reading", "what", "value", "provenances", "housing", "earthed", ""]
)  # fmt: skip
scalars = st.one_of(
    st.text(max_size=8),
    st.sampled_from(["230 V", "none", "as found", "4k7", "data sheet", "cold"]),
    st.integers(),
    st.integers(min_value=10**400, max_value=10**401),
    st.floats(),
    st.booleans(),
    st.none(),
)
tables = st.recursive(
    scalars, lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(keys, inner, max_size=4))
)


@given(table=st.dictionaries(st.one_of(keys, st.text(max_size=5)), tables, max_size=6))
@example(table={"mains": {"voltage": {"value": {"value": {}}}}})
@example(table={"reading": {"what": []}})
def test_junk_tables_are_refused_and_nothing_else(table: dict[str, Any]) -> None:
    # "bridge", "housing" and more are never among them, so none of them is a lamp.
    with pytest.raises(FileProblems) as refusal:
        lamp_from(table, Path("junk.toml"))
    assert all(str(problem).isprintable() for problem in refusal.value.problems)


@given(
    content=st.one_of(
        st.binary(max_size=200), st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace"))
    )
)
@example(content=b"\xff\xfe")
@example(content=b"a = 1\r")
def test_junk_files_are_tables_or_refused(content: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.getbasetemp() / "junk.toml"
    path.write_bytes(content)
    try:
        table = read_toml(path)
    except FileProblems as refusal:
        table = {}
        assert len(refusal.problems) == 1  # noqa: PT017  # either outcome is right
    assert isinstance(table, dict)
