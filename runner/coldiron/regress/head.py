"""What a person reviews of a reference: the headline readings, one row a variant, and the broken limits.

It stands first, in `STUDY.toml`; the rest is in `STUDY.all.toml` beside it, of which it has the hash. Every
figure is the worst over all conditions, that of the warm lamp where warm was run, and has the digits that its
tolerance leaves.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from coldiron.answer.use import Use, worst_uses
from coldiron.answer.words import times, what_text
from coldiron.limits.verdict import Verdict, use_ratio
from coldiron.readings.catalogue import COLD, COLUMNS, WARM, kind_of
from coldiron.readings.figures import amount
from coldiron.regress.limits import limit_key, verdict_case
from coldiron.regress.reference import FORMAT, ReferenceTable, Value, quoted
from coldiron.regress.tolerances import allowed_for
from coldiron.study.model import AS_FOUND
from coldiron.study.tolerance import Tolerance

HEAD_KEYS: Final = frozenset({"format", "study", "readings", "all", "columns", "headline", "over"})


def complete_file(path: Path) -> Path:
    """The generated file beside a reference.

    >>> complete_file(Path("reference/hallway.toml")).as_posix()
    'reference/hallway.all.toml'
    """
    return path.with_name(f"{path.name.removesuffix('.toml')}.all.toml")


def digest(text: str) -> str:
    """Hash of the complete file, whichever line ends a checkout gave it."""
    return hashlib.sha256("\n".join(text.splitlines()).encode()).hexdigest()[:12]


def head(
    record: ReferenceTable, verdicts: Sequence[Verdict], own: Mapping[str, Tolerance], complete: str
) -> str:
    """Text of the file that a person reviews.

    Parameters
    ----------
    record : ReferenceTable
        As it is accepted.
    verdicts : sequence of Verdict
        Of the same study.
    own : mapping of str to Tolerance
        The study's own tolerances.
    complete : str
        Text of the complete file.
    """
    columns = list(_columns(record))
    rows = {
        variant: [_cell(record, variant, *column, own) for column in columns]
        for variant in sorted(record.inputs, key=lambda name: (name != AS_FOUND, name))
    }
    lines = [
        f"# What {record.study} gave, written by coldiron regress, which holds it to that. Each figure is",
        "# the worst over all conditions, warm where warm was run, with the digits that count. All readings",
        "# stand in the file with .all in its name.",
        f"format = {FORMAT}",
        f"study = {quoted(record.study)}",
        f"readings = {record.count}",
        f"all = {quoted(digest(complete))}",
        "",
        f"columns = [{', '.join(quoted(f'{bench} {reading}') for bench, reading in columns)}]",
        "",
        "[headline]",
        *_table(rows),
        "",
        "# What each variant breaks.",
        "[over]",
    ]
    uses = worst_uses([verdict for verdict in verdicts if verdict.verdict == "over"])
    for variant in rows:
        broken = sorted(uses.get(variant, {}).values(), key=lambda use: (use.topic.group, use.topic.name))
        if broken:
            said = (f"    {quoted(_over_words(use, record, own))}," for use in broken)
            lines += [f"{quoted(variant)} = [", *said, "]"]
    return "\n".join(lines) + "\n"


def _columns(record: ReferenceTable) -> Iterator[tuple[str, str]]:
    """Bench and reading of each headline reading that the study has, warm in place of cold."""
    for bench, reading in COLUMNS:
        for one in (WARM, COLD) if bench == WARM else (bench,):
            if any(case.bench == one and reading in values for case, values in record.readings.items()):
                yield one, reading
                break


def _cell(
    record: ReferenceTable, variant: str, bench: str, reading: str, own: Mapping[str, Tolerance]
) -> str:
    found = [
        values[reading]
        for case, values in sorted(record.readings.items())
        if case.variant == variant and case.bench == bench and reading in values
    ]
    numbers = [value for value in found if isinstance(value, float)]
    if not numbers:
        return quoted(str(found[0]) if found else "-")
    worst = min(numbers) if kind_of(reading).worse == "down" else max(numbers)
    return to_tolerance(worst, reading, own)


def to_tolerance(value: float, reading: str, own: Mapping[str, Tolerance]) -> str:
    """A reading with the digits that its tolerance leaves.

    Examples
    --------
    >>> to_tolerance(47.4712, "input_power_W", {}), to_tolerance(3.24159, "inrush_peak_A", {})
    ('47.5', '3.24')
    >>> to_tolerance(0.0566, "discharge_60V_s", {}), to_tolerance(float("inf"), "discharge_60V_s", {})
    ('0.057', 'inf')
    """
    if not math.isfinite(value):
        return f"{value:g}"
    one = allowed_for(reading, own).around(value)
    places = 6 if one <= 0.0 else -math.floor(math.log10(one) + 1e-9)
    return f"{round(value, places) + 0.0:.{max(places, 0)}f}"


def _table(rows: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Rows of values under each other."""
    names = {variant: quoted(variant) for variant in rows}
    first = max(map(len, names.values()))
    widths = [max(map(len, column)) for column in zip(*rows.values(), strict=True)]
    for variant, cells in rows.items():
        values = ", ".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
        yield f"{names[variant]:<{first}} = [{values}]"


def _over_words(use: Use, record: ReferenceTable, own: Mapping[str, Tolerance]) -> str:
    """A broken limit in words, from the values that are kept where a reading is within its tolerance."""
    verdict = use.verdict
    case = verdict_case(verdict)
    value: Value = record.readings.get(case, {}).get(verdict.reading, verdict.value)
    limit = record.over.get(case, {}).get(limit_key(verdict), verdict.limit)
    number = value if isinstance(value, float) else verdict.value
    bound = "for at least" if verdict.least else "of"
    said = f"{to_tolerance(number, verdict.reading, own)} {bound} {amount(limit, verdict.reading)}"
    ratio = use_ratio(number, limit, least=verdict.least)
    return f"{what_text(verdict)}, {case.bench}: {said} (×{times(ratio)})"
