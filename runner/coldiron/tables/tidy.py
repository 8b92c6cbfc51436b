"""Tidy and wide tables of results, as frames and as CSV text that is the same for the same results."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

import pandas as pd

from coldiron.readings.catalogue import kind_of
from coldiron.study.model import AS_FOUND
from coldiron.sweep.run import FinishedCase

TIDY_COLUMNS = ["variant", "bench", "conditions", "reading", "value", "unit"]


def tidy(done: Sequence[FinishedCase]) -> pd.DataFrame:
    """One row a case and reading.

    Columns are variant, bench, conditions, reading, value and unit. A case that failed or was skipped has one
    row, `failed` or `skipped`, with the reason as its value. `light_pct` is added here, because it compares a
    case with the lamp as found, cold, on the same supply.
    """
    rows: list[tuple[str, str, str, str, float | str, str]] = []
    found_light_a = {
        one.case.exposure.supply: one.result.readings.get("light_A")
        for one in done
        if one.case.variant == AS_FOUND and one.case.bench == "steady"
    }
    for one in done:
        case, label = one.case, one.case.exposure.label
        head = (case.variant, case.bench, label)
        if one.result.failure:
            rows.append((*head, "failed", one.result.failure.why, ""))
        if one.result.skipped:
            rows.append((*head, "skipped", one.result.skipped, ""))
        for reading, value in one.result.readings.items():
            rows.append((*head, reading, value, kind_of(reading).unit))
        light_a, reference_a = one.result.readings.get("light_A"), found_light_a.get(case.exposure.supply)
        if isinstance(light_a, float) and isinstance(reference_a, float) and reference_a > 0:
            rows.append((*head, "light_pct", 100 * light_a / reference_a, "%"))
    return pd.DataFrame(rows, columns=TIDY_COLUMNS)


def wide(table: pd.DataFrame) -> pd.DataFrame:
    """One row a variant, one column a reading; with more than one supply the column says which.

    What the bench "heat" reads of the settled lamp stands under "hot ...", beside the same reading cold.

    Rows and columns keep the order of the tidy table.
    """
    several = table["conditions"].nunique() > 1
    hot = table["bench"].eq("heat").map({True: "hot ", False: ""})
    columns = hot + table["reading"] + (" at " + table["conditions"] if several else "")
    pivot = (
        table.assign(column=columns)
        .drop_duplicates(["variant", "column"])
        .pivot(index="variant", columns="column", values="value")
    )
    return pivot.loc[table["variant"].unique(), columns.unique()].rename_axis(columns=None)


def number_text(value: object) -> str:
    """A value as the files hold it: seven significant digits, which every machine rounds alike.

    Examples
    --------
    >>> number_text(0.123456789), number_text(float("inf")), number_text("sinks, energy")
    ('0.1234568', 'inf', 'sinks, energy')
    """
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.7g}"
    return str(value)


def csv_text(frame: pd.DataFrame, *, index: bool) -> str:
    """CSV of a frame with every number at fixed precision and plain line ends."""
    rows = zip(*(map(number_text, frame[column].tolist()) for column in frame.columns), strict=True)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if index:
        writer.writerow([frame.index.name, *frame.columns])
        writer.writerows([name, *row] for name, row in zip(frame.index, rows, strict=True))
    else:
        writer.writerow(frame.columns)
        writer.writerows(rows)
    return text.getvalue()
