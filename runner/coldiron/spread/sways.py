"""Whether an assumption changes the recommendation: the first of the ranking, run with the other value.

A value that turns a verdict of the named variant need not turn the answer: the others may lean on it as much.
So the lamp as found and the first few of the ranking are all run with the value just past the turn, and the
answer is asked for anew.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from coldiron.answer.answer import Answer, answer
from coldiron.limits.judge import judge
from coldiron.spread.decides import Deciding, Flip
from coldiron.spread.population import Run, without_mirrors
from coldiron.spread.values import label_of, text_of, value_of, with_values
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results

MOST_RIVALS = 5
MOST_FLIPS = 4
PAST_RATIO = 1.03
"""How far past the value at which a verdict turns the others are asked."""


@dataclass(frozen=True)
class Sway:
    """An assumed value past which the answer names another variant.

    `before` and `after` are who is named, the lamp as found where nobody is.
    """

    flip: Flip
    above: bool
    before: str
    after: str
    text: str


def swaying(study: Study, found: Answer, decided: Mapping[str, Sequence[Deciding]], run: Run) -> list[Sway]:
    """Assumed values that change the recommendation.

    Parameters
    ----------
    study : Study
    found : Answer
        Of the whole study.
    decided : mapping
        What decides, by variant; those of the named one count.
    run : callable
    """
    named = _named(found)
    flips = _nearest([flip for one in decided.get(named, ()) for flip in one.flips])
    if not flips:
        return []
    rivals = _rivals(found, named)
    part = study.model_copy(update={"variants": tuple(v for v in study.variants if v.name in rivals)})
    before = _first(part, run, {})
    sways = []
    for flip in flips:
        at = _past(flip)
        after = _first(part, run, {flip.key: (flip.assumed, at)})
        if after != before:
            lamp = next(one.lamp for one in study.variants if one.name == named)
            above = flip.at[0] > flip.assumed
            text = (
                f"The answer leans on {label_of(flip.key)}, {text_of(lamp, flip.key, flip.assumed)} assumed: "
                f"{'above' if above else 'below'} {text_of(lamp, flip.key, flip.at[0])} it would be {after}. "
                f"To measure: {flip.reading}."
            )
            sways.append(Sway(flip, above, before, after, text))
    return sways


def _named(found: Answer) -> str:
    """Whom an answer recommends: the named variant, else the first corner that is one."""
    corners = (one for _, one in found.corners if one.ranked.candidate.number)
    one = found.named or next(corners, None)
    return one.ranked.candidate.name if one else AS_FOUND


def _nearest(flips: Sequence[Flip]) -> list[Flip]:
    """Flips that are nearest to what is assumed, one a value and side."""
    found: dict[tuple[str, bool], Flip] = {}
    for flip in sorted(flips, key=lambda each: each.reach):
        found.setdefault((flip.key, flip.at[0] > flip.assumed), flip)
    return list(found.values())[:MOST_FLIPS]


def _rivals(found: Answer, named: str) -> set[str]:
    eligible = [one.candidate.name for one in found.ranked if one.may_be_recommended]
    return {AS_FOUND, named, *eligible[:MOST_RIVALS]}


def _past(flip: Flip) -> float:
    """Value just past the turn, and not past what is plausible."""
    if flip.at[0] > flip.assumed:
        return min(flip.at[0] * PAST_RATIO, flip.most)
    return max(flip.at[0] / PAST_RATIO, flip.least)


def _first(study: Study, run: Run, numbers: Mapping[str, tuple[float, float]]) -> str:
    """Whom the answer names where every variant that has a value as assumed has another one instead."""
    variants = []
    for variant in study.variants:
        other = {
            key: at
            for key, (assumed, at) in numbers.items()
            if (own := value_of(variant.lamp, key)) is not None
            and math.isclose(own.number, assumed, rel_tol=1e-9)
        }
        variants.append(variant.model_copy(update={"lamp": with_values(variant.lamp, other)}))
    asked = study.model_copy(update={"variants": tuple(variants)})
    done = run([replace(without_mirrors(case)) for case in study_cases(asked)])
    return _named(answer(asked, Results(done), judge(asked, done)))
