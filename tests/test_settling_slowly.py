"""Lamps with a slow store: what is settled stays where it is, however long the lamp runs on."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from coldiron.benches import settling, steady
from coldiron.benches.cycle import Window
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import lamp_from
from coldiron.resources import resource_dir
from heat_rig import _session_lab
from laboratory import Laboratory, case_of

pytestmark = pytest.mark.ngspice
LATER_CYCLES = 120
FURTHER = {
    # RC = 0.47 s: 24 mains cycles.
    "kerbside-flood": ("4.7k", "100 µF"),
    # RC = 0.47 s on a source of current; a last step alike was 1.1 % off.
    "landing-candle": ("1k", "470 µF"),
}


def with_slow_store(name: str) -> Lamp:
    """A demo lamp with an electrolytic behind a resistor across its bus."""
    ohm, farad = FURTHER[name]
    table = tomllib.loads((resource_dir("variants") / "lamps" / f"{name}.toml").read_text(encoding="utf-8"))
    table["part"] = {
        "C9": {"kind": "electrolytic", "across": ["bus", "minus"], "capacitance": farad, "voltage": "450 V"},
        "R9": {"kind": "resistor", "in_series_with": "C9", "resistance": ohm, "power": "5 W"},
    }
    return lamp_from(table, Path("slow.toml"))


def watts_now_and_later(name: str) -> tuple[float, float]:
    """Power of the LEDs in the settled cycle, and a hundred cycles on; runs in a worker."""
    lamp, lab = with_slow_store(name), _session_lab()
    case = case_of(lamp, "steady")
    point = case.conditions.operating_point()
    run = steady.settled(case, lab, point)
    later_s = LATER_CYCLES * point.cycle_s
    deck = steady.steady_deck(case, point, run.next_cycle(lamp), later_s, steady.ATTEMPTS[0])
    windows = (
        Window(lamp, run.waves, run.start_s, run.stop_s),
        Window(lamp, lab.run(deck), later_s - point.cycle_s, later_s),
    )
    now, later = [sum(s.dissipated_w(window) for s in lamp.circuit.lights) for window in windows]
    return now, later


@pytest.mark.parametrize("name", FURTHER)
def test_what_is_settled_stays(laboratory: Laboratory, name: str) -> None:
    # Its own future is the reference: five time constants on, the light is the same within 0.15 %.
    now, later = laboratory.call(watts_now_and_later, name)
    assert now == pytest.approx(later, rel=1.5e-3)


def test_a_leap_goes_to_the_end_of_a_geometric_series() -> None:
    # Closed form: steps 1, 1/2, 1/4 leave 1/4 · 1/2 / (1 - 1/2) = 1/4.
    direction = np.array([1.0, 2.0, -0.5])
    ends = [0.0 * direction, 1.0 * direction, 1.5 * direction]
    leap = settling._leap(ends, 100.0)
    assert leap is not None
    assert leap == pytest.approx(0.5 * direction)


def test_steps_that_turn_or_grow_are_no_mode_to_leap_along() -> None:
    direction, other = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    assert settling._leap([0 * direction, direction, direction + other], 100.0) is None
    assert settling._leap([0 * direction, direction, 2.5 * direction], 100.0) is None
    assert settling._leap([0 * direction, direction, 1.001 * direction], 100.0) is None
