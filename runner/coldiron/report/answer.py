"""The answer of a study in plain words: who is inside every limit, at what price, and who breaks least."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coldiron.limits import Verdict
from coldiron.limits.verdict import NO_LIMIT
from coldiron.report.marks import broken_limits
from coldiron.study.model import AS_FOUND
from coldiron.sweep.results import Results

NEAREST = 3


@dataclass(frozen=True)
class Line:
    """One variant of the answer; `text` says what got better and worse, and what it breaks."""

    variant: str
    text: str


@dataclass(frozen=True)
class Answer:
    """The answer first: a headline, the variants it names, the lamp as found, and what limits the answer."""

    headline: str
    named: tuple[Line, ...]
    found: str
    caveats: tuple[str, ...]


def answer(results: Results, verdicts: Sequence[Verdict], sentences: Mapping[str, str]) -> Answer:
    """Say what a study came to.

    Parameters
    ----------
    results : Results
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.
    sentences : mapping
        One sentence a variant.
    """
    variants = results.variants
    broken = {name: len(broken_limits(v for v in verdicts if v.variant == name)) for name in variants}
    failed = {one.case.variant for one in results if one.result.failure}
    judged = [
        name
        for name in variants
        if name not in failed and any(v.variant == name and v.verdict != NO_LIMIT for v in verdicts)
    ]
    inside = [name for name in judged if not broken[name]]
    if not judged:
        named = [name for name in variants if name != AS_FOUND]
        headline = "No limit was held against these variants; the readings stand for themselves."
    elif inside:
        named = inside
        who = "variant is" if len(inside) == 1 else "variants are"
        headline = f"{len(inside)} of {len(variants)} {who} inside every limit that applies."
    else:
        others = [name for name in judged if name != AS_FOUND] or judged
        named = sorted(others, key=lambda name: broken[name])[:NEAREST]
        headline = f"None of {len(variants)} variants is inside every limit that applies."
        if AS_FOUND in judged:
            headline += f" The lamp as found breaks {broken[AS_FOUND]}, the best variant {broken[named[0]]}."
    return Answer(
        headline,
        tuple(Line(name, sentences.get(name, "")) for name in named),
        sentences.get(AS_FOUND, ""),
        tuple(_caveats(results, verdicts)),
    )


def _caveats(results: Results, verdicts: Sequence[Verdict]) -> list[str]:
    caveats = []
    failed = [one for one in results if one.result.failure]
    if failed:
        names = ", ".join(dict.fromkeys(one.case.variant for one in failed))
        caveats.append(
            f"{len(failed)} of {len(results)} cases gave no answer ({names}): their places are empty, and "
            "such a variant is not counted as inside the limits."
        )
    recalled = sum(verdict.provenance == "from memory" for verdict in verdicts)
    if recalled:
        caveats.append(
            f"{recalled} of {len(verdicts)} verdicts rest on limits quoted from memory; the list says which."
        )
    none = dict.fromkeys(f"{v.source}: {v.note}" for v in verdicts if v.verdict == NO_LIMIT)
    if none:
        caveats.append("No limit applies, which is not a pass: " + "; ".join(none) + ".")
    return caveats
