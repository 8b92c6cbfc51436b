"""Every picture of a study with all its variants in it, for a page on which a person picks those to see."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Protocol

from coldiron.pictures.case import plain
from coldiron.pictures.harmonics import harmonics
from coldiron.pictures.ink import Picture
from coldiron.pictures.lay import Lay, lays, spanning
from coldiron.pictures.light import light
from coldiron.pictures.rooms import LABEL, rooms
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.tradeoff import tradeoff
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up
from coldiron.pictures.watts import watts
from coldiron.sweep.results import Results


class Drawer(Protocol):
    """Draws some variants over each other, with a key of its own or without."""

    def __call__(self, lays: Sequence[Lay], *, legend: bool) -> Picture:
        """Return the picture."""
        ...


MOST_LAID_OVER = 24
"""A page with more variants than this in each picture would be slow on a phone."""


def laid_over(
    results: Results, limits_pct: Mapping[str, Mapping[int, float]], why: str
) -> dict[str, list[Picture]]:
    """Pictures by bench, in the order of the benches.

    Parameters
    ----------
    results : Results
        Cases without waves are drawn from their readings alone.
    limits_pct : mapping
        Limits of the harmonics by name, then by order [% of the fundamental]; empty where none applies.
    why : str
        Source of those limits, or why there are none.
    """
    names = most_different(results)
    pictures: dict[str, list[Picture]] = {}

    def add(bench: str, *draw: Drawer, needs: str = "") -> None:
        found = [lay for lay in lays(results, bench, needs or bench) if lay.name in names]
        if found:
            pictures.setdefault(bench, []).extend(each(found, legend=False) for each in draw)

    add("switch-on", switch_on)
    add("steady", steady, light, partial(harmonics, limits_pct=limits_pct, why=why))
    settled = lays(results, "steady")
    if settled:
        pictures.setdefault("steady", []).extend([watts(settled), tradeoff(settled)])
    add("heat", warm_up, needs="warm-up")
    add("heat", rooms, needs=LABEL)
    add("surge", surge)
    add("burst", partial(plain, label="single", title="One pulse of the burst"), needs="single")
    add("dip", partial(plain, label="dip", title="A dip and the return"))
    add("unplug", unplug)
    return pictures


def most_different(results: Results) -> list[str]:
    """Variants that are laid over: all of them, or those that differ most where there are too many."""
    settled = lays(results, "steady")
    if not settled:
        return list(results.numbers)[:MOST_LAID_OVER]
    return [lay.name for lay in spanning(settled, "bus_ripple_V", MOST_LAID_OVER, least_ratio=0.0)]
