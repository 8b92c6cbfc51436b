"""Demo lamps with a slow store, settled in a worker and run on."""

from __future__ import annotations

import tomllib
from pathlib import Path

from coldiron.benches import steady
from coldiron.benches.cycle import Window
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import lamp_from
from coldiron.resources import resource_dir
from heat_rig import _session_lab
from laboratory import case_of

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
