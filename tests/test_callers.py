"""Whoever calls `run_study`: a bare script, standard input, a prompt, an event loop as in a notebook."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from hanging import HANG_S

pytestmark = pytest.mark.ngspice
STUDY = 'lamp = "pantry-bulb"\nbenches = ["unplug"]\n[grid]\n"reservoir.capacitance" = ["as found"]\n'
PROGRAM = """\
with open("times this was run", "a") as file: _ = file.write("x")

from coldiron import run_study
result = run_study("one.toml", workers=2)
print(result.case("as found", "unplug").bench, len(result.tidy) > 0, "failed" in set(result.tidy["reading"]))
"""
LOOP = f"""\
import asyncio

async def cell():
    exec({PROGRAM!r}, globals())

asyncio.run(cell())
"""
CALLERS: dict[str, tuple[list[str], str]] = {
    "a script without a main guard": (["study.py"], ""),
    "standard input": (["-"], PROGRAM),
    "a command": (["-c", PROGRAM], ""),
    "a prompt": (["-i", "-q"], PROGRAM),
    "an event loop, as in a notebook": (["-c", LOOP], ""),
    "a module": (["-m", "study"], ""),
    "warnings are errors": (["-W", "error", "-X", "dev", "study.py"], ""),
}


@pytest.mark.parametrize("caller", CALLERS)
def test_a_study_runs_from(caller: str, tmp_path: Path) -> None:
    words, text = CALLERS[caller]
    (tmp_path / "one.toml").write_text(STUDY)
    (tmp_path / "study.py").write_text(PROGRAM)
    done = subprocess.run(
        [sys.executable, *words],
        input=text,
        cwd=tmp_path,
        env={name: value for name, value in os.environ.items() if not name.startswith("PYTHON")},
        capture_output=True,
        text=True,
        timeout=HANG_S,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "unplug True False\n"
    assert done.stderr.replace(">>> ", "").replace("... ", "").strip() == ""
    assert (tmp_path / "times this was run").read_text() == "x", "a worker ran its caller"
