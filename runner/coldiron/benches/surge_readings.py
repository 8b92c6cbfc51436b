"""Readings of a set of surges: the worst over angles and polarities, and the part nearest to its rating."""

from __future__ import annotations

from dataclasses import dataclass

from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings, worst_of
from coldiron.benches.stress import weakest_readings
from coldiron.deck.deck import Deck
from coldiron.engine.waves import Waves
from coldiron.lamp.lamp import Lamp


@dataclass(frozen=True)
class SurgeRun:
    """One surge: where on the sine, which polarity, the deck, what it gave and how it was started."""

    angle_deg: float
    polarity: int
    deck: Deck
    waves: Waves
    road: str


def surge_readings(
    lamp: Lamp, runs: list[SurgeRun], window_s: float
) -> tuple[dict[str, float | str], SurgeRun]:
    """Worst readings over all surges, and the surge that the worst single sink saw most of.

    Returns
    -------
    dict
        Readings by id; `surge_worst_deg` and `surge_worst_polarity` belong to `surge_sink_peak_A`.
    SurgeRun
        The run of the largest sink current (of the largest drain voltage where currents are alike).
    """
    each = [pulse_readings(Window(lamp, run.waves, 0.0, window_s), "surge") for run in runs]
    readings, worst = worst_of(each, "surge")
    readings["surge_worst_deg"] = runs[worst].angle_deg
    readings["surge_worst_polarity"] = float(runs[worst].polarity)
    return {**readings, **weakest_readings(lamp, readings)}, runs[worst]
