"""Used over allowed: for each variant and each topic of limits, the worst over all benches and conditions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.study.model import KNOWN_BENCHES

if TYPE_CHECKING:
    import pandas as pd

GROUPS: Final = ("rating", "shock", "law", "practice", "study")
"""Groups of limits in the order in which they weigh."""
GROUP_WORDS: Final = {
    "rating": "parts",
    "shock": "shock",
    "law": "law",
    "practice": "advice",
    "study": "own",
}
"""What a group is called over its columns."""

HARMONICS_OF: Final = "iec-61000-3-2."


class Topic(NamedTuple):
    """What a limit is about: a group, and in it a part and what of it is rated, or the words of a rule."""

    group: str
    name: str


@dataclass(frozen=True)
class Use:
    """Share of a limit that is used up, 1 at the limit and above 1 over it, and the verdict behind it."""

    topic: Topic
    ratio: float
    verdict: Verdict

    @property
    def over(self) -> bool:
        """Whether the limit is broken."""
        return self.verdict.verdict == "over"


def topic_of(verdict: Verdict) -> Topic:
    """Topic of a verdict: a rated quantity of a part, whichever bench read it; or what a rule is about.

    The rules on harmonics of the input current are one topic, with those on its wave that stand in for them.
    """
    if verdict.limit_id.startswith(HARMONICS_OF):
        return Topic(verdict.group, "harmonics")
    return Topic(verdict.group, verdict.what)


def broken_topics(verdicts: Iterable[Verdict]) -> set[Topic]:
    """What is over: the one count of broken limits, however many readings break each."""
    return {topic_of(verdict) for verdict in verdicts if verdict.verdict == "over"}


def worst_uses(verdicts: Sequence[Verdict]) -> dict[str, dict[Topic, Use]]:
    """Worst use of each topic by each variant, in the order of the benches and not in that of the study.

    A verdict "no limit applies" uses nothing; a reading too small to be judged uses what it uses, and is not
    over.
    """
    uses: dict[str, dict[Topic, Use]] = {}
    for verdict in sorted(verdicts, key=lambda verdict: KNOWN_BENCHES.index(verdict.bench)):
        of = uses.setdefault(verdict.variant, {})
        if verdict.verdict == NO_LIMIT or math.isnan(verdict.use_ratio):
            continue
        ratio = verdict.use_ratio if verdict.verdict == "over" else min(verdict.use_ratio, 1.0)
        topic = topic_of(verdict)
        if topic not in of or ratio > of[topic].ratio:
            of[topic] = Use(topic, ratio, verdict)
    return uses


def topics(uses: Mapping[str, Mapping[Topic, Use]]) -> list[Topic]:
    """Every topic that any variant uses, parts first, then shock, law, advice and the study's own."""
    seen = dict.fromkeys(topic for of in uses.values() for topic in of)
    return sorted(seen, key=lambda topic: GROUPS.index(topic.group))


def use_ratios(uses: Mapping[str, Mapping[Topic, Use]]) -> list[list[float]]:
    """Rows of that matrix: variants by `topics`."""
    columns = topics(uses)
    return [[of[topic].ratio if topic in of else math.nan for topic in columns] for of in uses.values()]


def use_frame(uses: Mapping[str, Mapping[Topic, Use]]) -> pd.DataFrame:
    """Matrix of variants by topics as floats: 1.0 and more is over, NaN where no limit applies.

    Returns
    -------
    DataFrame
        One row a variant; columns of two levels, group and topic.
    """
    import pandas as pd

    columns = topics(uses)
    return pd.DataFrame(
        use_ratios(uses),
        index=pd.Index(list(uses), name="variant"),
        columns=pd.MultiIndex.from_tuples(
            [(GROUP_WORDS[topic.group], topic.name) for topic in columns], names=["group", "topic"]
        ),
        dtype=float,
    )
