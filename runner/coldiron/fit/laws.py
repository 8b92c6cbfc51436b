"""What readings of one lamp have to obey: each law a function of some readings, negative when broken."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from coldiron.fit import meter, power_factor
from coldiron.fit.doubt import LIKELY_NEED, log_uncertainty
from coldiron.fit.free import free_value
from coldiron.lamp.model import Provenance
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.quantities import CELSIUS

Values = dict[int, float]
"""Values of readings, by their place among all readings of the lamp."""
Number = Callable[[Values], float]

_WARM_AND_COOL = (
    ("die", "board"), ("string", "board"), ("board", "housing"), ("die", "housing"), ("string", "housing"),
)  # fmt: skip
"""Heat flows from the first to the second."""
_UNEXPLAINED_RATIO = 0.05
"""Share by which current may fall for reasons other than foldback: resistors drift, the bridge warms."""

_ALIKE_RATIO = 0.003
"""Two readings of one thing are the same to this share, besides their tolerances."""


@dataclass(frozen=True)
class Leaning:
    """A value of the lamp that nobody measured and a law leans on.

    `mends` is the value at which the law would hold, for people; None where it would be further off than
    it can be.
    """

    key: str
    provenance: Provenance
    mends: Callable[[Values], str | None]


@dataclass(frozen=True)
class Law:
    """One law: the readings it is about, its gap (negative when broken), what is wrong then.

    `leans_on` is the value of the lamp that is suspected before the readings.
    """

    involved: tuple[int, ...]
    gap: Number
    says: Callable[[Values], str]
    leans_on: Leaning | None = None


def laws(lamp: LinearSinksLamp) -> Iterator[Law]:
    """Every law that the readings of a lamp come under."""
    yield from _same_twice(lamp)
    for state in ("cold", "hot"):
        yield from _power(lamp, state)
    yield from _power_factors(lamp)
    yield from _foldback(lamp)
    yield from _temperatures(lamp)
    yield from _voltages(lamp)


def _places(lamp: LinearSinksLamp, what: str, state: str) -> list[int]:
    return [n for n, reading in enumerate(lamp.reading) if (reading.what, reading.state) == (what, state)]


def _same_mains(lamp: LinearSinksLamp, *places: int) -> bool:
    return len({meter.mains_v(lamp.reading[n], lamp) for n in places}) == 1


def _same_room(lamp: LinearSinksLamp, *places: int) -> bool:
    return len({meter.ambient_c(lamp.reading[n]) for n in places}) == 1


def _same_twice(lamp: LinearSinksLamp) -> Iterator[Law]:
    for a, b in itertools.combinations(range(len(lamp.reading)), 2):
        one, other = lamp.reading[a], lamp.reading[b]
        same = (one.what, one.state) == (other.what, other.state)
        if same and _same_mains(lamp, a, b) and _same_room(lamp, a, b):
            yield _alike(a, b)


def _alike(a: int, b: int) -> Law:
    return Law(
        (a, b),
        lambda v: _ALIKE_RATIO * abs(v[a]) - abs(v[a] - v[b]),
        lambda v: "the same reading taken twice, and not alike",
    )


def _power(lamp: LinearSinksLamp, state: str) -> Iterator[Law]:
    powers, currents = _places(lamp, "input power", state), _places(lamp, "input current", state)
    for p, i in itertools.product(powers, currents):
        if _same_mains(lamp, p, i):
            mains_v = meter.mains_v(lamp.reading[p], lamp)
            yield _highest_factor(p, i, mains_v)
            for read in _places(lamp, "power factor", state):
                if _same_mains(lamp, p, read):
                    yield _factor_as_read(p, i, read, mains_v)


def _factor(p: int, i: int, mains_v: float) -> Number:
    return lambda v: v[p] / (mains_v * v[i])


def _highest_factor(p: int, i: int, mains_v: float) -> Law:
    factor, highest = _factor(p, i, mains_v), power_factor.HIGHEST

    def says(v: Values) -> str:
        if factor(v) > 1.0:
            return f"power above {mains_v:g} V times the current (power factor {factor(v):.3f})"
        return (
            f"a power factor of {factor(v):.3f} at {mains_v:g} V, and a bridge with linear sinks has at "
            f"most {highest:.2f}"
        )

    return Law((p, i), lambda v: highest * (1.0 + power_factor.ALLOWANCE_RATIO) - factor(v), says)


def _factor_as_read(p: int, i: int, read: int, mains_v: float) -> Law:
    factor = _factor(p, i, mains_v)
    return Law(
        (p, i, read),
        lambda v: power_factor.ALLOWANCE_RATIO - abs(factor(v) / v[read] - 1.0),
        lambda v: f"power over volts times amperes is {factor(v):.3f} at {mains_v:g} V",
    )


def _ways_to_factor(lamp: LinearSinksLamp, state: str) -> Iterator[tuple[tuple[int, ...], Number]]:
    """Each way to know the power factor of a state: the readings it needs, and the function of them."""
    for read in _places(lamp, "power factor", state):
        yield (read,), _itself(read)
    powers, currents = _places(lamp, "input power", state), _places(lamp, "input current", state)
    for p, i in itertools.product(powers, currents):
        if _same_mains(lamp, p, i):
            yield (p, i), _factor(p, i, meter.mains_v(lamp.reading[p], lamp))


def _itself(place: int) -> Number:
    return lambda v: v[place]


def _power_factors(lamp: LinearSinksLamp) -> Iterator[Law]:
    hot_range = power_factor.HotRange(lamp)
    kind = "with a reservoir" if lamp.reservoir else "without reservoir"
    ways = itertools.product(_ways_to_factor(lamp, "cold"), _ways_to_factor(lamp, "hot"))
    for (cold_of, cold), (hot_of, hot) in ways:
        if _same_mains(lamp, *cold_of, *hot_of):
            yield _cold_and_hot((*cold_of, *hot_of), cold, hot, hot_range, kind)


def _cold_and_hot(
    involved: tuple[int, ...], cold: Number, hot: Number, hot_range: power_factor.HotRange, kind: str
) -> Law:
    def gap(v: Values) -> float:
        least, most = hot_range(cold(v))
        return min(hot(v) - least, most - hot(v))

    def says(v: Values) -> str:
        least, most = hot_range(cold(v))
        return (
            f"power factors of {cold(v):.3f} cold and {hot(v):.3f} hot cannot both be true: a lamp {kind} "
            f"that has the first has {least:.2f} to {most:.2f} hot"
        )

    return Law(involved, gap, says)


def _foldback(lamp: LinearSinksLamp) -> Iterator[Law]:
    """Hot, a lamp takes no less than what the foldback at its dies leaves it."""
    sinks = lamp.sinks
    never = sinks.foldback_slope_per_k == 0.0 or sinks.foldback_floor_ratio == 1.0
    dies: list[int | None] = [None] if never else [*_places(lamp, "die temperature", "hot")]
    for what in ("input current", "input power"):
        pairs = itertools.product(_places(lamp, what, "cold"), _places(lamp, what, "hot"), dies)
        for cold, hot, die in pairs:
            if _same_mains(lamp, cold, hot):
                yield _no_less(lamp, what.removeprefix("input "), cold, hot, die)


def _no_less(lamp: LinearSinksLamp, what: str, cold: int, hot: int, die: int | None) -> Law:
    def held(v: Values) -> float:
        return 1.0 if die is None else lamp.sinks.foldback_ratio(v[die])

    def says(v: Values) -> str:
        falls = 100.0 * (1.0 - v[hot] / v[cold])
        takes = 100.0 * (1.0 - held(v))
        why = (
            "the sinks have no foldback"
            if die is None
            else f"foldback at {v[die]:.0f} °C takes {takes:.0f} % (knee {lamp.sinks.foldback_knee_c:g} °C)"
        )
        return f"{what} falls by {falls:.0f} % with no foldback to explain it: {why}"

    return Law(
        (cold, hot) if die is None else (cold, hot, die),
        lambda v: v[hot] / v[cold] - held(v) * (1.0 - _UNEXPLAINED_RATIO),
        says,
        None if die is None else _leaning_on_knee(lamp, cold, hot, die),
    )


def _leaning_on_knee(lamp: LinearSinksLamp, cold: int, hot: int, die: int) -> Leaning | None:
    """The foldback knee, from which a lower one lets the current fall as far as it was read to."""
    sinks = lamp.sinks
    knee = free_value("sinks", sinks, "foldback_knee")
    if knee is None or log_uncertainty(knee) == 0.0:
        return None

    def mends(v: Values) -> str | None:
        left = max(v[hot] / v[cold] / (1.0 - _UNEXPLAINED_RATIO), sinks.foldback_floor_ratio)
        knee_c = v[die] - (1.0 - left) / sinks.foldback_slope_per_k
        furthest = knee.start * math.exp(-LIKELY_NEED * log_uncertainty(knee))
        likely = v[hot] / v[cold] >= sinks.foldback_floor_ratio and knee_c >= furthest
        return CELSIUS.format(math.floor(knee_c)) if likely else None

    return Leaning(knee.key, knee.provenance, mends)


def _temperatures(lamp: LinearSinksLamp) -> Iterator[Law]:
    for warm, cool in _WARM_AND_COOL:
        warms, cools = (_places(lamp, f"{name} temperature", "hot") for name in (warm, cool))
        for a, b in itertools.product(warms, cools):
            if _same_room(lamp, a, b):
                yield _no_cooler(a, b, f"a {warm} cooler than its {cool}")
    for n, reading in enumerate(lamp.reading):
        if reading.what.endswith("temperature"):
            yield _no_cooler_than_room(n, meter.ambient_c(reading))


def _no_cooler(a: int, b: int, wrong: str) -> Law:
    return Law((a, b), lambda v: v[a] - v[b], lambda v: wrong)


def _no_cooler_than_room(n: int, room_c: float) -> Law:
    return Law((n,), lambda v: v[n] - room_c, lambda v: f"cooler than its room of {room_c:g} °C")


def _voltages(lamp: LinearSinksLamp) -> Iterator[Law]:
    for n, reading in enumerate(lamp.reading):
        if reading.what in ("string voltage", "bus voltage"):
            yield _below_peak(n, 2.0**0.5 * meter.mains_v(reading, lamp))


def _below_peak(n: int, peak_v: float) -> Law:
    return Law((n,), lambda v: peak_v - v[n], lambda v: f"above the peak of the mains ({peak_v:.0f} V)")
