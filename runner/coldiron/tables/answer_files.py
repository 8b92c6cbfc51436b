"""Files of an answer: its lines, the order of the variants, and the matrix of used over allowed."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from coldiron.answer.answer import Answer
from coldiron.answer.rank import Ranked
from coldiron.answer.use import GROUP_WORDS, GROUPS, use_frame
from coldiron.answer.words import answer_lines
from coldiron.tables.files import write_whole
from coldiron.tables.tidy import csv_text

RANK_COLUMNS = ("number", "recommended", *GROUP_WORDS.values(), "over", "missed")


def write_answer(folder: Path, answer: Answer) -> list[Path]:
    """Write `answer.txt`, `rank.csv` and `use.csv` under a folder; return the files."""
    matrix = use_matrix(answer)
    named = matrix.set_axis([": ".join(column) for column in matrix.columns], axis="columns")
    texts = {
        folder / "answer.txt": "\n".join(answer_lines(answer)) + "\n",
        folder / "rank.csv": csv_text(rank_frame(answer).reset_index()),
        folder / "use.csv": csv_text(named.reset_index()),
    }
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def use_matrix(answer: Answer) -> pd.DataFrame:
    """Used over allowed, in the order of the study: floats, over 1 is over, NaN where no limit applies."""
    in_order = sorted(answer.ranked, key=lambda one: one.candidate.number)
    return use_frame({one.candidate.name: one.candidate.uses for one in in_order})


def rank_frame(answer: Answer) -> pd.DataFrame:
    """One row a variant, the first of the ranking first.

    Returns
    -------
    DataFrame
        `number` in the study; `recommended`: "yes", or why it is never; the worst use of a limit of each
        group; how many limits are `over`; `missed`: how many of the study's own bounds.
    """
    rows = [_row(one) for one in answer.ranked]
    names = pd.Index([one.candidate.name for one in answer.ranked], name="variant")
    return pd.DataFrame(rows, index=names, columns=pd.Index(RANK_COLUMNS))


def _row(one: Ranked) -> dict[str, float | int | str]:
    candidate = one.candidate
    worst = {
        GROUP_WORDS[group]: max(
            (use.ratio for use in candidate.uses.values() if use.topic.group == group), default=float("nan")
        )
        for group in GROUPS
    }
    never = "; ".join(hazard.caution for hazard in one.takes_away)
    gaps = f"no answer from {', '.join(candidate.failed)}" if candidate.failed else ""
    return {
        "number": candidate.number,
        "recommended": "; ".join(text for text in (never, gaps) if text) or "yes",
        **worst,
        "over": len(candidate.over),
        "missed": len(one.missed),
    }
