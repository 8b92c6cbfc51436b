"""What tolerances do to one variant: each reading between its fifth and 95th per cent, yields, worst cases.

The worst case is a run: every value at the end of its tolerance that raises the reading, by the signs of the
rank regression. Adding sensitivities up would be 30 % short in avalanche and 46 % long on flicker (measured).
Where the ranks do not explain, or another run is worse, the worst of all runs is told as "at least".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coldiron.answer.use import GROUPS, Topic
from coldiron.limits.verdict import Verdict
from coldiron.readings.catalogue import COLD, COLUMNS, WARM
from coldiron.spread.population import Drawing, Held, Population, Run, gathered
from coldiron.spread.ranks import Influence, influence
from coldiron.spread.sample import drawn
from coldiron.spread.yields import Yield, yield_of

Array = NDArray[np.float64]

PERCENT = (5.0, 50.0, 95.0)
BEATEN_RATIO = 0.005
"""Share of its span by which a run may be worse than the vertex and count as the same."""
LEAST_REACHED = 0.4
"""Use of a limit by the worst of all lamps below which its corner is not run: none was 2.2 times as bad."""
_DERIVED = {"light_pct": "light_A"}
"""Readings against the lamp as found, and what stands for them in one lamp."""
_BESIDE = (("surge", "surge_bus_peak_V"), ("steady", "line_fusing_W"))


@dataclass(frozen=True)
class Extreme:
    """A worst case: its value, and whether there may be worse ("at least")."""

    value: float
    at_least: bool


@dataclass(frozen=True)
class ReadingSpread:
    """One reading over all lamps of a drawing.

    `low` and `high` are the worst cases either way; `moved_by` the values that move it most, with coefficient
    or index, `by_ranks` which of the two.
    """

    bench: str
    reading: str
    n: int
    nominal: float
    p5: float
    p50: float
    p95: float
    low: Extreme
    high: Extreme
    moved_by: tuple[tuple[str, float], ...]
    by_ranks: bool
    r2: float


@dataclass(frozen=True)
class LimitSpread:
    """One limit over all lamps of a drawing.

    `nominal_use` is used over allowed of the nominal lamp, NaN where that was not judged; `worst` the largest
    use, and `worst_verdict` the verdict behind it; `rated_v` the mains that it was judged on alone, None
    where on the mains as it varies.
    """

    bench: str
    topic: Topic
    yielded: Yield
    nominal_use: float
    worst: Extreme
    worst_verdict: Verdict
    moved_by: tuple[tuple[str, float], ...]
    by_ranks: bool
    r2: float
    rated_v: float | None

    @property
    def held(self) -> Held:
        """Bench and topic."""
        return self.bench, self.topic

    @property
    def worth_a_word(self) -> bool:
        """Whether not every lamp keeps it with room to spare."""
        return self.yielded.kept < self.yielded.of or self.worst.value > 1.0


@dataclass(frozen=True)
class Margins:
    """What came of one variant's spread.

    `together` is the yield of all ratings of parts at once; `populations` are kept for what looks on.
    """

    drawing: Drawing
    readings: tuple[ReadingSpread, ...]
    limits: tuple[LimitSpread, ...]
    together: Yield | None
    failed: Mapping[str, int]
    cases: int
    varying: Population
    rated: Population | None

    def limit(self, held: Held) -> LimitSpread | None:
        """Limit by its bench and topic."""
        return next((one for one in self.limits if one.held == held), None)


def margins(drawing: Drawing, run: Run) -> Margins:
    """Run the lamps of a drawing and say what came of them.

    Parameters
    ----------
    drawing : Drawing
    run : callable
        Cases to finished cases, in their order.
    """
    d = len(drawing.values)
    off = drawn(d, drawing.spread)
    whole = np.vstack([np.zeros(d), off])
    both = _both_populations(drawing, whole, run)
    varying, rated = both
    found = [_tail(population) for population in both if population is not None]
    influences = {
        key: influence(off, values) for key, values in found[0].readings.items() if key in headlines(drawing)
    }
    used = {
        (place, held): influence(off, uses)
        for place, one in enumerate(found)
        for held, uses in one.uses.items()
    }
    reached = {(place, held): float(np.nanmax(found[place].uses[held])) for place, held in used}
    vertices = _vertices(drawing, influences, used, reached, run)
    readings = tuple(
        _reading(drawing, key, varying, influences[key], vertices)
        for key in headlines(drawing)
        if key in influences
    )
    limits = tuple(
        _limit(drawing, held, population, influence_of, vertices, rated=place == 1)
        for (place, held), influence_of in used.items()
        for population in [both[place]]
        if population is not None and np.isfinite(population.over[held][1:]).any()
    )
    counted = [one for one in both if one is not None]
    return Margins(
        drawing,
        readings,
        tuple(
            sorted(
                limits, key=lambda one: (GROUPS.index(one.topic.group), one.yielded.ratio, -one.worst.value)
            )
        ),
        _together(found[0]),
        {bench: sum(one.failed.get(bench, 0) for one in counted) for bench in drawing.benches},
        sum(one.runs * len(one.failed) for one in counted),
        varying,
        rated,
    )


def headlines(drawing: Drawing) -> list[tuple[str, str]]:
    """Readings worth a row: those of the table of variants, cold where the lamp was not run warm."""
    found = []
    for bench, reading in (*COLUMNS, *_BESIDE):
        own = COLD if bench == WARM and WARM not in drawing.benches else bench
        if own in drawing.benches:
            found.append((own, _DERIVED.get(reading, reading)))
    return list(dict.fromkeys(found))


def _both_populations(drawing: Drawing, off: Array, run: Run) -> tuple[Population, Population | None]:
    """Both in one go, so that no worker waits between them."""
    benches, rated = drawing.benches, drawing.rated_only
    first = [case for n, row in enumerate(off) for case in drawing.cases(f"{n}", row, benches)]
    then = [case for n, row in enumerate(off) for case in drawing.cases(f"{n} rated", row, rated, rated=True)]
    done = list(run([*first, *then]))
    varying = gathered(drawing, off, benches, done[: len(first)])
    return varying, gathered(drawing, off, rated, done[len(first) :], rated=True) if rated else None


def _tail(population: Population) -> Population:
    """All lamps but the nominal one."""
    return Population(
        population.off[1:],
        {key: values[1:] for key, values in population.readings.items()},
        {key: values[1:] for key, values in population.uses.items()},
        {key: values[1:] for key, values in population.over.items()},
        population.verdicts,
        population.failed,
    )


@dataclass(frozen=True)
class _Vertices:
    """Runs at the corners that signs point to: whole populations, by bench and whether on the rated mains."""

    of: Mapping[tuple[str, bool], Population]

    def reading(self, bench: str, reading: str) -> Array:
        population = self.of.get((bench, False))
        return population.readings.get((bench, reading), np.empty(0)) if population else np.empty(0)

    def use(self, held: Held, *, rated: bool) -> Array:
        population = self.of.get((held[0], rated))
        return population.uses.get(held, np.empty(0)) if population else np.empty(0)


def _vertices(
    drawing: Drawing,
    readings: Mapping[tuple[str, str], Influence],
    uses: Mapping[tuple[int, Held], Influence],
    reached: Mapping[tuple[int, Held], float],
    run: Run,
) -> _Vertices:
    """Run the corner of each reading either way and of each limit upwards; equal corners of a bench once."""
    wanted: dict[tuple[str, bool], dict[tuple[float, ...], None]] = {}
    for (bench, _), one in readings.items():
        if one.ranks_explain:
            for signs in (one.signs, -one.signs):
                wanted.setdefault((bench, False), {})[tuple(signs.tolist())] = None
    for (place, (bench, topic)), one in uses.items():
        if one.ranks_explain and reached[place, (bench, topic)] >= LEAST_REACHED:
            wanted.setdefault((bench, place == 1), {})[tuple(one.signs.tolist())] = None
    rows = {key: np.array(list(corners)) for key, corners in wanted.items()}
    cases = {
        (bench, rated): [
            case
            for n, row in enumerate(corners)
            for case in drawing.cases(f"corner {n}{' rated' if rated else ''}", row, [bench], rated=rated)
        ]
        for (bench, rated), corners in rows.items()
    }
    done = list(run([case for of in cases.values() for case in of]))
    found, at = {}, 0
    for (bench, rated), of in cases.items():
        corners = rows[bench, rated]
        found[bench, rated] = gathered(drawing, corners, [bench], done[at : at + len(of)], rated=rated)
        at += len(of)
    return _Vertices(found)


def _reading(
    drawing: Drawing, key: tuple[str, str], population: Population, of: Influence, vertices: _Vertices
) -> ReadingSpread:
    bench, reading = key
    values = population.readings[key]
    there = values[1:][np.isfinite(values[1:])]
    p5, p50, p95 = (float(v) for v in np.percentile(there, PERCENT))
    corners = vertices.reading(bench, reading)
    return ReadingSpread(
        bench,
        reading,
        len(there),
        float(values[0]),
        p5,
        p50,
        p95,
        _extreme(-values, -corners, explained=of.ranks_explain, flip=True),
        _extreme(values, corners, explained=of.ranks_explain),
        _moved(drawing, of),
        of.ranks_explain,
        of.r2,
    )


def _limit(
    drawing: Drawing, held: Held, population: Population, of: Influence, vertices: _Vertices, *, rated: bool
) -> LimitSpread:
    over, uses = population.over[held], population.uses[held]
    judged = np.isfinite(over[1:])
    corners = vertices.use(held, rated=rated)
    verdict = population.verdicts[held]
    corner = vertices.of.get((held[0], rated))
    if corner is not None and held in corner.verdicts and corner.verdicts[held].use_ratio > verdict.use_ratio:
        verdict = corner.verdicts[held]
    return LimitSpread(
        bench=held[0],
        topic=held[1],
        yielded=yield_of(int((over[1:][judged] == 0.0).sum()), int(judged.sum())),
        nominal_use=float(uses[0]),
        worst=_extreme(uses, corners, explained=of.ranks_explain),
        worst_verdict=verdict,
        moved_by=_moved(drawing, of),
        by_ranks=of.ranks_explain,
        r2=of.r2,
        rated_v=drawing.rated_v if rated else None,
    )


def _extreme(values: Array, corners: Array, *, explained: bool, flip: bool = False) -> Extreme:
    """The largest of runs and corners; "at least" where the corners do not hold it."""
    runs = values[np.isfinite(values)]
    at = corners[np.isfinite(corners)]
    most = max([*runs.tolist(), *at.tolist()])
    span = float(runs.max() - runs.min())
    beaten = not len(at) or at.max() < runs.max() - BEATEN_RATIO * span
    still = span <= 1e-9 * abs(most)
    return Extreme(-most if flip else most, bool((not explained or beaten) and not still))


def _moved(drawing: Drawing, of: Influence) -> tuple[tuple[str, float], ...]:
    return tuple((drawing.values[place].key, weight) for place, weight in of.order)


def _together(population: Population) -> Yield | None:
    """Yield of every rating of a part at once, over the lamps of which every bench gave an answer."""
    rated = [over for (_, topic), over in population.over.items() if topic.group == "rating"]
    if not rated:
        return None
    stacked = np.vstack(rated)
    whole = np.isfinite(stacked).all(axis=0)
    if not whole.any():
        return None
    return yield_of(int((stacked[:, whole].max(axis=0) == 0.0).sum()), int(whole.sum()))
