"""A ladder of finenesses: what is tried when the engine does not get through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from coldiron.benches.base import GAVE_UP
from coldiron.deck.deck import Fineness
from coldiron.errors import NoConvergence

T = TypeVar("T")

RELAXED = (
    Fineness(step_s=5e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
    Fineness(step_s=1e-6, reltol=3e-3, abstol=1e-5, vntol=1e-2),
    Fineness(step_s=2e-6, reltol=5e-3, abstol=1e-4, vntol=1e-2),
)
"""The last rungs of every bench on the mains: where a steep junction, or a sink that leaves its regulation,
stops the engine, another step and tolerances above the noise of double precision get it through."""


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
        What the attempt returned, and how it got there, in words.

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
