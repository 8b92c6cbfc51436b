"""Every deck that decides readings, run by hand through a plain `ngspice -b`, gives the same readings."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from coldiron.benches import BENCHES
from coldiron.deck.deck import Deck
from coldiron.deck.guard import check_deck
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence
from coldiron.study.disturbances import Burst, Leakage, Sag
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.run import FinishedCase
from hanging import HANG_S
from laboratory import Laboratory, case_of
from lamps import load_lamp

pytestmark = pytest.mark.ngspice


def in_batch(text: str, folder: Path, *options: str) -> str:
    """What the stand-alone program prints when it runs a deck."""
    folder.mkdir(exist_ok=True)
    (folder / "deck.cir").write_text(text)
    done = subprocess.run(
        ["ngspice", "-n", "-b", *options, "deck.cir"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=HANG_S,
        check=False,
    )
    if "Timestep too small" in done.stdout + done.stderr:
        raise NoConvergence("the stand-alone program gave up")
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def run_by_hand(text: str, folder: Path) -> Mapping[str, Array]:
    """Vectors of a deck run by the stand-alone program, from its raw file."""
    in_batch(text, folder, "-r", "deck.raw")
    return read_raw(folder / "deck.raw")


def read_raw(path: Path) -> dict[str, Array]:
    """Vectors of a binary raw file of real numbers, by name."""
    head, _, body = path.read_bytes().partition(b"Binary:\n")
    lines = head.decode("latin-1").splitlines()
    count = int(next(line.split(":")[1] for line in lines if line.startswith("No. Variables")))
    names = [line.split()[1] for line in lines[lines.index("Variables:") + 1 :][:count]]
    values = np.frombuffer(body, dtype=np.float64).reshape(-1, count)
    return {name: values[:, column] for column, name in enumerate(names)}


@dataclass
class ByHand:
    """A lab whose engine is the stand-alone program."""

    folder: Path
    ran: int = 0

    def run(self, deck: Deck) -> Waveforms:
        """Run a deck with `ngspice -b`."""
        self.ran += 1
        vectors = run_by_hand(deck.text, self.folder / str(self.ran))
        time_s = np.concatenate(([0.0], vectors["time"]))
        kept = {name: np.concatenate((row[:1], row)) for name, row in vectors.items() if name != "time"}
        return Waveforms(time_s=time_s, vectors=kept)


@pytest.mark.parametrize("lamp_name", ["kerbside-flood", "pantry-bulb", "corridor-panel"])
@pytest.mark.parametrize(
    "bench", ["switch-on", "steady", "surge", "burst", "unplug", "off-glow", "dip", "touch", "insulation"]
)
def test_the_same_bench_by_hand_reads_the_same(
    laboratory: Laboratory, tmp_path: Path, lamp_name: str, bench: str
) -> None:
    case = case_of(
        load_lamp(lamp_name),
        bench,
        burst=Burst(pulses=2),
        sag=Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02),
        leakage=Leakage(cable_length_m=5.0),
    )
    [result] = laboratory.take(case)
    by_hand = BENCHES[bench].take(case, ByHand(tmp_path))
    for reading, value in result.readings.items():
        if isinstance(value, str):
            assert by_hand.readings[reading] == value
        else:
            assert by_hand.readings[reading] == pytest.approx(value, rel=1e-4, abs=1e-6), reading


def test_printed_deck_alone_gives_the_waves_of_the_study(laboratory: Laboratory, tmp_path: Path) -> None:
    [result] = laboratory.take(case_of(load_lamp("kerbside-flood"), "surge"), keep_waves=True)
    assert result.waves is not None
    vectors = run_by_hand(result.decks["surge"], tmp_path / "surge")
    ours = result.waves["surge"]
    assert vectors["v(drain)"].max() == pytest.approx(ours["v(drain)"].max(), rel=1e-6)
    assert vectors["i(vinput)"].max() == pytest.approx(ours["i(vinput)"].max(), rel=1e-6)


def test_a_plain_batch_run_prints_the_bus(laboratory: Laboratory, tmp_path: Path) -> None:
    # Without a raw file the stand-alone program runs only decks that print something.
    [result] = laboratory.take(case_of(load_lamp("pantry-bulb"), "unplug"), keep_waves=True)
    printed = in_batch(result.decks["unplug to 0.01 s"], tmp_path)
    rows = [line.split() for line in printed.splitlines() if re.match(r"\d+\t", line)]
    assert result.waves is not None
    assert float(rows[0][2]) == pytest.approx(result.waves["unplug"]["v(bus)"][0], rel=1e-3)


def test_a_deck_says_who_it_belongs_to_and_what_each_part_is(laboratory: Laboratory) -> None:
    case = case_of(load_lamp("kerbside-flood"), "steady")
    [result] = laboratory.take(case)
    [text] = FinishedCase(case, result).decks.values()
    assert "* lamp    Kerbside flood" in text
    assert "* study   test" in text
    assert "* variant as found" in text
    assert "* bench   steady, 230 V 50 Hz" in text
    for part in (
        "varistor",
        "bridge",
        "bus to minus",
        "LED string",
        "sink 5",
        "line_fusing: fusing resistor",
    ):
        assert any(line.startswith("*") and part in line for line in text.splitlines()), part
    assert "MAINS CAN KILL" in text


def test_names_and_notes_cannot_become_deck_lines(laboratory: Laboratory) -> None:
    evil = "x\n.control\nshell touch /tmp/owned\n.endc\n*# shell id `id` {{ 7*7 }}"
    lamp = load_lamp("kerbside-flood").model_copy(update={"name": evil, "note": evil})
    case = case_of(lamp, "steady")
    result: CaseResult
    [result] = laboratory.take(case)
    [text] = FinishedCase(case, result).decks.values()
    check_deck(text)
    assert not any(line.lower().startswith((".control", "shell", "*#")) for line in text.splitlines())
    assert "`" not in text
    assert "49" not in text.splitlines()[1]
