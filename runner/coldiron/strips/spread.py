"""What each bench shows: which run, its strips from outside to inside, its axis of time.

A strip is one row of the sheet. Time is in seconds of the bench's own clock: 0 is when the surge fires, the
mains rises through zero, the plug is pulled.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from coldiron.benches import stress
from coldiron.benches.base import Case
from coldiron.benches.cycle import Window
from coldiron.benches.unplug import SAFE_V
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NotApplicable
from coldiron.lamp.lamp import Lamp
from coldiron.parts.roles import Clamps
from coldiron.strips.thin import thinned
from coldiron.strips.vectors import part_rows, vector

BEFORE_S = 100e-6
"""How much of the moments before a surge is shown in front of it [s]."""
_EARLIEST_S = 1e-4
"""An axis of decades has no 0: it begins here [s]."""

PlainRun = Mapping[str, Array]


@dataclass(frozen=True)
class Axis:
    """Axis of time: the unit that people read, its size [s], what is shown at first [s], whether decades."""

    unit: str
    size_s: float
    first_s: tuple[float, float]
    decades: bool = False
    title: str = "time"


@dataclass(frozen=True)
class Level:
    """A rating, or a level that a rule wants: a hairline across a strip."""

    strip: str
    value: float
    words: str


@dataclass(frozen=True)
class Strips:
    """Rows of one run on common instants, with what their parts bear at each.

    `time_s` and `rows` are single precision, which a screen cannot tell from double.
    """

    axis: Axis
    time_s: Array
    rows: Mapping[str, Array]
    parts: Mapping[str, tuple[Array, Array]]
    levels: tuple[Level, ...] = ()

    def at(self, moment_s: float) -> dict[str, tuple[float, float]]:
        """Voltage and current of each part at a moment, between instants by straight lines [V, A]."""
        return {
            name: (float(np.interp(moment_s, self.time_s, v)), float(np.interp(moment_s, self.time_s, a)))
            for name, (v, a) in self.parts.items()
        }


_NO_SINKS = ("string voltage", "string current")
_SHOWN: Final[Mapping[str, tuple[str, ...]]] = {
    "surge": ("generator voltage", "{clamp} current", "bus voltage", "drain voltage", "sink current"),
    "steady": ("mains voltage", "input current", "bus voltage", "string current", "drain voltage"),
    "switch-on": ("mains voltage", "input current", "bus voltage", "string current", "drain voltage"),
    "unplug": ("bus voltage", "lamp voltage", "string current"),
    "": ("lamp voltage", "input current", "bus voltage", "string current", "drain voltage"),
}
_SHOWN_WARM = {"heat": _SHOWN["steady"]}

RATED_IN: Final[Mapping[str, str]] = {
    "bus_peak_V": "bus voltage",
    "reservoir_peak_V": "bus voltage",
    "bus_highest_V": "bus voltage",
    "reservoir_highest_V": "bus voltage",
    "unplug_bus_V": "bus voltage",
    "drain_peak_V": "drain voltage",
    "drain_highest_V": "drain voltage",
    "sink_peak_A": "sink current",
    "string_peak_A": "string current",
    "led_held_A": "string current",
    "varistor_peak_A": "varistor current",
}
"""Strip in which a rating can be drawn, by how the id of the reading ends that is held to it."""


def shown(lamp: Lamp, bench: str) -> list[str]:
    """Names of a bench's strips for a lamp, those that it can have.

    Parameters
    ----------
    lamp : Lamp
    bench : str
    """
    names = _SHOWN_WARM.get(bench) or _SHOWN.get(bench, _SHOWN[""])
    clamps = lamp.circuit.having(Clamps)
    found = []
    for name in names:
        if "{clamp}" in name:
            if clamps:
                found.append(name.format(clamp=clamps[0].name.replace("_", " ")))
        elif name in ("drain voltage", "sink current") and not lamp.circuit.regulators:
            found += [other for other in _NO_SINKS if other not in found and other not in names]
        else:
            found.append(name)
    return found


def joined(case: Case, runs: Mapping[str, PlainRun]) -> tuple[Waveforms, Axis]:
    """Run of a case that is looked at, on its own clock, and its axis.

    Of a surge that is the surge with the last moments before it in front; of a settled lamp its last whole
    cycle.

    Raises
    ------
    NotApplicable
        If the case kept no run.
    """
    if case.bench == "surge":
        moment_s = case.conditions.surge_angles_deg[0] / 360.0 / case.conditions.frequency_hz
        return _with_before(runs["before"], runs["surge"], moment_s, case), Axis(
            "µs", 1e-6, (-2e-6, 60e-6), title="time after the surge fires"
        )
    if case.bench in ("steady", "heat"):
        if case.bench not in runs:
            raise NotApplicable("the lamp does not settle: there is no cycle to look at")
        cycle_s = 1.0 / case.conditions.frequency_hz
        waves = _waves(runs[case.bench])
        last = waves.since(float(waves.time_s[-1]) - cycle_s)
        return last, Axis("ms", 1e-3, (0.0, cycle_s), title="time from a rising zero of the mains")
    if case.bench == "switch-on":
        waves = _waves(runs["first light"])
        shown_s = min(float(waves.time_s[-1]), 1.0 / case.conditions.frequency_hz)
        return waves, Axis("ms", 1e-3, (0.0, shown_s), title="time after the switch closes")
    if case.bench == "unplug":
        waves = _waves(runs["unplug"])
        first = int(np.searchsorted(waves.time_s, _EARLIEST_S))
        kept = Waveforms(waves.time_s[first:], {name: row[first:] for name, row in waves.vectors.items()})
        stop_s = float(kept.time_s[-1])
        return kept, Axis("s", 1.0, (1e-3, stop_s), decades=True, title="time after unplugging")
    if not runs:
        raise NotApplicable("this bench kept no run")
    waves = _waves(runs.get(case.bench) or list(runs.values())[-1])
    stop_s = float(waves.time_s[-1])
    unit, size_s = next((u, s) for u, s, most_s in _UNITS if stop_s <= most_s)
    return waves, Axis(unit, size_s, (0.0, stop_s))


_UNITS = (("µs", 1e-6, 1e-3), ("ms", 1e-3, 2.0), ("s", 1.0, np.inf))


def strips(
    case: Case, runs: Mapping[str, PlainRun], readings: Mapping[str, float | str], names: Sequence[str] = ()
) -> Strips:
    """Strips of a case.

    Parameters
    ----------
    case : Case
    runs : mapping
        Vectors of its runs by label, as a case result keeps them.
    readings : mapping
        Its readings by id, which ratings of pulses depend on.
    names : sequence of str, optional
        Which strips; those of the bench when absent.

    Raises
    ------
    NotApplicable
        If the case kept no run, or lacks a strip that was named.
    """
    waves, axis = joined(case, runs)
    window = Window(case.lamp, waves, float(waves.time_s[0]), float(waves.time_s[-1]))
    rows = {name: vector(window, name) for name in names or shown(case.lamp, case.bench)}
    kept = thinned(np.stack(list(rows.values())))
    parts = part_rows(window)
    return Strips(
        axis,
        _single(window.time_s[kept]),
        {name: _single(row[kept]) for name, row in rows.items()},
        {name: (_single(v[kept]), _single(a[kept])) for name, (v, a) in parts.items()},
        tuple(_levels(case, readings, set(rows))),
    )


def _single(row: Array) -> Array:
    single: Array = np.asarray(row, dtype=np.float32)
    return single


def _levels(case: Case, readings: Mapping[str, float | str], rows: set[str]) -> list[Level]:
    found: dict[tuple[str, float], Level] = {}
    for rated in stress.ratings(case.lamp, readings, case.conditions.frequency_hz):
        for end, strip in RATED_IN.items():
            if strip in rows and (rated.reading == end or rated.reading.endswith(f"_{end}")):
                part = rated.part.partition(", ")[0]
                found.setdefault(
                    (strip, rated.most), Level(strip, rated.most, f"{part} rated {rated.most:.4g}")
                )
    if case.bench == "unplug":
        for level_v in SAFE_V:
            found["bus voltage", level_v] = Level("bus voltage", level_v, f"{level_v:g} V")
    return list(found.values())


def _waves(run: PlainRun) -> Waveforms:
    return Waveforms(run["time"], {name: row for name, row in run.items() if name != "time"})


def _with_before(before: PlainRun, fired: PlainRun, moment_s: float, case: Case) -> Waveforms:
    """A surge with the last moments of the settled run before it in front."""
    quiet, surge = _waves(before), _waves(fired)
    cycle_s = 1.0 / case.conditions.frequency_hz
    fires_s = float(quiet.time_s[-1]) - cycle_s + moment_s
    names = [name for name in surge.vectors if name in quiet.vectors]
    inside = (quiet.time_s > fires_s - BEFORE_S) & (quiet.time_s < fires_s)
    first_s = max(fires_s - BEFORE_S, float(quiet.time_s[0]))
    instants = np.concatenate(([first_s], quiet.time_s[inside]))
    return Waveforms(
        np.concatenate((instants - fires_s, surge.time_s)),
        {
            name: np.concatenate((np.interp(instants, quiet.time_s, quiet[name]), surge[name]))
            for name in names
        },
    )
