"""What the readings of a lamp file leave of its assumed values."""

from __future__ import annotations

from collections.abc import Callable, Collection

from coldiron.errors import ColdironError
from coldiron.fit.contradictions import contradictions
from coldiron.fit.free import default_keys, free_values
from coldiron.fit.solve import Fit, FitWork
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.spread.values import assumptions, value_of


def pinned(
    found: Lamp, variant: Lamp, benches: Collection[str], fit: Callable[[FitWork], Fit]
) -> dict[str, tuple[float, float]]:
    """Ends between which the readings on the lamp as found leave a value that a variant has still.

    Parameters
    ----------
    found : Lamp
        As found, with its readings. No fit is made of a topology that has none, or of readings that
        contradict each other: then nothing is pinned.
    variant : Lamp
    benches : collection of str
        Those whose assumed values are asked about: no fit is made for values that none of them is.
    fit : callable
        Runs a fit.
    """
    if (
        type(found) is not LinearSinksLamp
        or not found.reading
        or any(not one.held for one in contradictions(found))
    ):
        return {}
    keys = default_keys(found)
    if not {key for key, _ in assumptions(variant, benches)} & set(keys):
        return {}
    free = free_values(found, keys)
    try:
        fitted = fit(FitWork(found, tuple(free))).fitted
    except ColdironError:
        return {}  # The readings then pin nothing: what is plausible stays.
    ends = {}
    for one in fitted:
        before, now = value_of(found, one.free.key), value_of(variant, one.free.key)
        if not one.at_limit and before is not None and now is not None and before.number == now.number:
            ends[one.free.key] = (one.value - one.plus_minus, one.value + one.plus_minus)
    return ends
