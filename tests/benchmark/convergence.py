"""How far each bench is from a refined run of the same lamp, with the steps and tolerances it uses.

A refined run has a tenth of the step and a tenth of the tolerance. Surge peaks have to be within 1 %,
dissipation within 0.2 % of the input, on every demo lamp, bare and with reservoirs. Run by `make bench`;
the numbers are kept beside those of the benchmark.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

from coldiron.benches import steady, surge, switch_on
from coldiron.benches.base import Case, TestConditions
from coldiron.deck.deck import SolverSettings
from coldiron.engine.confine import enter_private_folder
from coldiron.engine.session import Session
from coldiron.errors import NoConvergence
from coldiron.lamp.parts import ReservoirCapacitor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.sweep.worker import SessionSimulator
from lamps import load_lamp

DEMO_LAMPS = ("kerbside-flood", "corridor-panel", "pantry-bulb")
PEAKS = (
    "surge_sink_peak_A", "surge_string_peak_A", "surge_drain_peak_V", "surge_bus_peak_V",
    "surge_bridge_peak_A", "surge_lamp_peak_V",
)  # fmt: skip
WATTS = ("input_power_W", "string_W", "sinks_W", "fusing_W", "bridge_W")
INRUSH = ("inrush_peak_A", "inrush_i2t_A2s", "bus_peak_V")
ALLOWED_PCT = {"surge": 1.0, "steady": 0.2, "switch-on": 1.0}
LADDERS: dict[str, tuple[ModuleType, str, tuple[str, ...]]] = {
    "switch-on": (switch_on, "PULSE", INRUSH),
    "steady": (steady, "ATTEMPTS", WATTS),
    "surge": (surge, "FIRED", PEAKS),
}


def lamps() -> Iterator[tuple[str, Lamp]]:
    """Demo lamps as found, with reservoirs, and without a varistor."""
    for name in DEMO_LAMPS:
        lamp = load_lamp(name)
        yield name, lamp
        yield f"{name}, no varistor", lamp.model_copy(update={"varistor": None})
        for capacitance_f in (4.7e-6, 47e-6):
            reservoir = ReservoirCapacitor(capacitance_f=capacitance_f)
            yield f"{name}, {1e6 * capacitance_f:g} uF", lamp.model_copy(update={"reservoir": reservoir})


def refined(fineness: SolverSettings) -> SolverSettings:
    """A tenth of the step and of the tolerance."""
    return replace(fineness, step_s=fineness.step_s / 10, reltol=fineness.reltol / 10)


def take(bench: str, lamp: Lamp, session: Session) -> dict[str, Any]:
    """Readings of a lamp on its own supply at 1 kV."""
    conditions = TestConditions(lamp.mains.voltage_v, lamp.mains.frequency_hz, surge_level_v=1000.0)
    case = Case("convergence", "as found", lamp, bench, conditions)
    return dict(LADDERS[bench][0].take(case, SessionSimulator(session)).readings)


def compare(bench: str, lamp: Lamp, session: Session) -> dict[str, float] | None:
    """Difference of each reading to that of refined runs [%]; None where the engine gives no refined run."""
    module, ladder, names = LADDERS[bench]
    used: tuple[SolverSettings, ...] = getattr(module, ladder)
    ours = take(bench, lamp, session)
    setattr(module, ladder, tuple(refined(fineness) for fineness in used))
    try:
        fine = take(bench, lamp, session)
    except NoConvergence:
        return None
    finally:
        setattr(module, ladder, used)
    whole = {name: fine["input_power_W"] if name in WATTS else fine[name] for name in names}
    return {name: 100.0 * (ours[name] - fine[name]) / whole[name] for name in names}


def main() -> int:
    """Print one line a lamp and bench; 1 when something is farther off than it may be."""
    home = Path.cwd()
    folder = enter_private_folder()
    session, table, over = Session(), {}, 0
    for name, lamp in lamps():
        for bench, allowed_pct in ALLOWED_PCT.items():
            found = compare(bench, lamp, session)
            table[f"{name} | {bench}"] = found
            if found is None:
                sys.stdout.write(f"{name} | {bench}: no refined run\n")
                continue
            reading, worst_pct = max(found.items(), key=lambda item: abs(item[1]))
            over += abs(worst_pct) > allowed_pct
            mark = "  OVER" if abs(worst_pct) > allowed_pct else ""
            sys.stdout.write(f"{name} | {bench}: {worst_pct:+.3f} % ({reading}){mark}\n")
    path = home / "results" / "bench" / "convergence.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(table, indent=2) + "\n")
    os.chdir(home)
    shutil.rmtree(folder)
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main())
