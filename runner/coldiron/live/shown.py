"""What the page shows before anything is run: the lamp, its handles, its schematic."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from coldiron.errors import FileProblems
from coldiron.lamp.describe import value_text
from coldiron.lamp.lamp import Lamp
from coldiron.lessons.model import lesson_names, load_lesson
from coldiron.live.hand import Understood
from coldiron.pictures.ink import pen
from coldiron.pictures.schematic import schematic
from coldiron.quantities import VOLT
from coldiron.study.change import changeable_parts
from coldiron.study.model import KNOWN_BENCHES

_ROOT_STYLE = re.compile(r'(<svg [^>]*?) style="[^"]*"')
_MOST_PINS = 6
ANGLES_DEG = (0.0, 90.0, 180.0, 270.0)
SUPPLIES = ("nominal", "+10 %", "-10 %", "230 V 50 Hz", "240 V 50 Hz", "120 V 60 Hz", "277 V 60 Hz")
RUNS = {
    "switch-on": "the lamp is connected at the worst angle",
    "steady": "one mains cycle, cold",
    "heat": "one mains cycle, warm and settled",
    "surge": "a combination wave, line to neutral",
    "burst": "a burst of fast pulses",
    "unplug": "pulled off the mains with the bus at its highest",
    "off-glow": "switched off, with a leakage path",
    "dip": "a dip of the mains",
}


def lamp_told(understood: Understood, caution: str) -> dict[str, Any]:
    """Everything that the page is built from."""
    study = understood.study
    lamp, conditions = study.lamp, study.conditions
    level_v = study.surge_level_v(lamp)
    return {
        "name": lamp.name,
        "study": study.name,
        "note": lamp.note,
        "variants": list(_variants(understood)),
        "lessons": [[name, load_lesson(name).title] for name in lesson_names()],
        "caution": caution,
        "parts": understood.parts,
        "benches": [[bench, RUNS.get(bench, "")] for bench in KNOWN_BENCHES],
        "mains": {
            "now": conditions.mains[0].label,
            "choices": list(
                dict.fromkeys(
                    [
                        *(mains.label for mains in conditions.mains),
                        "nominal",
                        "+10 %",
                        "-10 %",
                        "230 V 50 Hz",
                        "240 V 50 Hz",
                        "120 V 60 Hz",
                        "277 V 60 Hz",
                    ]
                )
            ),
            "nominal": f"{VOLT.format(lamp.mains.voltage_v)} {lamp.mains.frequency_hz:g} Hz",
        },
        "ambient": f"{conditions.ambient_c:g} °C",
        "surge": {"level": None if level_v is None else VOLT.format(level_v), "angles": list(ANGLES_DEG)},
        "pens": [
            {"colour": each.colour, "dashes": list(each.dashes), "marker": each.marker, "width": each.width}
            for each in map(pen, range(_MOST_PINS + 1))
        ],
    }


def _variants(understood: Understood) -> Iterator[tuple[str, dict[str, Any]]]:
    """Variants of the study to start from, their changes as handles have them."""
    lamp = understood.study.lamp
    models = {**changeable_parts(type(lamp)), **{part.name: type(part.values) for part in lamp.further}}
    for variant in understood.study.variants[1:]:
        changes: dict[str, Any] = {}
        for change in variant.changes:
            if not change.values:
                changes[change.part] = "none"
            elif set(change.values) == {"state"}:
                changes[change.part] = change.values["state"]
            elif change.part in models:
                model = models[change.part]
                changes |= {
                    f"{change.part}.{key}": value
                    if isinstance(value, int)
                    else "none"
                    if value is None
                    else value_text(model, key, value)
                    for key, value in change.values.items()
                }
        try:
            made = understood.lamp(changes)[1]
        except FileProblems:
            continue
        if [str(one) for one in made] == [str(one) for one in variant.changes]:
            yield variant.name, changes


def svg_of(lamp: Lamp, found: Lamp, *, in_one_row: bool = False) -> str:
    """Schematic of a lamp for the page, which gives it its paper and its letters."""
    return _ROOT_STYLE.sub(r"\1", schematic(lamp, found, in_one_row=in_one_row).svg, count=1)
