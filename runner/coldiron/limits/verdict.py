"""A reading held against a limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    import pandas as pd


Word = Literal["ok", "close", "over", "no limit applies"]
NO_LIMIT: Final = "no limit applies"
Group = Literal["rating", "shock", "law", "practice", "study"]
"""Whose limit it is: a part's rating; what a person may touch; what a regulation, or a standard that one
calls upon, asks for; a recommended practice; or the study's own, in place of any of them."""
VERDICT_COLUMNS = (
    "variant", "bench", "conditions", "reading", "value", "limit", "verdict", "limit_id", "group", "source",
    "clause", "provenance", "note", "what", "bound",
)  # fmt: skip


@dataclass(frozen=True)
class Verdict:
    """One reading of one case, held against one limit.

    `value` and `limit` are in the reading's unit, `limit` nan where none applies. `source` is the standard
    and its edition, or the part whose rating it is. `limit_id` names the limit the same in every case and
    study: the id by which a study replaces it, or "rating." and the key of the lamp file that gives it; a
    limit may hold several readings of a bench. `provenance` says where the limit came from: "verified",
    "from memory", "study", or the provenance of a rating in the lamp file. `least` marks a limit from below,
    `what` names the reading in words; where one of several `alternatives` is enough, it is the one that is
    met best.
    """

    variant: str
    bench: str
    conditions: str
    reading: str
    value: float
    limit: float
    verdict: Word
    limit_id: str
    group: Group
    source: str
    clause: str
    provenance: str
    note: str
    least: bool = False
    what: str = ""
    alternatives: int = 1

    @property
    def bound(self) -> str:
        """Which way the limit binds: "at most" or "at least"; nothing where none applies."""
        if self.verdict == NO_LIMIT:
            return ""
        return "at least" if self.least else "at most"

    @property
    def is_rating(self) -> bool:
        """Whether the limit is the rating of a part."""
        return self.group == "rating"

    @property
    def standard(self) -> str:
        """Standard without its edition."""
        return self.source.partition(", ")[0]

    @property
    def question(self) -> tuple[str, str, str]:
        """What the limit is about: the harmonics of one standard are one question."""
        harmonics = self.reading.startswith("harmonic_")
        return self.source, self.bench, "harmonics" if harmonics else self.what

    @property
    def use_ratio(self) -> float:
        """Share of the limit that is used up: 1 at the limit, above 1 over it."""
        return use_ratio(self.value, self.limit, least=self.least)


def use_ratio(value: float, limit: float, *, least: bool = False) -> float:
    """Share of a limit that a value uses up: 1 at the limit, above 1 over it.

    Examples
    --------
    >>> use_ratio(3.0, 4.0), use_ratio(0.8, 0.4, least=True), use_ratio(1.0, 0.0)
    (0.75, 0.5, inf)
    """
    seen, allowed = (limit, value) if least else (value, limit)
    if allowed > 0.0 and math.isinf(seen) and math.isinf(allowed):
        return 1.0
    if allowed <= 0.0:
        return math.inf if seen > allowed else 1.0
    return seen / allowed


def classify(value: float, limit: float, margin_ratio: float, *, least: bool = False) -> Word:
    """Word for a value against a limit: "over" beyond it, "close" within a margin of it, else "ok".

    Parameters
    ----------
    value, limit : float
        In one unit; a value that is not a number has no verdict.
    margin_ratio : float
        Share of the limit that counts as close to it.
    least : bool
        Whether the limit is one from below.

    Examples
    --------
    >>> classify(0.35, 0.4, 0.1), classify(0.38, 0.4, 0.1), classify(0.41, 0.4, 0.1)
    ('ok', 'close', 'over')
    >>> classify(0.95, 0.9, 0.1, least=True), classify(0.85, 0.9, 0.1, least=True)
    ('close', 'over')
    """
    if math.isnan(value) or math.isnan(limit):
        return NO_LIMIT
    used = use_ratio(value, limit, least=least)
    if used > 1.0:
        return "over"
    near = value < limit * (1.0 + margin_ratio) if least else value > limit * (1.0 - margin_ratio)
    return "close" if near else "ok"


def verdict_rows(verdicts: Iterable[Verdict]) -> Iterator[tuple[object, ...]]:
    """One row a verdict, in the order given, with the columns of `VERDICT_COLUMNS`."""
    return (tuple(getattr(verdict, name) for name in VERDICT_COLUMNS) for verdict in verdicts)


def verdict_frame(verdicts: Sequence[Verdict]) -> pd.DataFrame:
    """One row a verdict, in the order given, with the columns of `VERDICT_COLUMNS`."""
    import pandas as pd

    return pd.DataFrame(
        {name: [getattr(verdict, name) for verdict in verdicts] for name in VERDICT_COLUMNS},
        columns=list(VERDICT_COLUMNS),
    )
