"""Advice as files and as frames: the whole set, every candidate and its fate, the limits that decide."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coldiron.advice.advice import Advice
from coldiron.advice.search import BROKEN_SAID, FATES
from coldiron.advice.words import advice_lines, topic_words
from coldiron.tables.files import write_whole
from coldiron.tables.tidy import table_text

if TYPE_CHECKING:
    import pandas as pd

LIMIT_COLUMNS: Final = ("group", "limit", "candidates", "alone")


def set_columns(advice: Advice) -> tuple[str, ...]:
    """Columns of the set: number, parts, aims, the limit used most of, its use, whether it is shown."""
    parts = (axis.name for axis in advice.found.space.axes)
    aims = (aim.reading for aim in advice.aims)
    return ("number", *parts, *aims, "limited_by", "use", "shown")


def set_rows(advice: Advice) -> Iterator[tuple[object, ...]]:
    """One row a candidate that keeps every limit and that none beats, in the order of the aims."""
    found = advice.found
    shown = {one.number for one in advice.chosen}
    for number in found.best:
        closest = found.bench.of(number).closest(advice.study)
        yield (
            number,
            *(option.label for option in found.space.options(number)),
            *(found.value(number, aim) for aim in advice.aims),
            topic_words(closest.topic) if closest else "",
            closest.ratio if closest else math.nan,
            "yes" if number in shown else "",
        )


def candidate_columns(advice: Advice) -> tuple[str, ...]:
    """Columns of all candidates: number, parts, cost, fate, the worst of its limits and the use."""
    return ("number", *(axis.name for axis in advice.found.space.axes), "cost", "fate", "limit", "use")


def candidate_rows(advice: Advice) -> Iterator[tuple[object, ...]]:
    """One row a candidate; of one that the half wave threw out the use is what it is at the least."""
    found = advice.found
    labels = [[option.label for option in axis.options] for axis in found.space.axes]
    for number in range(len(found.space)):
        fate = int(found.fate[number])
        of = found.groups.first(int(found.groups.of[number])) if fate == BROKEN_SAID else number
        broken = found.near.get(of, {})
        worst = sorted(broken.items(), key=lambda pair: -pair[1])
        topic, use = worst[0] if worst else found.like.get(number, (None, math.nan))
        yield (
            number,
            *(names[step] for names, step in zip(labels, found.space.steps(number), strict=True)),
            float(found.space.costs[number]),
            FATES[fate],
            topic_words(topic) if topic else "",
            use,
        )


def write_advice(folder: Path, advice: Advice) -> list[Path]:
    """Write `advice.txt`, `set.csv`, `limits.csv` and `candidates.csv` under a folder; return the files."""
    texts = {
        folder / "advice.txt": "\n".join(advice_lines(advice)) + "\n",
        folder / "set.csv": table_text(set_columns(advice), set_rows(advice)),
        folder / "limits.csv": table_text(
            LIMIT_COLUMNS, ((t.group, topic_words(t), count, alone) for t, count, alone in advice.counts)
        ),
        folder / "candidates.csv": table_text(candidate_columns(advice), candidate_rows(advice)),
    }
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def set_frame(advice: Advice) -> pd.DataFrame:
    """Frame of the set, one row a candidate, indexed by its number."""
    import pandas as pd

    frame = pd.DataFrame(list(set_rows(advice)), columns=list(set_columns(advice)))
    frame["shown"] = frame["shown"] == "yes"
    return frame.set_index("number")


def candidates_frame(advice: Advice) -> pd.DataFrame:
    """Frame of every candidate with what became of it, indexed by its number."""
    import pandas as pd

    frame = pd.DataFrame(list(candidate_rows(advice)), columns=list(candidate_columns(advice)))
    return frame.set_index("number")


def limits_frame(advice: Advice) -> pd.DataFrame:
    """Frame of the limits that candidates break: of how many, and of how many each alone."""
    import pandas as pd

    rows = [(t.group, topic_words(t), count, alone) for t, count, alone in advice.counts]
    return pd.DataFrame(rows, columns=list(LIMIT_COLUMNS))
