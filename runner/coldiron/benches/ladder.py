"""A ladder of finenesses: what is tried when the engine does not get through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from coldiron.benches.base import GAVE_UP
from coldiron.deck.deck import Fineness
from coldiron.errors import NoConvergence

T = TypeVar("T")


def climb(ladder: Sequence[Fineness], attempt: Callable[[Fineness], T]) -> tuple[T, str]:
    """First attempt that gets through, and how it did.

    Parameters
    ----------
    ladder : sequence of Fineness
        Tried one after the other.
    attempt : callable
        Does the job at a fineness; raises NoConvergence when the engine gives up.

    Returns
    -------
    tuple
        What the attempt returned, and the road there in words.

    Raises
    ------
    NoConvergence
        Of the last attempt, when none got through.

    Examples
    --------
    >>> climb([Fineness(2e-5), Fineness(1e-5)], lambda fineness: 1e6 * fineness.step_s)
    (20.0, 'steps to 20 us at 0.0001')
    """
    tried = ""
    for fineness in ladder[:-1]:
        try:
            return attempt(fineness), f"{fineness}{tried}"
        except NoConvergence:
            tried += f", after {fineness} {GAVE_UP}"
    return attempt(ladder[-1]), f"{ladder[-1]}{tried}"
