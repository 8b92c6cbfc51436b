"""Which case results a picture lays over each other, and lines drawn with the pen of their variant."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.axes import Axes

from coldiron.benches.base import Case
from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array, Waveforms
from coldiron.pictures.ink import LONE_PEN, Pen, pen
from coldiron.readings.catalogue import COLD, WARM
from coldiron.readings.figures import figure
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase

MOST_ON_A_FILE = 6
"""More lines than this in one standing picture cannot be told apart."""
_MOST_WORDS = 8
LONGEST_NAME = 30
LEAST_APART_RATIO = 0.01
"""Lines that are nearer than this share of the largest would lie on each other."""


@dataclass(frozen=True, eq=False)
class Lay:
    """One variant's result on one bench, with its number in the study (0 is as found).

    `is_lone` says that a picture shows no other.
    """

    number: int
    case: Case
    readings: Mapping[str, float | str]
    waves: Mapping[str, Mapping[str, Array]]
    is_lone: bool = False

    @property
    def name(self) -> str:
        """The variant's name."""
        return self.case.variant

    @property
    def pen(self) -> Pen:
        """The variant's pen."""
        return LONE_PEN if self.is_lone else pen(self.number)

    @property
    def title(self) -> str:
        """Number and name."""
        return f"{self.number} · {short_name(self.name)}"

    def window(self, label: str, start_s: float = -math.inf, stop_s: float = math.inf) -> Window:
        """A run of the case, or a stretch of it, as parts may be asked of it."""
        rows = self.waves[label]
        waves = Waveforms(rows["time"], {name: row for name, row in rows.items() if name != "time"})
        first_s, last_s = float(waves.time_s[0]), float(waves.time_s[-1])
        return Window(self.case.lamp, waves, max(first_s, start_s), min(last_s, stop_s))

    def reading(self, name: str) -> float:
        """A numeric reading, NaN where the case has none."""
        value = self.readings.get(name)
        return float(value) if isinstance(value, int | float) else float("nan")


def lays(results: Results, bench: str, needs: str = "") -> list[Lay]:
    """Every variant's result on a bench under the first conditions in which it was run, where there is one.

    Parameters
    ----------
    results : Results
    bench : str
    needs : str
        Label of the run that a picture draws: a case without the waves of it is left out. Any case with
        readings will do when absent.
    """
    first: dict[str, FinishedCase] = {}
    for one in results:
        if one.case.bench == bench:
            first.setdefault(one.case.variant, one)
    found = [
        Lay(
            results.numbers[variant],
            one.case,
            results.readings(variant, bench, one.case.conditions.label),
            one.result.waves or {},
        )
        for variant, one in first.items()
        if one.result.readings and (not needs or needs in (one.result.waves or {}))
    ]
    return alone(found)


def alone(found: Sequence[Lay]) -> list[Lay]:
    """Lays of which one that is the only one says so."""
    return [replace(lay, is_lone=len(found) == 1) for lay in found]


def settled(results: Results) -> tuple[list[Lay], str]:
    """Every variant settled on the mains, and the bench: warm if the lamp as found was run warm, else cold.

    All are of one bench, so that no picture holds a warm lamp against a cold one.
    """
    for bench in (WARM, COLD):
        found = lays(results, bench, bench)
        if any(lay.number == 0 for lay in found):
            return found, bench
    return lays(results, COLD, COLD), COLD


STATES = {WARM: "warm, settled", COLD: "cold, settled"}
"""What a bench has made of the lamp, for a title."""


def about(shown: Sequence[Lay], state: str = "") -> str:
    """What a picture is of: lamp, bench, conditions, warm or cold, and the variant if there is but one."""
    case = shown[0].case
    variant = [shown[0].title] if len(shown) == 1 else []
    return " · ".join(
        [
            case.lamp.name,
            *variant,
            f"bench {case.bench}",
            case.conditions.label,
            state or STATES.get(case.bench, "cold"),
        ]
    )


def spanning(
    all_lays: Sequence[Lay],
    reading: str,
    most: int = MOST_ON_A_FILE,
    *,
    least_ratio: float = LEAST_APART_RATIO,
) -> list[Lay]:
    """As found and those that differ most in a reading from the ones already chosen, in the study's order."""
    values = {lay.number: np.nan_to_num(lay.reading(reading)) for lay in all_lays}
    scale = max(map(abs, values.values()), default=0.0) or 1.0
    chosen = list(all_lays[:1])
    while len(chosen) < min(most, len(all_lays)):
        apart = {
            lay: min(abs(values[lay.number] - values[other.number]) for other in chosen)
            for lay in all_lays
            if lay not in chosen
        }
        farthest = max(apart, key=lambda lay: apart[lay])
        if apart[farthest] < least_ratio * scale:
            break
        chosen.append(farthest)
    return sorted(chosen, key=lambda lay: lay.number)


def draw(axes: Axes, lay: Lay, x: Array, y: Array) -> None:
    """Draw one line of a variant with its pen."""
    style = lay.pen
    (line,) = axes.plot(
        x,
        y,
        color=style.colour,
        linewidth=style.width,
        dashes=style.dashes or (None, None),
        marker=style.marker or None,
        markersize=4.0,
        markevery=(0.03 * (1 + lay.number % 5), 0.22),
        markerfacecolor="none",
        zorder=3 if lay.number else 2.2,
    )
    line.set_gid(f"lay-{lay.number}-{len(axes.lines)}")


def short_name(name: str) -> str:
    """A variant's name, cut where a picture has no room for it.

    Examples
    --------
    >>> short_name("22 µF and 10 Ω")
    '22 µF and 10 Ω'
    """
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def shortly(lays: Sequence[Lay]) -> str:
    """Names of some variants as one phrase.

    Examples
    --------
    >>> shortly([])
    ''
    """
    names = [lay.name for lay in lays[:_MOST_WORDS]]
    return ", ".join(names) + (f" and {len(lays) - _MOST_WORDS} more" if len(lays) > _MOST_WORDS else "")


def words(values: Iterable[tuple[str, float, str]]) -> str:
    """Readings of some variants as one phrase for those who hear a picture instead of seeing it.

    Examples
    --------
    >>> words([("as found", 3.2449, "A"), ("22 µF", 14.34, "A")])
    'as found 3.24 A, 22 µF 14.3 A'
    """
    said = [f"{name} {figure(value)} {unit}" for name, value, unit in values]
    more = f" and {len(said) - _MOST_WORDS} more in the table" if len(said) > _MOST_WORDS else ""
    return ", ".join(said[:_MOST_WORDS]) + more
