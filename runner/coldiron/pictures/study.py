"""The pictures that a study leaves beside its tables."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from coldiron.answer.answer import Answer
from coldiron.answer.front import front
from coldiron.pictures import rooms
from coldiron.pictures.chosen import chosen
from coldiron.pictures.harmonics import harmonics
from coldiron.pictures.ink import Picture
from coldiron.pictures.lay import Lay, alone, lays, settled
from coldiron.pictures.light import light
from coldiron.pictures.limits import harmonic_limits
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.tradeoff import tradeoff
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up
from coldiron.pictures.watts import watts
from coldiron.readings.catalogue import COLD
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.results import Results
from coldiron.tables.files import write_whole


def standing_pictures(study: Study, results: Results, answer: Answer) -> Iterator[Picture]:
    """Pictures that are legible on their own: the lamp as found with the variants that the answer speaks of.

    Every picture shows the same variants, but those in which a case failed.
    """
    names = chosen(answer)

    def those(found: list[Lay]) -> list[Lay]:
        return alone([lay for lay in found if lay.name in names])

    if trade := front(answer):
        number = answer.named.ranked.candidate.number if answer.named else None
        yield tradeoff(trade, f"{study.lamp.name} · {study.name}", number)
    if found := those(lays(results, "switch-on", "switch-on")):
        yield switch_on(found)
    run, bench = settled(results)
    if found := those(run):
        yield steady(found, bench)
        yield light(found, bench)
    if found := those(lays(results, COLD)):
        limits = harmonic_limits(study, results)
        yield harmonics(found, limits.allowed_pct, limits.why)
    if found := those(lays(results, bench)):
        yield watts(found)
    if found := those(lays(results, "heat", "warm-up")):
        yield warm_up(found)
    if found := those(lays(results, "heat", rooms.LABEL)):
        yield rooms.rooms(found)
    if found := those(lays(results, "surge", "surge")):
        yield surge(found)
    if found := those(lays(results, "unplug", "unplug")):
        yield unplug(found)


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


def live_points(results: Results) -> Iterator[Picture]:
    """The lamp as found with its live points, where the bench was run."""
    from coldiron.pictures.schematic import live_letters, schematic

    for one in results:
        if one.case.bench == "live" and one.case.variant == AS_FOUND and one.result.readings:
            letters = live_letters(one.case.lamp.circuit.points, one.result.readings)
            title = "live points: a letter is a state in which a hand there carries more than 0.7 mA"
            yield schematic(one.case.lamp, name="live-points", title=title, live=letters)
            return


def draw_study(folder: Path, study: Study, results: Results, answer: Answer) -> list[Path]:
    """Write the standing pictures and the schematics of a study under a folder, as SVG files.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    study : Study
    results : Results
        With their waves; cases without are left out of the pictures.
    answer : Answer
        Chooses which variants are shown.

    Returns
    -------
    list of Path
        The files.
    """
    files = []
    for picture in chain(
        standing_pictures(study, results, answer), schematics(results), live_points(results)
    ):
        files.append(folder / f"{picture.name}.svg")
        write_whole(files[-1], picture.labelled)
    return files
