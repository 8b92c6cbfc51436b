"""What the terminal shows: the headline readings of each variant and their change against as found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import pandas as pd
from rich import box
from rich.console import Group
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from coldiron.limits.verdict import Verdict
from coldiron.readings.figures import figure
from coldiron.study.model import AS_FOUND
from coldiron.sweep.results import Results
from coldiron.tables import surge_limit


@dataclass(frozen=True)
class Headline:
    """A reading worth a column: its heading, the digits to show and which way is worse (+1 up, -1 down)."""

    reading: str
    heading: str
    worse: int = 1


HEADLINES = (
    Headline("inrush_peak_A", "inrush\npeak A"),
    Headline("input_power_W", "input\nW", 0),
    Headline("power_factor", "power\nfactor", -1),
    Headline("flicker_pct", "flicker\n%"),
    Headline("svm", "SVM"),
    Headline("light_pct", "light\n%", -1),
    Headline("sinks_W", "sinks\nW"),
    Headline("heat_outcome", "dies hot\n°C", 0),
    Headline("surge_sink_peak_A", "surge in\none sink A"),
    Headline("surge_drain_peak_V", "surge at\ndrain V"),
    Headline("burst_sink_peak_A", "burst in\none sink A"),
    Headline("dip_light_gap_ms", "dark at\na dip ms"),
    Headline("off_string_uA", "leaks in\noff µA"),
    Headline("discharge_60V_s", "to 60 V\ns"),
    Headline("weakest_part", "weakest in the surge\n(margin %)", 0),
)
Column: TypeAlias = tuple[Headline, list[str]]
"""A headline reading and its cell of each variant."""
VARIANT_WIDTH = 26
WORDS_WIDTH = 20
COLUMN_GAP = 3
WORST_MARK = "▼"
BROKEN_MARK = "‼"
_JUDGED = {"heat_outcome": "sink_die_worst_C"}
"""Reading that limits are held against, where a column shows it under another."""


def change_text(value: float, found: float) -> str:
    """Change against as found in per cent, or as a factor when it is large.

    Examples
    --------
    >>> change_text(45.0, 30.0), change_text(90.0, 10.0), change_text(1.0, 1.0), change_text(1.0, 0.0)
    ('+50 %', '×9.0', '=', '')

    A factor of what was next to nothing has no digits that mean anything.

    >>> change_text(12.345, 0.026), change_text(25.3, 4.4e-5)
    ('×475', '>×1000')
    """
    if not (math.isfinite(value) and math.isfinite(found)) or found == 0:
        return ""
    ratio = value / found
    if abs(ratio - 1) < 0.005:
        return "="
    if ratio > 1000:
        return ">×1000"
    if ratio >= 3:
        return f"×{ratio:.0f}" if ratio >= 100 else f"×{ratio:.1f}"
    return f"{100 * (ratio - 1):+.0f} %"


def headline_table(
    results: Results, supply: str, title: str, verdicts: Sequence[Verdict] = (), width: int = 160
) -> Group:
    """Table of one supply: a row a variant, headline readings with their change.

    The worst of each column is marked, and so is every reading that is over a limit. Columns that a terminal
    of this width cannot show side by side go on below, in a table of their own: no number is ever broken.
    """
    found: dict[str, dict[str, float | str]] = {}
    for name in results.variants:
        for bench in results.benches:
            for reading, value in results.readings(name, bench, supply).items():
                found.setdefault(name, {}).setdefault(reading, value)
        for hole in results.holes(name):
            if hole.conditions == supply:
                found.setdefault(name, {})[hole.word] = hole.why
    values = pd.DataFrame.from_dict(found, orient="index", dtype=object)
    shown = [h for h in HEADLINES if h.reading in values.columns]
    over = {
        (verdict.variant, verdict.reading)
        for verdict in verdicts
        if verdict.verdict == "over" and verdict.conditions == supply
    }
    columns = [(headline, _column(values, headline, over)) for headline in shown]
    names = [escape(name) for name in values.index.astype(str)]
    tables = [_block(names, block) for block in _blocks(columns, width - VARIANT_WIDTH)]
    limits = values[surge_limit.LIMITED].astype(str) if surge_limit.LIMITED in values else ()
    driven = any(limit.startswith(surge_limit.DRIVE) for limit in limits)
    notes = [Text(surge_limit.LEGEND, style="dim")] if driven else []
    return Group(Text(title), *tables, *notes)


def _column(values: pd.DataFrame, headline: Headline, over: set[tuple[str, str]]) -> list[str]:
    worst = _worst(values[headline.reading], headline.worse)
    judged = _JUDGED.get(headline.reading, headline.reading)
    return [
        _cell(values, variant, headline, worst, over=(variant, judged) in over)
        for variant in values.index.astype(str)
    ]


def _blocks(columns: Sequence[Column], width: int) -> list[list[Column]]:
    """Columns in as few tables as a width allows, in their order."""
    blocks: list[list[Column]] = [[]]
    left = width
    for column in columns:
        needed = _column_width(column)
        if needed > left and blocks[-1]:
            blocks.append([])
            left = width
        blocks[-1].append(column)
        left -= needed
    return blocks


def _column_width(column: Column) -> int:
    headline, cells = column
    lines = [line for text in (headline.heading, *cells) for line in text.split("\n")]
    widest = max(Text.from_markup(line).cell_len for line in lines)
    return COLUMN_GAP + (min(widest, WORDS_WIDTH) if headline.worse == 0 else widest)


def _block(names: Sequence[str], columns: Sequence[Column]) -> Table:
    table = Table(box=box.HORIZONTALS, header_style="bold", pad_edge=False)
    table.add_column("variant", overflow="fold", max_width=VARIANT_WIDTH - COLUMN_GAP)
    for headline, _ in columns:
        words = headline.worse == 0
        table.add_column(
            headline.heading, justify="right", no_wrap=not words, max_width=WORDS_WIDTH if words else None
        )
    for number, name in enumerate(names):
        table.add_row(name, *(cells[number] for _, cells in columns))
    return table


def _worst(column: pd.Series, worse: int) -> object:
    numbers = pd.to_numeric(column, errors="coerce").dropna()
    if worse == 0 or numbers.nunique() < 2:
        return None
    return numbers.idxmax() if worse > 0 else numbers.idxmin()


def _cell(values: pd.DataFrame, variant: str, headline: Headline, worst: object, *, over: bool) -> str:
    value = values.loc[variant, headline.reading]
    if headline.reading == "weakest_part":
        return _weakest_cell(values, variant)
    if headline.reading == "heat_outcome" and isinstance(value, str):
        return _hot_cell(values, variant, value, over=over)
    if not isinstance(value, float):
        return (
            "failed" if "failed" in values.columns and isinstance(values.loc[variant, "failed"], str) else "–"
        )
    # No space after a mark: a narrow column must not part it from its number.
    mark = (BROKEN_MARK if over else "") + (WORST_MARK if variant == worst else "")
    found = values.loc[AS_FOUND, headline.reading] if AS_FOUND in values.index else None
    change = ""
    if isinstance(found, float) and variant != AS_FOUND:
        own, before = values.loc[variant].to_dict(), values.loc[AS_FOUND].to_dict()
        change = surge_limit.turned(headline.reading, own, before) or change_text(value, found)
    return f"{mark}{figure(value)}" + (f"\n[dim]{change}[/dim]" if change else "")


def _hot_cell(values: pd.DataFrame, variant: str, outcome: str, *, over: bool) -> str:
    """Die temperature where the lamp settles, and in words what else it does."""
    die_c = values.loc[variant, "sink_die_worst_C"] if "sink_die_worst_C" in values.columns else None
    if outcome.startswith("thermal") or not isinstance(die_c, float) or math.isnan(die_c):
        return f"{BROKEN_MARK} {escape(outcome)}"
    words = "" if outcome == "settled" else "\n[dim]at the floor\nof foldback[/dim]"
    return (BROKEN_MARK if over else "") + figure(die_c) + words


def _weakest_cell(values: pd.DataFrame, variant: str) -> str:
    part, margin = values.loc[variant, "weakest_part"], values.loc[variant, "weakest_margin_pct"]
    if not isinstance(part, str):
        return (
            "failed" if "failed" in values.columns and isinstance(values.loc[variant, "failed"], str) else "–"
        )
    margin_pct = float(str(margin))
    mark = f"{BROKEN_MARK} over: " if margin_pct < 0 else ""
    return f"{mark}{part}\n[dim]{figure(margin_pct)}[/dim]"


def legend(failed: Sequence[str], skipped: Sequence[str] = ()) -> list[str]:
    """Lines below the table that say what its marks mean, and which cases failed or were skipped."""
    lines = [
        f"{WORST_MARK} worst of its column   {BROKEN_MARK} over a limit, or over the rating of the part"
        "   change is against the lamp as found"
    ]
    return [*lines, *(f"skipped: {line}" for line in skipped), *(f"failed: {line}" for line in failed)]
