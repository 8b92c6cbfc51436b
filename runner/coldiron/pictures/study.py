"""The pictures that a study leaves beside its tables."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from coldiron.pictures.ink import Picture
from coldiron.pictures.lay import lays, spanning
from coldiron.pictures.light import light
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge, with_and_without_varistor
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.tradeoff import tradeoff
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up
from coldiron.pictures.watts import watts
from coldiron.sweep.results import Results


def standing_pictures(results: Results) -> Iterator[Picture]:
    """Pictures that are legible on their own: as found with the few variants that span the readings."""
    if found := lays(results, "switch-on", "switch-on"):
        yield switch_on(spanning(found, "inrush_peak_A"))
    if found := lays(results, "steady", "steady"):
        yield steady(spanning(found, "bus_ripple_V"))
        yield light(spanning(found, "flicker_pct"))
        yield watts(found)
        yield tradeoff(found)
    if found := lays(results, "heat", "warm-up"):
        yield warm_up(spanning(found, "sink_die_C"))
    if found := with_and_without_varistor(lays(results, "surge", "surge")):
        yield surge(found)
    if found := lays(results, "unplug", "unplug"):
        yield unplug(spanning(found, "discharge_60V_s"))


MOST_SCHEMATICS = 40
"""A study of more variants leaves only the schematic of the lamp as found."""


def schematics(results: Results) -> Iterator[Picture]:
    """The lamp as found, and every variant with what differs in it; their files bear the variant's number."""
    # Its library of symbols loads pyplot, which whoever only wants waves is spared.
    from coldiron.pictures.schematic import schematic

    lamps = {results.numbers[one.case.variant]: (one.case.variant, one.case.lamp) for one in results}
    found = lamps[0][1] if 0 in lamps else None
    for number, (name, lamp) in sorted(lamps.items()):
        if number == 0 or len(lamps) <= MOST_SCHEMATICS:
            yield schematic(lamp, found, name=f"schematic-{number}" if number else "schematic", title=name)


def draw_study(folder: Path, results: Results) -> list[Path]:
    """Write the standing pictures and the schematics of a study under a folder, as SVG files.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    results : Results
        With their waves; cases without are left out of the pictures of waves.

    Returns
    -------
    list of Path
        The files.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for picture in chain(standing_pictures(results), schematics(results)):
        files.append(folder / f"{picture.name}.svg")
        files[-1].write_text(picture.labelled, encoding="utf-8")
    return files
