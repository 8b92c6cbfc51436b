"""Fallback attempts: solver settings that are tried one after the other when the engine gives up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from coldiron.benches.base import GAVE_UP
from coldiron.deck.deck import SolverSettings
from coldiron.errors import NoConvergence

T = TypeVar("T")

RELAXED = (
    SolverSettings(step_s=5e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
    SolverSettings(step_s=1e-6, reltol=3e-3, abstol=1e-5, vntol=1e-2),
    SolverSettings(step_s=2e-6, reltol=5e-3, abstol=1e-4, vntol=1e-2),
)
"""The last attempts of every bench on the mains: where a steep junction, or a sink that leaves its
regulation, stops the engine, another step and tolerances above the noise of double precision get it
through."""


def first_solved(attempts: Sequence[SolverSettings], attempt: Callable[[SolverSettings], T]) -> tuple[T, str]:
    """First attempt that gets through, and how it did.

    Parameters
    ----------
    attempts : sequence of SolverSettings
        Tried one after the other.
    attempt : callable
        Does the job with solver settings; raises NoConvergence when the engine gives up.

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
    >>> first_solved([SolverSettings(2e-5), SolverSettings(1e-5)], lambda settings: 1e6 * settings.step_s)
    (20.0, 'steps to 20 us at 0.0001')
    """
    tried = ""
    for settings in attempts[:-1]:
        try:
            return attempt(settings), f"{settings}{tried}"
        except NoConvergence:
            tried += f", after {settings} {GAVE_UP}"
    return attempt(attempts[-1]), f"{attempts[-1]}{tried}"
