"""Files of an answer: its lines, the order of the variants, and the matrix of used over allowed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from coldiron.answer.answer import Answer
from coldiron.answer.rank import Ranked
from coldiron.answer.use import GROUP_WORDS, GROUPS, Topic, Use, topics, use_frame, use_ratios
from coldiron.answer.words import answer_lines
from coldiron.tables.files import write_whole
from coldiron.tables.tidy import table_text

if TYPE_CHECKING:
    import pandas as pd

RANK_COLUMNS = ("number", "recommended", *GROUP_WORDS.values(), "over", "missed")


def write_answer(folder: Path, answer: Answer) -> list[Path]:
    """Write `answer.txt`, `rank.csv` and `use.csv` under a folder; return the files."""
    uses = uses_in_order(answer)
    columns = topics(uses)
    of_topics = [f"{GROUP_WORDS[topic.group]}: {topic.name}" for topic in columns]
    texts = {
        folder / "answer.txt": "\n".join(answer_lines(answer)) + "\n",
        folder / "rank.csv": table_text(
            ("variant", *RANK_COLUMNS), ((one.candidate.name, *_row(one).values()) for one in answer.ranked)
        ),
        folder / "use.csv": table_text(
            ("variant", *of_topics),
            ((name, *ratios) for name, ratios in zip(uses, use_ratios(uses), strict=True)),
        ),
    }
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def use_matrix(answer: Answer) -> pd.DataFrame:
    """Used over allowed, in the order of the study: floats, over 1 is over, NaN where no limit applies."""
    return use_frame(uses_in_order(answer))


def uses_in_order(answer: Answer) -> dict[str, Mapping[Topic, Use]]:
    """Used over allowed of each variant, in the order of the study."""
    in_order = sorted(answer.ranked, key=lambda one: one.candidate.number)
    return {one.candidate.name: one.candidate.uses for one in in_order}


def rank_frame(answer: Answer) -> pd.DataFrame:
    """One row a variant, the first of the ranking first.

    Returns
    -------
    DataFrame
        `number` in the study; `recommended`: "yes", or why it is never; the worst use of a limit of each
        group; how many limits are `over`; `missed`: how many of the study's own bounds.
    """
    import pandas as pd

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
