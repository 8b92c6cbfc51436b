"""What limits an answer: cases without one, limits quoted from memory, limits that do not apply."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.limits import Verdict
from coldiron.limits.verdict import NO_LIMIT
from coldiron.sweep.results import Results


def holes(results: Results) -> list[str]:
    """A line where cases gave no answer."""
    failed = [one for one in results if one.result.failure]
    if not failed:
        return []
    names = ", ".join(dict.fromkeys(one.case.variant for one in failed))
    return [
        f"{len(failed)} of {len(results)} cases gave no answer ({names}): their places are empty, and "
        "such a variant is not recommended."
    ]


def caveats(results: Results, verdicts: Sequence[Verdict]) -> list[str]:
    """One line for each."""
    lines = holes(results)
    recalled = sum(verdict.provenance == "from memory" for verdict in verdicts)
    if recalled:
        lines.append(
            f"{recalled} of {len(verdicts)} verdicts rest on limits quoted from memory; the list says which."
        )
    none = dict.fromkeys(f"{v.source}: {v.note}" for v in verdicts if v.verdict == NO_LIMIT)
    if none:
        lines.append("No limit applies, which is not a pass: " + "; ".join(none) + ".")
    return lines
