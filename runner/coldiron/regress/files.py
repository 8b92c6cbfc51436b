"""A comparison as files for a build: Markdown for its summary, JUnit XML for its tests, JSON for programs."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from coldiron.readings.catalogue import kind_of
from coldiron.regress.groups import causes_of, grouped, trend
from coldiron.regress.moves import Bound, Comparison, Move, MoveKind
from coldiron.regress.reference import CaseName, Value
from coldiron.regress.words import HEADINGS, changed_inputs, line, row, subject, summary
from coldiron.sweep.run import FinishedCase
from coldiron.tables.files import write_whole

MOST_ROWS = 200
"""Rows of the Markdown table; services cut a summary that is too long."""
JSON_VERSION: Final = 2
"""Goes up when a key of `regress.json` goes or means something else."""
REFUSED_STATUS: Final = 2

_ACTIVE = re.compile(r"[\\`*_\[\]|~#@!]|:(?=//)|(?<=www)\.", re.I)
"""What Markdown makes marks, links and mentions of."""
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_comparison(folder: Path, comparison: Comparison, done: Sequence[FinishedCase]) -> None:
    """Write `regress.md`, `regress.xml` and `regress.json` into a folder."""
    write_whole(folder / "regress.md", markdown(comparison))
    write_whole(folder / "regress.xml", junit(comparison, done))
    write_whole(folder / "regress.json", json_text(comparison))


def write_refusal(folder: Path, study: str, problems: Sequence[str]) -> None:
    """Write the same three files for a study that could not be run or compared, and why.

    What an earlier run left there would pass for the result of this one.
    """
    lines = [f"## Regress: {_cell(study)}: not compared", "", *(f"- {_cell(text)}" for text in problems), ""]
    write_whole(folder / "regress.md", "\n".join(lines))
    suite = ET.Element(
        "testsuite", name=f"coldiron regress {_xml(study)}", tests="1", failures="0", errors="1", skipped="0"
    )
    case = ET.SubElement(suite, "testcase", classname=_xml(study), name="files and installation")
    error = ET.SubElement(case, "error", type="refused", message=_xml(problems[0] if problems else ""))
    error.text = _xml("\n".join(problems))
    write_whole(folder / "regress.xml", _junit_text(suite))
    content = {
        "version": JSON_VERSION, "study": study, "status": REFUSED_STATUS, "problems": list(problems)
    }  # fmt: skip
    write_whole(folder / "regress.json", _json_text(content))


def markdown(comparison: Comparison) -> str:
    """Summary, table and notes for the page of a build."""
    lines = [f"## Regress: {_cell(summary(comparison))}", ""]
    if inputs := changed_inputs(comparison):
        lines += ["Because:", "", *(f"- {_cell(text)}" for text in inputs), ""]
    groups, causes = grouped(comparison.moves), causes_of(comparison.moves)
    if groups:
        lines += [_row(HEADINGS), _row(["---"] * len(HEADINGS))]
        lines += [_row([_cell(text) for text in row(group, causes)]) for group in groups[:MOST_ROWS]]
        lines.append("")
    if (more := len(groups) - MOST_ROWS) > 0:
        lines += [f"… and {more} more, which regress.json lists.", ""]
    if comparison.notes:
        lines += ["<details><summary>Notes</summary>", ""]
        lines += [f"- {_cell(note)}" for note in notes(comparison)[:MOST_ROWS]]
        lines += ["", "</details>", ""]
    return "\n".join(lines)


def notes(comparison: Comparison) -> list[str]:
    """What is told and is no move, a line for each thing with the worst case of it."""
    said = []
    for group in grouped(comparison.notes):
        cells = row(group, ())
        because = f" ({', '.join(group.because[:3])})" if group.because else ""
        said.append(": ".join(text for text in (cells[0], cells[4], cells[1], cells[2]) if text) + because)
    return said


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
        "\n".join([summary(comparison), *changed_inputs(comparison), *notes(comparison)])
    )
    return _junit_text(suite)


def _junit_text(suite: ET.Element) -> str:
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
    """Everything of a comparison, for programs.

    A key holds a number or null, and never text for a number: what is infinite or a word stands under the
    same key with `_text` behind it.
    """
    content = {
        "version": JSON_VERSION,
        "study": comparison.now.study,
        "status": comparison.status,
        "summary": summary(comparison),
        "counts": {kind.words: n for kind, n in comparison.counts.items()},
        "limits_over": comparison.over,
        "limits_that_stay_over": comparison.stay_over,
        "versions": {"reference": dict(comparison.was.versions), "now": dict(comparison.now.versions)},
        "moves": [_plain_move(move) for move in comparison.moves],
        "notes": [_plain_move(move) for move in comparison.notes],
    }
    return _json_text(content)


def _json_text(content: object) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain_move(move: Move) -> dict[str, Any]:
    return {
        "kind": move.kind.words,
        "variant": move.variant,
        "bench": move.bench,
        "conditions": move.conditions,
        "reading": move.reading,
        "about": subject(move),
        "unit": kind_of(move.reading).unit if move.reading else "",
        **_number("reference", move.was),
        **_number("now", move.now),
        "tolerance": move.allowed._asdict() if move.allowed else None,
        **_number("distance_tolerances", move.distance if move.kind is MoveKind.DRIFT else None),
        "trend": trend(move),
        "limit": _plain_bound(move.bound) if move.bound else None,
        "because": list(move.because),
        "note": move.note,
    }


def _plain_bound(bound: Bound) -> dict[str, Any]:
    return {
        "id": bound.limit_id,
        "group": bound.group,
        "what": bound.words,
        "source": bound.source,
        "bound": "at least" if bound.least else "at most",
        **_number("reference", None if math.isnan(bound.before) else bound.before),
        **_number("now", None if math.isnan(bound.value) else bound.value),
    }


def _number(key: str, value: Value | None) -> dict[str, Any]:
    if isinstance(value, float) and math.isfinite(value):
        return {key: value}
    text = value if isinstance(value, str) else "" if value is None else f"{value:g}"
    return {key: None, f"{key}_text": text} if text else {key: None}
