"""Readings of a set of surges: the worst over angles and polarities, and the part nearest to its rating."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings, worst_of
from coldiron.benches.stress import weakest_readings
from coldiron.deck.deck import Deck
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.varistor import Disc
from coldiron.parts.roles import Clamps


@dataclass(frozen=True)
class SurgeRun:
    """One surge: the varistor's disc, where on the sine, which polarity, the deck, what it gave and how."""

    disc: Disc
    angle_deg: float
    polarity: int
    deck: Deck
    window: Window
    how: str

    @cached_property
    def readings(self) -> dict[str, float | str]:
        """What it does to each part."""
        return pulse_readings(self.window, "surge")


BANDED = ("sink_peak_A", "drain_peak_V", "bus_peak_V", "varistor_peak_A", "varistor_energy_J")
"""Readings told for each disc of the varistor, besides the worst of all."""


ALIKE_RATIO = 0.01
"""Readings that differ by less are alike but for the engine's steps."""


def discs_of(lamp: Lamp) -> tuple[Disc, ...]:
    """Discs that the varistors of a lamp may have, the one that lets most through first."""
    fitted = [part.discs for part in lamp.circuit.having(Clamps) if part.discs]
    return fitted[0] if fitted else ("high",)


def decisive(runs: Sequence[SurgeRun]) -> list[SurgeRun]:
    """Few surges among which is a worst one of every reading, so that no other need be run with another disc.

    A disc shifts how hard each surge is, not which is the hardest. Of surges alike the one is taken that is
    worst in most readings: either half wave of the mains makes the same of one.
    """
    each = [run.readings for run in runs]
    open_sets = []
    for name in each[0]:
        values = [float(one[name]) for one in each]
        if not name.endswith("_us") and max(values) > 0.0:
            open_sets.append(
                {n for n, value in enumerate(values) if value >= (1 - ALIKE_RATIO) * max(values)}
            )
    chosen: list[int] = []
    while open_sets:
        most = max(range(len(runs)), key=lambda number: sum(number in worst for worst in open_sets))
        chosen.append(most)
        open_sets = [worst for worst in open_sets if most not in worst]
    return [runs[number] for number in sorted(chosen)]


def surge_readings(lamp: Lamp, runs: list[SurgeRun]) -> tuple[dict[str, float | str], SurgeRun]:
    """Worst readings over all surges and discs, and the surge that the worst single sink saw most of.

    Returns
    -------
    dict
        Readings by id; `surge_worst_deg`, `surge_worst_polarity`, `surge_worst_disc` and `surge_limited_by`
        belong to `surge_sink_peak_A`. With a varistor those of `BANDED` are told for each disc too, as
        `surge_low_disc_sink_peak_A`.
    SurgeRun
        The run of the largest sink current (of the largest drain voltage where currents are alike).
    """
    each = [run.readings for run in runs]
    readings, worst = worst_of(each, "surge")
    readings |= limited_by(runs[worst].window)
    if discs_of(lamp) != ("high",):
        readings["surge_worst_disc"] = runs[worst].disc
        readings |= _bands(runs, each)
    readings["surge_worst_deg"] = runs[worst].angle_deg
    readings["surge_worst_polarity"] = float(runs[worst].polarity)
    # No rating of a pulse hangs on the mains frequency.
    return {**readings, **weakest_readings(lamp, readings, lamp.mains.frequency_hz)}, runs[worst]


def _bands(runs: Sequence[SurgeRun], each: Sequence[Mapping[str, float | str]]) -> dict[str, float | str]:
    """Worst readings of each disc."""
    found: dict[str, float | str] = {}
    for disc in dict.fromkeys(run.disc for run in runs):
        own = [one for run, one in zip(runs, each, strict=True) if run.disc == disc]
        for name in BANDED:
            if f"surge_{name}" not in own[0]:
                continue
            found[f"surge_{disc}_disc_{name}"] = max(float(one[f"surge_{name}"]) for one in own)
    return found


def limited_by(window: Window) -> dict[str, float | str]:
    """What set the largest current of a single regulator in a surge; nothing where nothing regulates."""
    if not window.regulators:
        return {}
    worst = max(window.regulators, key=lambda sink: max(float(row.max()) for row in sink.each_a(window)))
    return {"surge_limited_by": worst.limited_by(window)}
