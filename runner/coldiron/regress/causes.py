"""Which inputs of a case are not what they were when its reference was written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from coldiron.lamp.describe import part_label, value_text
from coldiron.lamp.model import written_key
from coldiron.lamp.topologies import TOPOLOGIES
from coldiron.regress.record import templates_of
from coldiron.regress.reference import ReferenceTable, Value
from coldiron.study.change import changeable_parts
from coldiron.study.model import KNOWN_BENCHES

NOTHING_RECORDED = "no recorded input: the machine?"


def causes(was: ReferenceTable, now: ReferenceTable, variant: str, bench: str) -> tuple[str, ...]:
    """Changed inputs that can have moved the readings of a variant on a bench, as a person says them.

    Parameters
    ----------
    was, now : ReferenceTable
        Both must have the variant.
    variant, bench : str

    Returns
    -------
    tuple of str
        Lamp and conditions first, then templates, then versions. The program's own code is named only where
        nothing else has changed: it is different after almost every commit.
    """
    found = [
        *lamp_changes(was.inputs[variant], now.inputs[variant], bench),
        *_templates(was.templates, now.templates, bench),
        *_versions(was.versions, now.versions),
    ]
    if not found and was.versions.get("code") != now.versions.get("code"):
        found = ["coldiron's own code"]
    return tuple(found) or (NOTHING_RECORDED,)


def lamp_changes(was: Mapping[str, Value], now: Mapping[str, Value], bench: str) -> Iterator[str]:
    """Changed values of lamp and conditions.

    Examples
    --------
    >>> was = {"varistor.ac_rating_v": 300.0, "bleed.resistance_ohm": 1e6}
    >>> now = {"varistor": "none", "bleed.resistance_ohm": 470e3}
    >>> list(lamp_changes(was, now, "surge"))
    ['bleed.resistance 1 MΩ → 470 kΩ', 'varistor removed']
    """
    parts: dict[str, list[str]] = {}
    for key in sorted({key for key in was.keys() | now.keys() if was.get(key) != now.get(key)}):
        part, _, field = key.partition(".")
        parts.setdefault(part, []).append(field)
    for part, fields in parts.items():
        if was.get(part) == "none" or now.get(part) == "none":
            yield f"{part_label(part)} {'removed' if now.get(part) == 'none' else 'fitted'}"
            continue
        for field in fields:
            if part == "conditions" and _of_another_bench(field, bench):
                continue
            values = [each.get(f"{part}.{field}") for each in (was, now)]
            before, after = (_said(part, field, value) for value in values)
            if before == after:
                before, after = (f"{value:.9g}" if isinstance(value, float) else before for value in values)
            yield f"{part}.{written_key(field)} {before} → {after}"


def _of_another_bench(field: str, bench: str) -> bool:
    """Tell whether a condition bears the name of another bench: a surge level decides no dissipation."""
    owner = field.split("_")[0]
    return owner in KNOWN_BENCHES and owner != bench


def _said(part: str, field: str, value: Value | None) -> str:
    known = (changeable_parts(lamp).get(part) for lamp in TOPOLOGIES.values())
    model = next((table for table in known if table is not None), None)
    if value is None:
        return "none"
    if isinstance(value, str) or model is None or field not in model.model_fields:
        return value if isinstance(value, str) else f"{value:g}"
    return value_text(model, written_key(field), value)


def _templates(was: Mapping[str, str], now: Mapping[str, str], bench: str) -> Iterator[str]:
    changed = sorted(name for name in was.keys() | now.keys() if was.get(name) != now.get(name))
    # A bench can print what its own top template does not name; then any changed template may be the cause.
    printed = [name for name in changed if name in templates_of(bench)]
    yield from (f"template {name.removesuffix('.cir.j2')}" for name in printed or changed)


def _versions(was: Mapping[str, str], now: Mapping[str, str]) -> Iterator[str]:
    changed = {name for name in was.keys() | now.keys() if was.get(name) != now.get(name)} - {"code"}
    if "engine" in changed:
        changed.discard("engine library")
    for name in sorted(changed):
        label = "" if name == "engine" else f"{name} "
        yield f"{label}{was.get(name, 'none')} → {now.get(name, 'none')}"
