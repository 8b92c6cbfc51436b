"""Which one further measurement tells the first states apart, for its effort, and without danger.

The gain of a measurement is the entropy that is left of the first states, on the mean, once it is taken:

    gain = H(p) - sum over s of p_s mean over draws v of H(p given v)    [bit]

with v drawn from what each state, given all readings so far, has it at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from coldiron.diagnosis.endstates import BREAKER_A
from coldiron.diagnosis.likelihood import FREEDOM, Array, Severity, States
from coldiron.diagnosis.measurable import Measurable
from coldiron.diagnosis.rank import HELD, Ranking, scaled_readings, with_tolerances

FIRST: Final = 8
"""States that are weighed against each other."""
DRAWS: Final = 24
APART_BIT: Final = 0.5
"""Gain on two alike likely states from which a measurement tells them apart."""
WORTH_BIT: Final = 0.05
AMONG: Final = 0.01
"""A state is among the candidates from this probability on."""


@dataclass(frozen=True)
class Proposal:
    """The measurement to take next.

    Parameters
    ----------
    measurable : Measurable
    place : int
        Its place among all.
    gain_bit, effort : float
    first, second : int
        States that it tells apart.
    expected : tuple of float
        What it would show in each of the two, in its unit.
    """

    measurable: Measurable
    place: int
    gain_bit: float
    effort: float
    first: int
    second: int
    expected: tuple[float, float]


def forbidden(ranking: Ranking) -> frozenset[str]:
    """Dangers that are not worth it: none live or at the plug while a dead short or a fire is a candidate."""
    of = ranking.signatures
    for n, state in enumerate(of.states):
        if ranking.probability[n] < AMONG and n not in ranking.likely:
            continue
        looks = of.looks[n]
        if state.dead_short or any(look.hot or look.input_a >= BREAKER_A for look in looks):
            return frozenset(("live", "plug"))
    if "trips the breaker" in ranking.findings.seen.symptoms:
        return frozenset(("live", "plug"))
    return frozenset()


def propose(ranking: Ranking) -> Proposal | None:
    """The best next measurement; None where one state holds nine tenths, or nothing tells any more."""
    if ranking.probability[ranking.first] >= HELD:
        return None
    of, barred = ranking.signatures, forbidden(ranking)
    top = [int(n) for n in ranking.order[:FIRST]]
    taken = {found.place for found in ranking.findings.readings}
    given = [_given(ranking, n) for n in top]
    weights = ranking.probability[top] / ranking.probability[top].sum()
    best: tuple[tuple[bool, float], Proposal] | None = None
    for place, one in enumerate(of.measurables):
        if place in taken or one.kind.danger in barred or one.kind.what == "mains voltage":
            continue
        models = [each.of(place) for each in given]
        gain = _gain(models, weights)
        # The first two that this one tells apart; states that nothing tells apart have no next reading.
        other = next((k for k in range(1, len(top)) if _apart(models[0], models[k])), None)
        if other is None or gain < WORTH_BIT:
            continue
        expected = tuple(one.kind.plain(float(models[k].shares @ models[k].mean)) for k in (0, other))
        proposal = Proposal(one, place, gain, one.effort, top[0], top[other], (expected[0], expected[1]))
        # To tell the first two apart comes before any gain further down.
        rank = (other == _first_apart(top, given, barred, taken, of.measurables), gain / one.effort)
        if best is None or rank > best[0]:
            best = rank, proposal
    return None if best is None else best[1]


def _first_apart(
    top: list[int],
    given: list[_Given],
    barred: frozenset[str],
    taken: set[int],
    measurables: tuple[Measurable, ...],
) -> int | None:
    """Place of the likeliest state that anything still to be measured tells from the first."""
    open_to = [
        place
        for place, one in enumerate(measurables)
        if place not in taken and one.kind.danger not in barred and one.kind.what != "mains voltage"
    ]
    for k in range(1, len(top)):
        if any(_apart(given[0].of(place), given[k].of(place)) for place in open_to):
            return k
    return None


@dataclass(frozen=True)
class _Model:
    """What one measurement shows in one state: severities with their shares, each a Student t."""

    mean: Array
    sd: Array
    shares: Array

    def log_density(self, values: Array) -> Array:
        z = (values[:, np.newaxis] - self.mean) / (self.sd * math.sqrt((FREEDOM - 2.0) / FREEDOM))
        # The constant of a t is the same for all that are compared.
        rows = np.log(self.shares) - np.log(self.sd) - (FREEDOM + 1) / 2 * np.log1p(z**2 / FREEDOM)
        return np.asarray(np.logaddexp.reduce(rows, axis=1))

    def drawn(self, draws: int, rng: np.random.Generator) -> Array:
        which = rng.choice(len(self.shares), draws, p=self.shares)
        return np.asarray(self.mean[which] + self.sd[which] * rng.standard_normal(draws))


class _Given:
    """A state, given what was read: from it follows what any other measurement would show."""

    def __init__(
        self, severities: tuple[Severity, ...], places: list[int], values: Array, logs: Array
    ) -> None:
        self._severities, self._places = severities, places
        at = States([severities], places)
        logs = logs + at.log_density(values[np.newaxis])[0]
        self._shares = np.exp(logs - np.logaddexp.reduce(logs))
        self._off = values - at.mean
        self._inverse = np.linalg.inv(at.cov) if places else at.cov
        self._models: dict[int, _Model] = {}

    def of(self, place: int) -> _Model:
        """What a measurement would show."""
        if place not in self._models:
            self._models[place] = self._made(place)
        return self._models[place]

    def _made(self, place: int) -> _Model:
        mean, sd = [], []
        for n, one in enumerate(self._severities):
            with_read = one.slopes[self._places] @ one.slopes[place] / 3.0
            variance = float(one.slopes[place] @ one.slopes[place]) / 3.0 + one.meter[place] ** 2
            gain = self._inverse[n] @ with_read
            # Readings that no severity explains must not drag the rest along.
            step = np.clip(self._off[n], -1e3, 1e3)
            mean.append(float(one.mean[place] + gain @ step))
            sd.append(math.sqrt(max(variance - float(gain @ with_read), 1e-6 * variance, 1e-12)))
        shares = np.maximum(self._shares, 1e-12)
        return _Model(np.array(mean), np.array(sd), shares / shares.sum())


def _given(ranking: Ranking, state: int) -> _Given:
    severities = with_tolerances(ranking.signatures, ranking.findings)[state]
    places = [found.place for found in ranking.findings.readings]
    # What was likely read wrong says nothing about the next reading either.
    odd = {odd.found.place for odd in ranking.odd}
    kept = [n for n, place in enumerate(places) if place not in odd]
    values = scaled_readings(ranking.signatures, ranking.findings)
    words = ranking.words(state)
    return _Given(severities, [places[n] for n in kept], values[kept], words)


def _gain(models: list[_Model], weights: Array) -> float:
    """Entropy that a measurement takes away, on the mean [bit]."""
    rng = np.random.default_rng(2)
    left = 0.0
    for model, weight in zip(models, weights, strict=True):
        if weight <= 0.0:
            continue
        values = model.drawn(DRAWS, rng)
        logs = np.stack([each.log_density(values) for each in models], axis=1) + np.log(weights + 1e-300)
        after = np.exp(logs - np.logaddexp.reduce(logs, axis=1, keepdims=True))
        left += weight * float(np.mean([entropy_bit(row) for row in after]))
    return entropy_bit(weights) - left


def _apart(one: _Model, other: _Model) -> bool:
    return _gain([one, other], np.array([0.5, 0.5])) >= APART_BIT


def entropy_bit(shares: Array) -> float:
    """Entropy of probabilities [bit].

    >>> entropy_bit(np.array([0.5, 0.5])), entropy_bit(np.array([1.0, 0.0]))
    (1.0, 0.0)
    """
    some = shares[shares > 0.0]
    return float(-(some * np.log2(some)).sum()) + 0.0
