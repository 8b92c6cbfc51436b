"""A few parts on a mains of their own, run by the real engine: what a kind does, without a lamp around it."""

from __future__ import annotations

import numpy as np

from coldiron.deck.circuit import PoweredCircuit
from coldiron.deck.deck import Deck, Heading, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Array, Waveforms
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import Part, PartConditions
from coldiron.sources import Supply, SupplyValues
from coldiron.sources.ammeter import Ammeter
from coldiron.sources.sine import SineSupply
from laboratory import Laboratory

FINE = SolverSettings(step_s=10e-6, reltol=1e-5, abstol=1e-9, vntol=1e-6)


class PartWaves:
    """Vectors of a run as a part asks for them."""

    def __init__(self, waves: Waveforms, conditions: PartConditions) -> None:
        self.waves, self.conditions = waves, conditions

    @property
    def time_s(self) -> Array:
        """Instants [s]."""
        return self.waves.time_s

    def v(self, plus: str, minus: str = "0") -> Array:
        """Voltage between two nodes [V]."""
        low = 0.0 if minus == "0" else self.waves[f"v({minus.lower()})"]
        return np.asarray(self.waves[f"v({plus.lower()})"] - low)

    def i(self, element: str) -> Array:
        """Current [A]."""
        return self.waves[f"i({element.lower()})"]

    def since(self, start_s: float) -> PartWaves:
        """The run from a moment on."""
        return PartWaves(self.waves.since(start_s), self.conditions)


def deck_of(
    *parts: Part,
    peak_v: float,
    frequency_hz: float = 50.0,
    phase_deg: float = 0.0,
    stop_s: float = 0.1,
    ohm: float = 1e-3,
    henry: float = 1e-9,
    fineness: SolverSettings = FINE,
    conditions: PartConditions | None = None,
    start: InitialConditions | None = None,
    supply: Supply | None = None,
) -> Deck:
    """Deck of parts between "line" and "neutral" (node 0 is minus) on a stiff sine."""
    exposed = PoweredCircuit(
        before=(
            supply
            or SineSupply(
                "mains",
                ("feed", "neutral"),
                SupplyValues(peak_v, frequency_hz, phase_deg, ohm, henry, damping_ohm=10.0),
            ),
            Ammeter("input", ("feed", "line"), None),
        ),
        parts=Circuit(parts),
        conditions=conditions or PartConditions(),
    )
    return render(
        "steady",
        Heading("steady", "a few parts"),
        exposed,
        keep=("all",),
        stop_s=stop_s,
        fineness=fineness,
        start=start,
    )


def run_parts(laboratory: Laboratory, *parts: Part, **how: object) -> PartWaves:
    """What a few parts do on a sine."""
    conditions = how.get("conditions") or PartConditions()
    assert isinstance(conditions, PartConditions)
    return PartWaves(laboratory.run(deck_of(*parts, **how)), conditions)  # type: ignore[arg-type]
