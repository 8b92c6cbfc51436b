"""What can be taken from the page: a study file, the deck that ran, a table of the strips."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

from coldiron.live.hand import Task, Understood
from coldiron.strips.spread import Strips
from coldiron.strips.vectors import unit_of
from coldiron.study.conditions import Conditions
from coldiron.study.weighed import as_toml, toml_text
from coldiron.wording import printable


def study_text(understood: Understood, lamp_file: str, task: Task, pins: Sequence[Mapping[str, Any]]) -> str:
    """Study file of the lamp in hand and of what is pinned, under the conditions of the page.

    `coldiron study` runs it to the readings that the page shows.

    Parameters
    ----------
    understood : Understood
    lamp_file : str
        As the study is to name its lamp.
    task : Task
    pins : sequence of mapping
        Changes of each pin.
    """
    hand = understood.hand(task)
    conditions = hand.study.conditions
    kept = {
        "mains": [conditions.mains[0].label],
        "ambient": f"{conditions.ambient_c:g} °C",
        "surge_angle": [float(angle) for angle in conditions.surge_angle_deg],
        "surge_polarity": ["+" if sign > 0 else "-" for sign in conditions.surge_polarity],
    }
    if conditions.surge_level_v is not None:
        kept["surge_level"] = f"{conditions.surge_level_v:g} V"
    different = [
        name
        for name in Conditions.model_fields
        if name not in ("mains", "ambient_c", "surge_level_v", "surge_angle_deg", "surge_polarity")
        and getattr(understood.study.conditions, name) != getattr(Conditions(), name)
    ]
    lines = [
        f"# Taken from the live page: {printable(understood.study.lamp.name)}.",
        f"name = {toml_text(f'{understood.study.name} by hand')}",
        f"lamp = {toml_text(lamp_file)}",
        f"benches = {as_toml(list(dict.fromkeys([*understood.study.benches, task.bench])))}",
        "",
        "[conditions]",
        *(f"{key} = {as_toml(value)}" for key, value in kept.items()),
    ]
    if different:
        lines.append(f"# Left to their defaults: {', '.join(different)}.")
    seen: list[dict[str, Any]] = []
    for changes in (task.changes, *pins):
        lamp_changes = understood.lamp(changes)[1]
        if not lamp_changes or dict(changes) in seen:
            continue
        seen.append(dict(changes))
        lines += ["", "[[variant]]", f"change = {as_toml(changes)}"]
    return "\n".join(lines) + "\n"


def strips_csv(strips: Strips) -> str:
    """Strips as a table: time, and one column a strip, the unit in each heading."""
    out = io.StringIO()
    headings = [f"time [{strips.axis.unit}]", *(f"{name} [{unit_of(name)}]" for name in strips.rows)]
    out.write(",".join(headings) + "\n")
    for number, moment_s in enumerate(strips.time_s):
        row = [float(moment_s) / strips.axis.size_s, *(float(row[number]) for row in strips.rows.values())]
        out.write(",".join(f"{value:.7g}" for value in row) + "\n")
    return out.getvalue()
