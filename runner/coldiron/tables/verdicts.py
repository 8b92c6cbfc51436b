"""What the terminal shows of verdicts: each broken or nearly broken limit with the variants that break it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from rich import box
from rich.markup import escape
from rich.table import Table

from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.readings.figures import amount

OVER_MARK = "‼ over"
CLOSE_MARK = "close"
MOST_NAMES = 6


def verdict_table(verdicts: Sequence[Verdict]) -> Table | None:
    """Table of limits that a variant breaks or comes close to; None when there is none.

    A row is one limit. It names the variants from the worst on, each with its value; a variant that was tried
    under several conditions stands there once, with its worst.
    """
    rows = _by_limit(verdict for verdict in verdicts if verdict.verdict in ("over", "close"))
    if not rows:
        return None
    several = len({verdict.conditions for verdict in verdicts}) > 1
    table = Table(
        title="limits broken, or nearly so", title_justify="left", box=box.HORIZONTALS, pad_edge=False
    )
    table.add_column("limit", overflow="fold", ratio=2)
    table.add_column("source", overflow="fold", ratio=2)
    table.add_column("variants", overflow="fold", ratio=4)
    for held in rows:
        texts = _limit_text(held), _source_text(held[0]), _variants_text(held, several=several)
        table.add_row(*map(escape, texts))
    return table


def verdict_lines(verdicts: Sequence[Verdict]) -> list[str]:
    """Lines below the table: how many verdicts of each kind, and where no limit applies and why."""
    counts = Counter[str](verdict.verdict for verdict in verdicts)
    if not counts:
        return []
    words = ("over", "close", "ok", NO_LIMIT)
    lines = ["verdicts: " + ", ".join(f"{counts[word]} {word}" for word in words if counts[word])]
    if any(verdict.provenance in ("from memory", "typical") for verdict in verdicts):
        lines.append(
            "a limit 'from memory' was not read in a text, a rating 'typical' is not this part's own: "
            "check it before you rely on it"
        )
    reasons: dict[tuple[str, str], dict[str, None]] = {}
    for verdict in verdicts:
        if verdict.verdict == NO_LIMIT:
            reasons.setdefault((verdict.standard, verdict.note), {})[verdict.what] = None
    lines += [
        f"{NO_LIMIT}: {standard}, {', '.join(what)}: {why}" for (standard, why), what in reasons.items()
    ]
    return lines


def _by_limit(verdicts: Iterable[Verdict]) -> list[list[Verdict]]:
    """Verdicts of each limit, one a variant, the worst first; the limit broken by most comes first."""
    found: dict[tuple[str, str, str], dict[str, Verdict]] = {}
    for verdict in verdicts:
        of = found.setdefault(verdict.question, {})
        if verdict.variant not in of or verdict.use_ratio > of[verdict.variant].use_ratio:
            of[verdict.variant] = verdict
    rows = [sorted(of.values(), key=lambda verdict: -verdict.use_ratio) for of in found.values()]
    return sorted(rows, key=lambda row: -sum(verdict.verdict == "over" for verdict in row))


def _limit_text(held: Sequence[Verdict]) -> str:
    first = held[0]
    if first.question[2] == "harmonics":
        return f"harmonics ({first.bench}), the worst of each variant"
    limits = [verdict.limit for verdict in held]
    low, high = amount(min(limits), first.reading), amount(max(limits), first.reading)
    span = low if low == high else f"{low} to {high}, by variant"
    return f"{first.what} ({first.bench}), {first.bound} {span}"


def _source_text(verdict: Verdict) -> str:
    if verdict.is_rating:
        # By whose rule the limit differs from the written rating; "typical" is explained below the table.
        rule = f"; {verdict.note}" if verdict.note and verdict.provenance != "typical" else ""
        return f"rating {verdict.clause}, {verdict.provenance}{rule}"
    return f"{verdict.source}, {verdict.clause}, {verdict.provenance}"


def _variants_text(held: Sequence[Verdict], *, several: bool) -> str:
    said = []
    for word, mark in (("over", OVER_MARK), ("close", CLOSE_MARK)):
        these = [verdict for verdict in held if verdict.verdict == word]
        if these:
            names = [_variant_text(verdict, several=several) for verdict in these[:MOST_NAMES]]
            left = len(these) - len(names)
            said.append(f"{mark}: {', '.join(names)}" + (f" and {left} more" if left else ""))
    return "\n".join(said)


def _variant_text(verdict: Verdict, *, several: bool) -> str:
    where = f" at {verdict.conditions}" if several else ""
    value = amount(verdict.value, verdict.reading)
    if verdict.question[2] == "harmonics":
        limit = amount(verdict.limit, verdict.reading)
        return f"{verdict.variant} {verdict.what} {value} (at most {limit}){where}"
    return f"{verdict.variant} {value}{where}"
