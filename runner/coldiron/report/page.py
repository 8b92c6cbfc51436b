"""The page: what a study found, put into one self-contained HTML file."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import jinja2
from markupsafe import Markup

from coldiron.advice.advice import Advice
from coldiron.answer.answer import Answer, answer
from coldiron.answer.front import front
from coldiron.lamp.describe import absent, facts, key_label, lines, part_label
from coldiron.limits import Verdict
from coldiron.pictures.chosen import chosen, laid
from coldiron.pictures.ink import Picture
from coldiron.pictures.laid_over import Both, both, laid_over
from coldiron.pictures.schematic import schematic
from coldiron.pictures.swatch import swatch
from coldiron.pictures.tradeoff import tradeoff
from coldiron.report.advised import advised
from coldiron.report.caveats import caveats, holes
from coldiron.report.faults import fault_section
from coldiron.report.first import first_screen
from coldiron.report.marks import SourceList
from coldiron.report.matrix import matrix
from coldiron.report.numerics import numerics
from coldiron.report.overview import overviews
from coldiron.report.spread import spread_view
from coldiron.report.words import BENCH_WORDS, CAUTIONS, LEFT_OUT
from coldiron.spread.whole import SpreadOf
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.faults import Followed
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


def write_report(
    folder: Path,
    study: Study,
    results: Results,
    verdicts: Sequence[Verdict],
    found: Answer | None = None,
    spreads: Sequence[SpreadOf] = (),
    faults: Sequence[Followed] = (),
    advice: Advice | None = None,
) -> Path:
    """Write `report.html` under a folder and return its path."""
    path = folder / "report.html"
    write_whole(path, page(study, results, verdicts, found, spreads, faults, advice))
    return path


def page(
    study: Study,
    results: Results,
    verdicts: Sequence[Verdict],
    found: Answer | None = None,
    spreads: Sequence[SpreadOf] = (),
    faults: Sequence[Followed] = (),
    advice: Advice | None = None,
) -> str:
    """The report of a study as HTML.

    Parameters
    ----------
    study : Study
    results : Results
        Finished cases in the study's order; those with waves are drawn, failed ones leave holes that say why.
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.
    found : Answer, optional
        What the study came to; made of the rest when absent.
    spreads : sequence of SpreadOf
        What tolerances and assumptions do to some variants.
    faults : sequence of Followed
        Faults of the study that were followed to their ends.
    advice : Advice, optional
        What to buy, where the study is the shortlist of that.
    """
    found = found or answer(study, results, verdicts)
    said = sentences(results, verdicts)
    sources = SourceList(verdicts)
    numbers = results.numbers
    names = [variant.name for variant in study.variants if variant.name in numbers]
    lamps = {variant.name: variant for variant in study.variants}
    drawn = laid(found)
    first = first_screen(study, found)
    tables = overviews(results, verdicts, sources, [one.candidate.name for one in found.ranked])
    return _template().render(
        study=study,
        counts=results.counts,
        advised=advised(advice),
        first=first,
        trade=_trade(study, found),
        named=_schematic(
            study, first.shown.ranked.candidate.name if first.shown else AS_FOUND, in_one_row=True
        ),
        holes=holes(results),
        caveats=caveats(results, verdicts)[len(holes(results)) :],
        cautions=CAUTIONS,
        overviews=tables,
        matrix=matrix(found),
        spreads=[spread_view(one) for one in spreads],
        sources=sources.listed(),
        numbers=numbers,
        drawn=drawn,
        swatches={name: Markup(swatch(numbers[name])) for name in drawn},
        picked=set(chosen(found, PICKED_AT_FIRST)),
        benches=[
            (BENCH_WORDS.get(bench, bench), shown)
            for bench, shown in laid_over(study, results, found).items()
        ],
        failed=[
            (one.case, printable(one.result.failure.why), printable(one.result.failure.last_words))
            for one in results
            if one.result.failure
        ],
        skipped=_skipped(results),
        found=_schematic(study, AS_FOUND, in_one_row=True),
        understood=list(lines(study.lamp)),
        facts=list(facts(study.lamp)),
        absent=absent(study.lamp),
        part_label=part_label,
        key_label=key_label,
        variants=[
            (lamps[name], said.get(name, ""), _schematic(study, name)) for name in names if name != AS_FOUND
        ],
        as_found=said.get(AS_FOUND, ""),
        manifest=manifest(study, results),
        numerics=numerics(study, results),
        left_out=LEFT_OUT,
        faults=fault_section(study, faults) if faults else None,
        svg=lambda picture: Markup(picture.labelled),
    )


def _trade(study: Study, found: Answer) -> Both | None:
    """The trade-off in both widths, where the study read two things to weigh against each other."""
    trade = front(found)
    if trade is None:
        return None
    number = found.named.ranked.candidate.number if found.named else None
    about = f"{study.lamp.name} · {study.name}"
    return both(lambda form: tradeoff(trade, about, number, form=form))


def _schematic(study: Study, name: str, *, in_one_row: bool = False) -> Picture:
    """Schematic of a variant, with what differs from the lamp as found framed."""
    if name == AS_FOUND:
        return schematic(study.lamp, title="the lamp as found", in_one_row=in_one_row)
    lamp = next(variant.lamp for variant in study.variants if variant.name == name)
    return schematic(lamp, study.lamp, title=name, in_one_row=in_one_row)


def _skipped(results: Results) -> list[str]:
    """One line for each bench that does not apply and what the lamp lacks for it."""
    variants: dict[tuple[str, str], dict[str, None]] = {}
    for one in results:
        if one.result.not_applicable:
            variants.setdefault((one.case.bench, one.result.not_applicable), {})[one.case.variant] = None
    return [f"{bench} ({', '.join(names)}): {why}" for (bench, why), names in variants.items()]
