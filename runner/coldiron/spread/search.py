"""Searches over real runs, side by side: what they ask for next goes to the workers in one go.

A search is a generator: it yields the value, or the steps, that it wants a lamp run with, and is sent what
that uses of a limit. So several of them, each of which must wait for its last run, keep all workers busy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator, Sequence
from typing import TypeVar

R = TypeVar("R")

Search = Generator[float, float, R]
"""Yields what it wants, is sent the use of a limit there (NaN where the run failed), returns what it has."""

FOUND_RATIO = 0.01
"""A value at which a verdict turns is found to this share of it."""
MOST_ROUNDS = 16
FALSE_POSITIONS = 5
GALLOP = (1, 2, 4, 8)
"""Steps of a series that are tried before a bisection."""


def together(
    searches: Sequence[Search[R]], look: Callable[[Sequence[tuple[int, float]]], Sequence[float]]
) -> list[R]:
    """Run searches to their ends, round by round.

    Parameters
    ----------
    searches : sequence of generators
    look : callable
        Number of a search and what it wants, for all of a round, to the uses there.
    """
    found: dict[int, R] = {}
    wants: dict[int, float] = {}

    def advance(number: int, use: float | None) -> None:
        """Let one search go on to what it wants next, or to its end."""
        try:
            search = searches[number]
            wants[number] = next(search) if use is None else search.send(use)
        except StopIteration as end:
            found[number] = end.value
            wants.pop(number, None)

    for number in range(len(searches)):
        advance(number, None)
    while wants:
        asked = list(wants.items())
        for (number, _), use in zip(asked, look(asked), strict=True):
            advance(number, use)
    return [found[number] for number in range(len(searches))]


def crossing(low: float, high: float, at_low: float, at_high: float) -> Search[float | None]:
    """Where a use of a limit crosses one between two values on either side of it, to 1 % of the value.

    By false position in the logarithms (Illinois), and a halving where that creeps, so that it never leaves
    the two; a run that failed is stepped aside from.

    Parameters
    ----------
    low, high : float
        Values, both above zero.
    at_low, at_high : float
        Use of the limit there, one above and one up to 1.

    Returns
    -------
    float or None
        The value, on the side on which the limit is kept; None where runs fail about it.
    """
    left, right = math.log(low), math.log(high)
    f_left, f_right = _offset(at_low), _offset(at_high)
    held = 0
    for number in range(MOST_ROUNDS):
        if right - left <= FOUND_RATIO:
            break
        share = f_left / (f_left - f_right)
        # Not nearer to either end than it has to be found: else the other end never comes closer.
        share = min(max(share, 0.02), 0.98) if math.isfinite(share) else 0.5
        if number >= FALSE_POSITIONS:
            share = 0.5  # what is not found by now is bent, or a cliff: halving never creeps
        at = left + share * (right - left)
        use = yield math.exp(at)
        if math.isnan(use):
            at = left + 0.5 * (share + 0.5) * (right - left)
            use = yield math.exp(at)
            if math.isnan(use):
                return None
        value = _offset(use)
        if (value > 0.0) == (f_left > 0.0):
            left, f_left = at, value
            f_right *= 0.5 if held < 0 else 1.0
            held = -1
        else:
            right, f_right = at, value
            f_left *= 0.5 if held > 0 else 1.0
            held = 1
    return math.exp(left if f_left <= 0.0 else right)


def _offset(use: float) -> float:
    """How far a use is from one, the same way up and down; what is exactly at the limit keeps it."""
    return math.log(max(use, 1e-6)) if use != 1.0 else -1e-12


def least_step(beside: Callable[[int], float | None], *, up: bool) -> Search[int | None]:
    """Fewest steps along a series, one way, at which a use of a limit is at most one.

    1, 2, 4 and 8 steps, then a bisection between the last that failed and the first that passes. It is the
    fewest as long as what passes goes on passing in between; a run that failed does not pass.

    Parameters
    ----------
    beside : callable
        Steps, negative downwards, to the value there; None past the end.
    up : bool

    Returns
    -------
    int or None
        Steps, negative downwards.
    """
    sign = 1 if up else -1
    failed, passes = 0, None
    for steps in GALLOP:
        if beside(sign * steps) is None:
            steps = next((n for n in range(steps - 1, failed, -1) if beside(sign * n) is not None), 0)
            if not steps:
                break
        use = yield sign * steps
        if use <= 1.0:
            passes = steps
            break
        failed = steps
    if passes is None:
        return None
    while passes - failed > 1:
        middle = (passes + failed) // 2
        use = yield sign * middle
        if use <= 1.0:
            passes = middle
        else:
            failed = middle
    return sign * passes
