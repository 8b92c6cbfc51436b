"""End states ranked by how well each explains what was found; twins, the likely set, odd readings.

All states are alike likely beforehand: nothing here knows how often a part fails. A fault counts as shown
only where it explains the findings ten times as well as a healthy lamp does, and where no good lamp would
read so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.diagnosis.endstates import HEALTHY
from coldiron.diagnosis.likelihood import (
    TWINS_DISTANCE,
    Array,
    Explained,
    Readings,
    Severity,
    States,
    distance,
    explained,
    outside,
    wrong_density,
)
from coldiron.diagnosis.look import Seen, log_likelihood
from coldiron.diagnosis.signatures import Signatures

SHOWN: Final = 10.0
"""How much better than a healthy lamp a fault has to explain the findings to count as shown."""
WORSE_LOT: Final = 1.5
"""And the readings must be none that good lamps give, even of a lot that is spread so much wider than
assumed."""
PLAIN: Final = 1000.0
"""From so much better on that is not asked: of 360 good lamps of such a lot none came there (our
measurement)."""
HELD: Final = 0.9
ODD: Final = 0.25
"""A reading is named from this probability on that it is the wrong one. With 0.5 (and 2 % of readings wrong)
71 % of readings a quarter off were named on the hardest lamps, so 76 %; of right readings 1 % are (our
measurement)."""
FAR: Final = 4.0
"""A reading is named too when it is so many standard deviations off what the others say in the first
state."""
NEGLIGIBLE: Final = 1e-3
"""Below this share of the first a state is no twin worth a word."""


@dataclass(frozen=True)
class Found:
    """One reading: which measurement, by its place, and what the meter showed, in its unit."""

    place: int
    value: float
    tolerance_ratio: float | None = None


@dataclass(frozen=True)
class Findings:
    """All that is known of the broken lamp."""

    readings: tuple[Found, ...] = ()
    seen: Seen = field(default_factory=Seen)


@dataclass(frozen=True)
class Odd:
    """A reading that the first state does not explain: so many standard deviations off."""

    found: Found
    expected: float
    off: float


@dataclass(frozen=True)
class Line:
    """States that the findings cannot tell apart, the likelier first, and their probability together."""

    states: tuple[int, ...]
    probability: float


@dataclass(frozen=True)
class Ranking:
    """What came of it.

    Parameters
    ----------
    signatures, findings
        What was asked.
    probability : (states,) array
        Of each state, given that it is one of them.
    order : (states,) array of int
        The likeliest first.
    lines : tuple of Line
        The same, twins together, the likeliest line first.
    likely : tuple of int
        The smallest set of states that holds nine tenths.
    shown : bool
        Whether a fault is shown at all.
    odd : tuple of Odd
        Readings that the first state does not explain.
    """

    signatures: Signatures
    findings: Findings
    probability: Array
    order: NDArray[np.int_]
    overlap: Array
    lines: tuple[Line, ...]
    likely: tuple[int, ...]
    shown: bool
    odd: tuple[Odd, ...]

    @property
    def first(self) -> int:
        """The likeliest state."""
        return int(self.order[0])

    def is_healthy(self, state: int) -> bool:
        """Whether a state is that of a good lamp."""
        return self.signatures.states[state].name == HEALTHY

    def words(self, state: int) -> Array:
        """Logarithm of the probability of what was seen, in each severity of a state."""
        return np.array([log_likelihood(self.findings.seen, look) for look in self.signatures.looks[state]])

    @property
    def lead(self) -> int:
        """First state of the likeliest line: of several twins none need be the likeliest by itself."""
        return self.lines[0].states[0]

    def twins(self, one: int, other: int) -> bool:
        """Whether the readings that were taken cannot tell two states apart."""
        return distance(self.overlap[one, other]) <= TWINS_DISTANCE


Severities = tuple[tuple[Severity, ...], ...]


def rank(signatures: Signatures, findings: Findings) -> Ranking:
    """Rank the end states of a lamp by what was found on one."""
    severities = with_tolerances(signatures, findings)
    words = np.array([log_likelihood(findings.seen, look) for state in signatures.looks for look in state])
    read = _read(signatures, findings)
    held = explained(severities, read, words)
    probability = np.exp(held.log_density - np.logaddexp.reduce(held.log_density))
    order = np.argsort(-probability, kind="stable")
    overlap = signatures.overlap(read.places)
    count = int(np.searchsorted(np.cumsum(probability[order]), HELD)) + 1
    healthy = signatures.state(HEALTHY)
    return Ranking(
        signatures,
        findings,
        probability,
        order,
        overlap,
        lines=tuple(sorted(_lines(probability, order, overlap, healthy), key=lambda line: -line.probability)),
        likely=tuple(order[:count].tolist()),
        shown=_shown(signatures, findings, read, held, healthy),
        odd=tuple(_odd(severities, signatures, findings, read, held, probability)),
    )


def _shown(signatures: Signatures, findings: Findings, read: Readings, held: Explained, healthy: int) -> bool:
    """Whether a fault is shown: by readings that no good lamp gives, or by what was seen alone."""
    broken = [n for n in range(len(held.log_density)) if n != healthy]
    best = max(broken, key=lambda n: float(held.log_density[n]))
    better = float(held.log_density[best] - held.log_density[healthy])
    if better < math.log(SHOWN) or better >= math.log(PLAIN):
        return better >= math.log(PLAIN)
    words = [
        max(log_likelihood(findings.seen, look) for look in signatures.looks[n]) for n in (best, healthy)
    ]
    by_eye = words[0] - words[1] >= math.log(SHOWN)
    return by_eye or outside(with_tolerances(signatures, findings)[healthy], read, WORSE_LOT)


def with_tolerances(signatures: Signatures, findings: Findings) -> Severities:
    """Severities with the meter tolerances that stand beside readings in place of typical ones."""
    own = {found.place: found.tolerance_ratio for found in findings.readings if found.tolerance_ratio}
    if not own:
        return signatures.severities
    return tuple(tuple(signatures.with_meters(one, own) for one in state) for state in signatures.severities)


def scaled_readings(signatures: Signatures, findings: Findings) -> Array:
    """Readings on the scales of their kinds."""
    kinds = [signatures.measurables[found.place].kind for found in findings.readings]
    return np.array([kind.scaled(found.value) for kind, found in zip(kinds, findings.readings, strict=True)])


def _read(signatures: Signatures, findings: Findings) -> Readings:
    places = tuple(found.place for found in findings.readings)
    kinds = [signatures.measurables[place].kind for place in places]
    scaled = scaled_readings(signatures, findings)
    wrong = [
        wrong_density(float(value), kind.logarithmic, 10.0 * max(kind.tolerance_least, 1e-3))
        for kind, value in zip(kinds, scaled, strict=True)
    ]
    return Readings(places, scaled, np.array(wrong))


def _lines(probability: Array, order: NDArray[np.int_], overlap: Array, healthy: int) -> Iterator[Line]:
    """Twins together: each line has the likeliest state that is in none yet, and all that are like it."""
    left = [int(n) for n in order]
    while left:
        first = left[0]
        twins = [
            n
            for n in left
            if n == first
            or (
                healthy not in (n, first)
                and distance(overlap[first, n]) <= TWINS_DISTANCE
                and probability[n] >= NEGLIGIBLE * probability[first]
            )
        ]
        yield Line(tuple(twins), float(sum(probability[n] for n in twins)))
        left = [n for n in left if n not in twins]


def _odd(
    severities: Severities,
    signatures: Signatures,
    findings: Findings,
    read: Readings,
    held: Explained,
    probability: Array,
) -> Iterator[Odd]:
    """Readings that are likely the wrong one, or far off what the others say in the first state."""
    first = int(np.argmax(probability))
    likely_wrong = probability @ held.wrong
    for i, found in enumerate(findings.readings):
        expected, off = predicted(severities[first], read, i)
        if likely_wrong[i] > ODD or (abs(off) > FAR and likely_wrong.max(initial=0.0) <= ODD):
            kind = signatures.measurables[found.place].kind
            yield Odd(found, kind.plain(expected), off)


def predicted(state: Sequence[Severity], read: Readings, i: int) -> tuple[float, float]:
    """What the other readings say of the i-th in the severity of a state that explains them best.

    Returns
    -------
    tuple of float
        Expected value on its scale, and by how many standard deviations the reading is off it.
    """
    rest = [k for k in range(len(read.places)) if k != i]
    at = States([state], [read.places[k] for k in rest])
    best = int(np.argmax(at.log_density(read.values[rest][np.newaxis])[0])) if rest else 0
    whole = States([state], read.places)
    mean, cov = whole.mean[best], whole.cov[best]
    gain = np.linalg.solve(cov[np.ix_(rest, rest)], cov[rest, i]) if rest else np.zeros(0)
    expected = mean[i] + gain @ (read.values[rest] - mean[rest])
    variance = cov[i, i] - gain @ cov[rest, i]
    return float(expected), float((read.values[i] - expected) / math.sqrt(max(variance, 1e-30)))
