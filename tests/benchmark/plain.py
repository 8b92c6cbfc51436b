"""the plain way to a case's readings: `ngspice -b`, each run from power-on, one fixed small step.

The decks are printed from the same stages as the project's own; what differs is how they are run. Nothing
is shared between runs: the lamp starts from rest each time, and the surge generator fires by a timed
switch inside a run that has settled first. Hot, the lamp is run from power-on at one pair of temperatures
after the other, until its own heat keeps it where it is.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from coldiron.benches.base import Case, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.hot import network, record
from coldiron.benches.settling import Settled
from coldiron.benches.steady_readings import steady_readings
from coldiron.benches.surge import WINDOW_S, continuous_deck
from coldiron.benches.surge_readings import SurgeRun, discs_of, surge_readings
from coldiron.benches.switch_on import inrush_readings, parabola_top, switch_on_deck
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.heat.balance import follows
from coldiron.lamp.varistor import Disc

STEP = SolverSettings(step_s=1e-6, reltol=1e-4, abstol=1e-8, vntol=1e-5)
SURGE_STEP = SolverSettings(step_s=1e-6, reltol=1e-4, abstol=1e-6, vntol=1e-3)
SETTLING_CYCLES = 4
CLOSING_DEG = range(0, 180, 10)
INRUSH_CYCLES = 3
STILL_K = 0.05
"""A lamp is hot when the next run would be at temperatures this near."""
MOST_HOT_RUNS = 30

Readings = dict[str, float | str]


@dataclass(frozen=True)
class Spent:
    """Waveforms of one run and the processor time it took [s]."""

    waves: Waveforms
    cpu_s: float


def run_plainly(deck: Deck) -> Spent:
    """One `ngspice -b` with a binary raw file."""
    with tempfile.TemporaryDirectory(prefix="plain-") as name:
        folder = Path(name)
        (folder / ".spiceinit").touch()
        (folder / "deck.cir").write_text(deck.text)
        process = subprocess.Popen(
            ["ngspice", "-b", "-r", "deck.raw", "deck.cir"],
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _, _, used = os.wait4(process.pid, 0)
        process.returncode = 0
        waves = read_raw((folder / "deck.raw").read_bytes())
    if waves.time_s[-1] < deck.stop_s * (1 - 1e-9):
        raise RuntimeError(f"{deck.title}: stopped at {waves.time_s[-1]:g} s of {deck.stop_s:g} s")
    return Spent(waves, used.ru_utime + used.ru_stime)


def read_raw(content: bytes) -> Waveforms:
    """Vectors of a binary raw file of real numbers."""
    head, _, body = content.partition(b"Binary:\n")
    lines = head.decode(errors="replace").splitlines()
    count = next(int(line.split(":")[1]) for line in lines if line.startswith("No. Variables"))
    first = lines.index("Variables:") + 1
    names = [line.split()[1].lower() for line in lines[first : first + count]]
    table = np.frombuffer(body, dtype=np.float64).reshape(-1, count)
    return Waveforms(table[:, 0].copy(), {name: table[:, n].copy() for n, name in enumerate(names) if n})


def steady_deck(case: Case, state: OperatingPoint) -> Deck:
    """From power-on through the cycles in which a lamp settles, and one more to read."""
    return render(
        "switch-on",
        case.heading("from power-on"),
        circuit(case.lamp, state),
        keep=lamp_vectors(case.lamp),
        stop_s=(SETTLING_CYCLES + 1) * state.cycle_s,
        fineness=STEP,
    )


def decks(case: Case) -> list[Deck]:
    """Every run that the plain way needs, steady or surged, in an order that `readings` knows."""
    if case.bench == "steady":
        return [steady_deck(case, case.conditions.operating_point())]
    return [
        continuous_deck(case, angle, polarity, SETTLING_CYCLES, SURGE_STEP, disc=disc)[0]
        for disc, angle, polarity in surges_of(case)
    ]


def surges_of(case: Case) -> list[tuple[Disc, float, int]]:
    """Disc, angle and polarity of every surge: the plain way tries all of them."""
    return [
        (disc, angle, polarity)
        for disc in discs_of(case.lamp)
        for angle in case.conditions.surge_angles_deg
        for polarity in case.conditions.surge_polarities
    ]


def settled(deck: Deck, waves: Waveforms, state: OperatingPoint) -> Settled:
    """Last cycle of a run of `steady_deck`."""
    return Settled(deck, waves, state.cycle_s, SETTLING_CYCLES + 1.0, "from rest")


def take_hot(case: Case, told: Callable[[float], None]) -> Readings:
    """Readings of a hot lamp: temperatures stepped by the secant rule, each try a run of its own.

    Raises
    ------
    RuntimeError
        If the temperatures do not come to rest.
    """
    room, cold = network(case), case.conditions.operating_point()
    die_c, string_c = room.ambient_c, room.ambient_c
    before: tuple[float, float] | None = None
    for _ in range(MOST_HOT_RUNS):
        state = replace(cold, die_c=die_c, string_c=string_c, reservoir_c=string_c)
        deck = steady_deck(case, state)
        spent = run_plainly(deck)
        told(spent.cpu_s)
        run = settled(deck, spent.waves, state)
        then = follows(room, record(case.lamp, state, run))
        away_k = then.die_c - die_c
        if max(abs(away_k), abs(then.string_c - string_c)) < STILL_K:
            hot = {"sink_die_C": then.die_c, "string_C": then.string_c, "housing_C": then.housing_c}
            return {**steady_readings(case.lamp, state, run), **hot}
        step_k = 0.5 * away_k
        if before is not None and before[1] != away_k:
            step_k = away_k * (die_c - before[0]) / (before[1] - away_k)
        before = die_c, away_k
        die_c, string_c = die_c + min(40.0, max(-40.0, step_k)), then.string_c
    raise RuntimeError(f"{case.variant}: no balance in {MOST_HOT_RUNS} runs")


def take_switched_on(case: Case, workers: int, told: Callable[[float], None]) -> Readings:
    """Readings of a switch-on: every ten degrees for half a cycle, then to its end at the top of a parabola.

    The peak is flat there, the I²t is not: the best of every ten degrees alone misses it by up to 4 %.
    """
    cycle_s = case.conditions.operating_point().cycle_s
    tried = [switch_on_deck(case, float(angle), cycle_s / 2, STEP) for angle in CLOSING_DEG]
    with ThreadPoolExecutor(workers) as threads:
        spent = list(threads.map(run_plainly, tried))
    peaks_a = [float(np.abs(one.waves.i("vinput")).max()) for one in spent]
    top_deg = parabola_top(dict(zip(map(float, CLOSING_DEG), peaks_a, strict=True)))
    spent.append(run_plainly(switch_on_deck(case, top_deg, INRUSH_CYCLES * cycle_s, STEP)))
    for one in spent:
        told(one.cpu_s)
    return inrush_readings(case.lamp, spent[-1].waves.from_zero(), cycle_s / 2)


def readings(case: Case, printed: list[Deck], waves: list[Waveforms]) -> Readings:
    """Readings by the project's own reading code."""
    state, lamp = case.conditions.operating_point(), case.lamp
    if case.bench == "steady":
        return steady_readings(lamp, state, settled(printed[0], waves[0], state))
    runs = []
    for (disc, angle, polarity), deck, one in zip(surges_of(case), printed, waves, strict=True):
        fires_s = (SETTLING_CYCLES + angle / 360.0) * state.cycle_s
        window = Window(lamp, one.since(fires_s), 0.0, WINDOW_S)
        runs.append(SurgeRun(disc, angle, polarity, deck, window, "from rest"))
    return surge_readings(lamp, runs)[0]


def take(case: Case, workers: int, told: Callable[[float], None]) -> Readings:
    """Readings of a cold case by the plain way, `workers` runs at a time; `told` what each took."""
    if case.bench == "switch-on":
        return take_switched_on(case, workers, told)
    printed = decks(case)
    assert set(lamp_vectors(case.lamp)) <= set(printed[0].keep)
    with ThreadPoolExecutor(workers) as threads:
        spent = list(threads.map(run_plainly, printed))
    for one in spent:
        told(one.cpu_s)
    kept = [replace(one.waves, vectors={n: one.waves[n] for n in printed[0].keep}) for one in spent]
    return readings(case, printed, kept)
