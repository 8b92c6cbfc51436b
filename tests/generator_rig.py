"""The surge generator alone: the project's own source, printed as the bench prints it, into a load."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from coldiron.benches.generator import fired_later, generator_values
from coldiron.deck.deck import Deck, InitialConditions
from coldiron.deck.guard import check_deck
from coldiron.engine.waves import Waveforms
from coldiron.readings import surges
from coldiron.sources.surge_generator import SurgeGenerator, SurgeGeneratorValues, storage_v
from laboratory import Laboratory
from source_macros import source_text

LEVEL_V = 1000.0
OPEN_OHM, SHORT_OHM = 1e6, 1e-4
UNPLUGGED_OHM, STIFF_OHM = 1e9, 1e-3
FIRES_S = 2e-6
Plane = Literal["bare", "coupled"]
MACROS: dict[Plane, tuple[str, ...]] = {"bare": ("generator",), "coupled": ("generator", "coupling")}
PORTS: dict[Plane, str] = {"bare": "surge", "coupled": "feed"}


def generator_deck(values: SurgeGeneratorValues, plane: Plane, load_ohm: float, supply_ohm: float) -> Deck:
    """Deck of the source with a load at its bare output, or behind its coupling to a supply that is dead."""
    title = f"generator alone, {plane} into {load_ohm:g} ohm"
    text = "\n".join(
        [
            f"* {title}",
            "Vneutral neutral 0 0",
            *(source_text("surge_generator", macro, values) for macro in MACROS[plane]),
            f"Rsupply {values.supply} neutral {supply_ohm:.12g}",
            "Vload load neutral 0",
            f"Rload {PORTS[plane]} load {load_ohm:.12g}",
            *([f".ic v(store)={values.charge_v:.12g}"] if values.fires_s is None else []),
            ".options method=gear reltol=1e-5 abstol=1e-9 chgtol=1e-13 temp=25 tnom=25",
            ".tran 2e-8 1.5e-4 0 2e-8 uic",
            ".end",
            "",
        ]
    )
    check_deck(text)
    return Deck(text=text, title=title, keep=("all",), stop_s=150e-6)


def wave(
    laboratory: Laboratory,
    generator: SurgeGenerator,
    plane: Plane,
    load_ohm: float,
    *,
    supply_ohm: float = UNPLUGGED_OHM,
    within_run: bool = False,
) -> Waveforms:
    """Run the charged generator from the moment it fires; its switch is closed at once, or within the run."""
    if within_run:
        later = fired_later(generator, InitialConditions(), LEVEL_V, 1, FIRES_S)
        return laboratory.run(generator_deck(later, plane, load_ohm, supply_ohm)).since(FIRES_S)
    at_once = generator_values(generator, InitialConditions(), fired=True)
    charged = replace(at_once, charge_v=storage_v(generator, LEVEL_V, 1))
    return laboratory.run(generator_deck(charged, plane, load_ohm, supply_ohm))


def figures(
    laboratory: Laboratory, generator: SurgeGenerator, plane: Plane, *, within_run: bool = False
) -> dict[str, float]:
    """What IEC 61000-4-5 tells a wave by, at an output with its supply unplugged."""
    opened = wave(laboratory, generator, plane, OPEN_OHM, within_run=within_run)
    shorted = wave(laboratory, generator, plane, SHORT_OHM, within_run=within_run)
    volt, ampere = opened[f"v({PORTS[plane]})"], shorted["i(vload)"]
    return {
        "peak_v": float(volt.max()),
        "voltage_front_s": surges.voltage_front_s(opened.time_s, volt),
        "voltage_width_s": surges.width_s(opened.time_s, volt),
        "current_front_s": surges.current_front_s(shorted.time_s, ampere),
        "current_duration_s": surges.current_duration_s(shorted.time_s, ampere),
        "impedance_ohm": float(volt.max() / ampere.max()),
        "undershoot_ratio": surges.undershoot_ratio(ampere),
    }


def back_filter_h(laboratory: Laboratory, generator: SurgeGenerator) -> float:
    """Inductance between lamp and supply by Faraday's law: volt-seconds over change of current."""
    open_port = wave(laboratory, generator, "coupled", OPEN_OHM, supply_ohm=STIFF_OHM)
    across_v = open_port.v("supply", "feed")
    current_a = open_port.i("ldecouple")
    return float(np.trapezoid(across_v, open_port.time_s) / (current_a[-1] - current_a[0]))
