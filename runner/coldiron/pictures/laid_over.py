"""Every picture of a study with many variants in it, for a page on which a person picks those to see.

Each is drawn twice: broad for a screen, and narrow for a phone and for two abreast on paper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple, Protocol

from coldiron.answer.answer import Answer
from coldiron.pictures import rooms
from coldiron.pictures.case import plain
from coldiron.pictures.chosen import laid
from coldiron.pictures.harmonics import harmonics
from coldiron.pictures.ink import BROAD, NARROW, Form, Picture
from coldiron.pictures.lay import Lay, alone, lays, settled
from coldiron.pictures.light import light
from coldiron.pictures.limits import harmonic_limits
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up
from coldiron.pictures.watts import watts
from coldiron.readings.catalogue import COLD
from coldiron.study.model import Study
from coldiron.sweep.results import Results


class Drawer(Protocol):
    """Draws some variants over each other."""

    def __call__(self, lays: Sequence[Lay], *, form: Form) -> Picture:
        """Return the picture."""
        ...


class Both(NamedTuple):
    """One picture in both widths of a page."""

    broad: Picture
    narrow: Picture


def both(draw: Callable[[Form], Picture]) -> Both:
    """Draw a picture in both widths."""
    return Both(draw(BROAD), draw(NARROW))


def laid_over(study: Study, results: Results, answer: Answer) -> dict[str, list[Both]]:
    """Pictures by bench, in the order of the benches; "heat" holds what is settled and warm.

    Parameters
    ----------
    study : Study
    results : Results
        Cases without waves are drawn from their readings alone.
    answer : Answer
        Chooses which variants are laid over where there are too many.
    """
    names = laid(answer)
    pictures: dict[str, list[Both]] = {}

    def add(bench: str, found: Sequence[Lay], *draw: Drawer) -> None:
        shown = alone([lay for lay in found if lay.name in names])
        if shown:
            drawn = (both(partial(_drawn, each, shown)) for each in draw)
            pictures.setdefault(bench, []).extend(drawn)

    run, bench = settled(results)
    limits = harmonic_limits(study, results)
    add("switch-on", lays(results, "switch-on", "switch-on"), switch_on)
    add(bench, run, partial(steady, bench=bench), partial(light, bench=bench))
    add(bench, lays(results, bench), watts)
    add("heat", lays(results, "heat", "warm-up"), warm_up)
    add("heat", lays(results, "heat", rooms.LABEL), rooms.rooms)
    add(COLD, lays(results, COLD), partial(harmonics, limits_pct=limits.allowed_pct, why=limits.why))
    add("surge", lays(results, "surge", "surge"), surge)
    add(
        "burst",
        lays(results, "burst", "single"),
        partial(plain, label="single", title="One pulse of the burst"),
    )
    add("dip", lays(results, "dip", "dip"), partial(plain, label="dip", title="A dip and the return"))
    add("unplug", lays(results, "unplug", "unplug"), unplug)
    return pictures


def _drawn(draw: Drawer, shown: Sequence[Lay], form: Form) -> Picture:
    return draw(shown, form=form)
