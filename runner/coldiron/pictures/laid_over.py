"""Every picture of a study with all its variants in it, for a page on which a person picks those to see."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

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
from coldiron.sweep.run import Done

MOST_LAID_OVER = 24
"""A page with more variants than this in each picture would be slow on a phone."""


def laid_over(done: Sequence[Done], limits_pct: Mapping[int, float], why: str) -> dict[str, list[Picture]]:
    """Pictures by bench, in the order of the benches.

    Parameters
    ----------
    done : sequence of Done
        Finished cases; those without waves are drawn from their readings alone.
    limits_pct : mapping
        Limit of each harmonic's order [% of the fundamental]; empty where none applies.
    why : str
        Source of those limits, or why there are none.
    """
    drawn = [one for one in done if one.finding.waves]
    pictures: dict[str, list[Picture]] = {}

    def add(bench: str, reading: str, *draw: Callable[[Sequence[Lay]], Picture], needs: str = "") -> None:
        having = [lay for lay in lays(drawn, bench) if (needs or bench) in lay.waves]
        found = spanning(having, reading, MOST_LAID_OVER, least_ratio=0.0)
        if found:
            pictures.setdefault(bench, []).extend(each(found) for each in draw)

    add("switch-on", "inrush_peak_A", lambda found: switch_on(found, legend=False))
    add(
        "steady",
        "bus_ripple_V",
        lambda found: steady(found, legend=False),
        lambda found: light(found, legend=False),
        lambda found: harmonics(found, limits_pct, why, legend=False),
    )
    settled = lays(done, "steady")
    if settled:
        pictures.setdefault("steady", []).extend([watts(settled), tradeoff(settled)])
    add("heat", "sink_die_C", lambda found: warm_up(found, legend=False), needs="warm-up")
    add("heat", "sink_die_C", lambda found: rooms(found, legend=False), needs=LABEL)
    add("surge", "surge_sink_peak_A", lambda found: surge(found, legend=False))
    add(
        "burst",
        "burst_sink_peak_A",
        lambda found: plain(found, "single", "One pulse of the burst", legend=False),
        needs="single",
    )
    add("dip", "dip_light_gap_ms", lambda found: plain(found, "dip", "A dip and the return", legend=False))
    add("unplug", "discharge_60V_s", lambda found: unplug(found, legend=False))
    return pictures
