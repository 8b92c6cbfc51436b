"""A comparison as files for a build: Markdown for its summary, JUnit XML for its tests, JSON for programs."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from coldiron.readings.catalogue import kind_of
from coldiron.regress.moves import Comparison, Move, MoveKind
from coldiron.regress.reference import CaseName
from coldiron.regress.words import HEADINGS, cells, changed_inputs, line, summary
from coldiron.sweep.run import FinishedCase
from coldiron.tables.files import write_whole

MOST_ROWS = 200
"""Rows of the Markdown table; services cut a summary that is too long."""

_ACTIVE = re.compile(r"[\\`*_\[\]|~#@!]|:(?=//)|(?<=www)\.", re.I)
"""What Markdown makes marks, links and mentions of."""
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_comparison(folder: Path, comparison: Comparison, done: Sequence[FinishedCase]) -> None:
    """Write `regress.md`, `regress.xml` and `regress.json` into a folder."""
    write_whole(folder / "regress.md", markdown(comparison))
    write_whole(folder / "regress.xml", junit(comparison, done))
    write_whole(folder / "regress.json", json_text(comparison))


def markdown(comparison: Comparison) -> str:
    """Summary, table and notes for the page of a build."""
    lines = [f"## Regress: {_cell(summary(comparison))}", ""]
    if comparison.moves:
        lines += [_row(HEADINGS), _row(["---"] * len(HEADINGS))]
        lines += [_row([_cell(text) for text in cells(move)]) for move in comparison.moves[:MOST_ROWS]]
        lines.append("")
    if (more := len(comparison.moves) - MOST_ROWS) > 0:
        lines += [f"… and {more} more, which regress.json lists.", ""]
    if inputs := changed_inputs(comparison):
        lines += ["Changed inputs:", "", *(f"- {_cell(text)}" for text in inputs), ""]
    if comparison.notes:
        lines += ["<details><summary>Notes</summary>", ""]
        lines += [f"- {_cell(note)}" for note in comparison.notes[:MOST_ROWS]]
        lines += ["", "</details>", ""]
    return "\n".join(lines)


def _row(texts: Sequence[str]) -> str:
    return f"| {' | '.join(texts)} |"


def _cell(text: str) -> str:
    r"""Text that Markdown shows as it is.

    >>> _cell("a|b <i> `c` *d*")
    'a\\|b &lt;i&gt; \\`c\\` \\*d\\*'
    >>> _cell("![x](https://a.test) www.a.test @all #1")
    '\\!\\[x\\](https\\://a.test) www\\.a.test \\@all \\#1'
    """
    safe = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return _ACTIVE.sub(r"\\\g<0>", " ".join(safe.split()))


def junit(comparison: Comparison, done: Sequence[FinishedCase]) -> str:
    """JUnit XML: one test case a variant and bench, those that vanished included.

    What moved is a failure, a case without an answer an error.
    """
    cases = _variants_and_benches(comparison)
    seconds: dict[tuple[str, str], float] = {}
    for one in done:
        key = (one.case.variant, one.case.bench)
        seconds[key] = seconds.get(key, 0.0) + one.result.engine_s
    suite = ET.Element(
        "testsuite", name=f"coldiron regress {_xml(comparison.now.study)}", tests=str(len(cases))
    )
    failures = errors = 0
    for variant, bench in cases:
        case = ET.SubElement(
            suite,
            "testcase",
            classname=_xml(f"{comparison.now.study}.{bench}"),
            name=_xml(variant),
            time=f"{seconds.get((variant, bench), 0.0):.3f}",
        )
        moves = [move for move in comparison.moves if _concerns(move, variant, bench)]
        if not moves:
            continue
        failed = any(move.kind is MoveKind.FAILED for move in moves)
        errors, failures = errors + failed, failures + (not failed)
        outcome = ET.SubElement(
            case,
            "error" if failed else "failure",
            type=moves[0].kind.words,
            message=_xml(line(moves[0]) + (f" and {len(moves) - 1} more" if len(moves) > 1 else "")),
        )
        outcome.text = _xml("\n".join(line(move) for move in moves))
    suite.set("failures", str(failures))
    suite.set("errors", str(errors))
    suite.set("skipped", "0")
    suite.set("time", f"{sum(seconds.values()):.3f}")
    ET.SubElement(suite, "system-out").text = _xml(
        "\n".join([summary(comparison), *changed_inputs(comparison), *comparison.notes])
    )
    root = ET.Element("testsuites")
    root.append(suite)
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _variants_and_benches(comparison: Comparison) -> list[tuple[str, str]]:
    """Every pair that was or is, in a fixed order."""

    def pairs(cases: Iterator[CaseName]) -> set[tuple[str, str]]:
        return {(case.variant, case.bench) for case in cases}

    failed = {(move.variant, move.bench) for move in comparison.moves if move.kind is MoveKind.FAILED}
    return sorted(pairs(iter(comparison.was.readings)) | pairs(iter(comparison.now.readings)) | failed)


def _concerns(move: Move, variant: str, bench: str) -> bool:
    return move.variant == variant and move.bench in ("", bench)


def _xml(text: str) -> str:
    r"""Text without the characters that XML cannot hold; an engine's words can have them.

    >>> _xml("a\x1bb")
    'a�b'
    """
    return _NOT_XML.sub("�", text)


def json_text(comparison: Comparison) -> str:
    """Everything of a comparison, for programs; what is infinite is written as text."""
    content = {
        "study": comparison.now.study,
        "status": comparison.status,
        "summary": summary(comparison),
        "counts": {kind.words: n for kind, n in comparison.counts.items()},
        "versions": {"reference": dict(comparison.was.versions), "now": dict(comparison.now.versions)},
        "moves": [_plain_move(move) for move in comparison.moves],
        "notes": list(comparison.notes),
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain_move(move: Move) -> dict[str, Any]:
    return {
        "kind": move.kind.words,
        "variant": move.variant,
        "bench": move.bench,
        "conditions": move.conditions,
        "reading": move.reading,
        "unit": kind_of(move.reading).unit,
        "reference": _finite(move.was),
        "now": _finite(move.now),
        "tolerance": move.allowed._asdict() if move.allowed else None,
        "distance_tolerances": _finite(move.distance),
        "because": list(move.because),
        "note": move.note,
    }


def _finite(value: float | str | None) -> float | str | None:
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value
