"""The page: what a study found, put into one self-contained HTML file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import jinja2
from markupsafe import Markup

from coldiron.answer.answer import answer
from coldiron.answer.words import answer_lines
from coldiron.lamp.describe import absent, facts, key_label, lines, part_label
from coldiron.lamp.lamp import Lamp
from coldiron.limits import Verdict
from coldiron.limits.harmonic import harmonic_limits_pct
from coldiron.pictures.ink import Picture
from coldiron.pictures.laid_over import laid_over, most_different
from coldiron.pictures.lay import lays, spanning
from coldiron.pictures.schematic import schematic
from coldiron.pictures.surge import with_and_without_varistor
from coldiron.pictures.swatch import swatch
from coldiron.report.caveats import caveats
from coldiron.report.marks import SourceList, verdict_text
from coldiron.report.numerics import numerics
from coldiron.report.overview import overviews
from coldiron.report.words import BENCH_WORDS, CAUTIONS, LEFT_OUT
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.results import Results
from coldiron.tables.files import manifest, write_whole
from coldiron.tables.sentences import sentences
from coldiron.wording import printable

_HERE = Path(__file__).parent
PICKED_AT_FIRST = 4
"""As found and the few variants that are laid over it before a person picks."""


@cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_HERE),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["style"] = Markup((_HERE / "page.css").read_text(encoding="utf-8"))
    environment.globals["script"] = Markup((_HERE / "page.js").read_text(encoding="utf-8"))
    return environment.get_template("page.html.j2")


def write_report(folder: Path, study: Study, results: Results, verdicts: Sequence[Verdict]) -> Path:
    """Write `report.html` under a folder and return its path."""
    path = folder / "report.html"
    write_whole(path, page(study, results, verdicts))
    return path


def page(study: Study, results: Results, verdicts: Sequence[Verdict]) -> str:
    """The report of a study as HTML.

    Parameters
    ----------
    study : Study
    results : Results
        Finished cases in the study's order; those with waves are drawn, failed ones leave holes that say why.
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.
    """
    said = sentences(results, verdicts)
    sources = SourceList(verdicts)
    numbers = results.numbers
    kept = [variant for variant in study.variants if variant.name in numbers]
    pictures = laid_over(results, *_harmonic_limits(study, results, verdicts))
    drawn = most_different(results)
    return _template().render(
        study=study,
        answer=answer_lines(answer(study, results, verdicts)),
        caveats=caveats(results, verdicts),
        as_found=said.get(AS_FOUND, ""),
        cautions=CAUTIONS,
        overviews=overviews(results, verdicts, sources),
        sources=sources.listed(),
        numbers=numbers,
        drawn=drawn,
        swatches={name: Markup(swatch(numbers[name])) for name in drawn},
        picked=_picked(results, numbers),
        benches=[(bench, BENCH_WORDS.get(bench, bench), pictures[bench]) for bench in pictures],
        failed=[
            (one.case, printable(one.result.failure.why), printable(one.result.failure.last_words))
            for one in results
            if one.result.failure
        ],
        skipped=_skipped(results),
        found=_drawn(study.lamp, None, "the lamp as found"),
        understood=list(lines(study.lamp)),
        facts=list(facts(study.lamp)),
        absent=absent(study.lamp),
        part_label=part_label,
        key_label=key_label,
        variants=[
            (
                variant,
                said.get(variant.name, ""),
                _drawn(variant.lamp, study.lamp, variant.name),
                _listed(variant.name, verdicts),
            )
            for variant in kept
            if variant.name != AS_FOUND
        ],
        manifest=manifest(study, results),
        numerics=numerics(study, results),
        left_out=LEFT_OUT,
        svg=lambda picture: Markup(picture.labelled),
    )


def _drawn(lamp: Lamp, found: Lamp | None, title: str) -> Picture:
    return schematic(lamp, found, title=title)


def _listed(variant: str, verdicts: Sequence[Verdict]) -> list[tuple[str, str]]:
    """Verdicts of a variant that are over or close, over first; one line for all harmonics."""
    lines = []
    for word in ("over", "close"):
        found = [v for v in verdicts if v.variant == variant and v.verdict == word]
        harmonic = [v for v in found if v.reading.startswith("harmonic_")]
        lines += [(word, _told(v)) for v in found if v not in harmonic]
        if harmonic:
            more = f" And {len(harmonic) - 1} more harmonics are {word}." if len(harmonic) > 1 else ""
            lines.append((word, _told(max(harmonic, key=lambda v: v.use_ratio)) + more))
    return lines


def _told(verdict: Verdict) -> str:
    return f"{verdict.bench}, {verdict.conditions}: {verdict_text(verdict)}."


def _skipped(results: Results) -> list[str]:
    """One line for each bench that does not apply and what the lamp lacks for it."""
    variants: dict[tuple[str, str], dict[str, None]] = {}
    for one in results:
        if one.result.not_applicable:
            variants.setdefault((one.case.bench, one.result.not_applicable), {})[one.case.variant] = None
    return [f"{bench} ({', '.join(names)}): {why}" for (bench, why), names in variants.items()]


def _picked(results: Results, numbers: Mapping[str, int]) -> set[str]:
    chosen = with_and_without_varistor(lays(results, "surge"))
    chosen += spanning(lays(results, "steady"), "bus_ripple_V", PICKED_AT_FIRST - 1)
    return {AS_FOUND, *(lay.name for lay in chosen)} if chosen else set(list(numbers)[:PICKED_AT_FIRST])


def _harmonic_limits(
    study: Study, results: Results, verdicts: Sequence[Verdict]
) -> tuple[Mapping[str, Mapping[int, float]], str]:
    """Limits of the harmonics as they hold for the lamp as found, and whose they are."""
    settled = lays(results, "steady")[:1]
    one = results.case(settled[0].name, "steady") if settled else None
    limits_pct = harmonic_limits_pct(study, one) if one else {}
    held = [v for v in verdicts if one and v.variant == one.case.variant and v.what and _is_harmonic(v)]
    if not held:
        return limits_pct, ""
    if not limits_pct:
        return {}, f"No limit applies: {held[0].note} ({held[0].source})."
    first = held[0]
    said = f"Limits as they hold for {first.variant}: {first.source}, {first.clause} ({first.provenance})."
    return limits_pct, f"{said} One alternative is enough." if len(limits_pct) > 1 else said


def _is_harmonic(verdict: Verdict) -> bool:
    return verdict.source.startswith("IEC 61000-3-2")
