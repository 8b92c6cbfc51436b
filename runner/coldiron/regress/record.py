"""What a study gives now, and from what, ready to be held against its reference or to become it."""

from __future__ import annotations

import hashlib
import importlib.metadata
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from functools import cache

from pydantic import BaseModel

from coldiron.benches import BENCHES
from coldiron.benches.base import TestConditions
from coldiron.engine.ngspice_library import library_digest
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.shapes import UNWRITTEN
from coldiron.limits.verdict import Verdict
from coldiron.regress.limits import bounds_of, rule_digests
from coldiron.regress.reference import CaseName, ReferenceTable, Value, may_be_zero, rounded
from coldiron.regress.tolerances import allowed_for
from coldiron.resources import resource_dir
from coldiron.study.model import Study
from coldiron.sweep.code import code_digest
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase

_PACKAGES = ("coldiron", "numpy", "scipy")
_SAID_ONLY = frozenset({"name", "note", "provenances", "reading"})
"""Fields of a lamp that decide no reading."""
_ZERO_RATIO = 0.1
"""A harmonic below this share of what counts as a change is zero."""


def record_of(study: Study, results: Results, verdicts: Sequence[Verdict], engine: str) -> ReferenceTable:
    """ReferenceTable of a study that has been run; a failed case has no readings.

    Parameters
    ----------
    study : Study
    results : Results
        All its cases.
    verdicts : sequence of Verdict
        The limits they were held against.
    engine : str
        Version of the engine, such as "ngspice-39".
    """
    readings: dict[CaseName, dict[str, Value]] = {}
    for one in results:
        hole = results.hole(*case_name(one))
        if hole and hole.word == "failed":
            continue
        found: dict[str, float | str] = {hole.word: hole.why} if hole else {}
        found |= results.readings(*case_name(one))
        readings[case_name(one)] = dict(_kept_readings(found, study))
    conditions = {one.case.variant: one.case.conditions for one in reversed(list(results))}
    return ReferenceTable(
        study=study.name,
        inputs={
            variant.name: dict(_lamp_values(variant.lamp)) | dict(_conditions(conditions[variant.name]))
            for variant in study.variants
        },
        templates=template_digests(),
        versions={name: importlib.metadata.version(name) for name in _PACKAGES}
        | {"engine": engine, "engine library": library_digest()[:8], "code": code_digest()[:8]},
        readings=readings,
        over=bounds_of(verdicts, over=True),
        kept=bounds_of(verdicts, over=False),
        rules=rule_digests(study),
    )


def case_name(one: FinishedCase) -> CaseName:
    """Name of a finished case."""
    return CaseName(one.case.variant, one.case.bench, one.case.conditions.label)


def _kept_readings(found: Mapping[str, float | str], study: Study) -> Iterator[tuple[str, Value]]:
    """Readings as a reference holds them: rounded, and without the harmonics that are zero."""
    for reading, value in found.items():
        amount = allowed_for(reading, study.tolerance).absolute
        zero = isinstance(value, float) and abs(value) < _ZERO_RATIO * amount
        if not (zero and may_be_zero(reading)):
            yield reading, rounded(value, amount)


def _lamp_values(lamp: Lamp) -> Iterator[tuple[str, Value]]:
    """Every value of a lamp that can decide a reading, by dotted name; a part it has not is "none"."""
    for further in lamp.further:
        yield f"{further.name}.place", f"{further.way} {further.where}"
        for field, value in further.values:
            if field not in _SAID_ONLY:
                yield f"{further.name}.{field}", _plain(value)
    yield from ((f"{name}.state", state) for name, state in lamp.states)
    # A lamp iterates over what it has worked out as well, such as its circuit.
    for name in type(lamp).model_fields:
        if name in _SAID_ONLY or name in UNWRITTEN:
            continue
        part = getattr(lamp, name)
        if isinstance(part, BaseModel):
            for field, value in part:
                if field not in _SAID_ONLY:
                    yield f"{name}.{field}", _plain(value)
        else:
            yield name, _plain(part)


def _conditions(conditions: TestConditions) -> Iterator[tuple[str, Value]]:
    """Conditions that the name of a case does not carry."""
    for field, value in asdict(conditions).items():
        if isinstance(value, dict):
            yield from ((f"conditions.{field}_{inner}", _plain(each)) for inner, each in value.items())
        elif field not in ("voltage_v", "frequency_hz"):
            yield f"conditions.{field}", _plain(value)


def _plain(value: object) -> Value:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return float(f"{value:.9g}")
    if isinstance(value, tuple | list):
        return ", ".join(str(_plain(each)).removesuffix(".0") for each in value)
    return str(value)


@cache
def template_digests() -> Mapping[str, str]:
    """Hash of each deck template without its comments, by its path."""
    folder = resource_dir("netlists")
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(
            template_sense(path.read_text(encoding="utf-8")).encode()
        ).hexdigest()[:8]
        for path in sorted(folder.rglob("*.cir.j2"))
    }


def template_sense(text: str) -> str:
    r"""What of a template can move a reading: no comment of the deck, none of the template, no blank line.

    Examples
    --------
    >>> template_sense("{# macro #}* the bleed\nrbleed bus 0 {{ r }}\n")
    'rbleed bus 0 {{ r }}'
    """
    lines = re.sub(r"\{#.*?#\}", "", text, flags=re.DOTALL).splitlines()
    return "\n".join(line.rstrip() for line in lines if line.strip() and not line.lstrip().startswith("*"))


@cache
def templates_of(bench: str) -> frozenset[str]:
    """Templates that decks of a bench may be printed from: all but the sources of other benches."""
    folder = resource_dir("netlists")
    every = {path.relative_to(folder).as_posix() for path in folder.rglob("*.cir.j2")}
    others = {name for other in BENCHES for name in _sources(other)}
    return frozenset(every - (others - _sources(bench)))


def _sources(bench: str) -> frozenset[str]:
    """Templates of the sources that a bench wires beside the mains and its ammeter."""
    module = BENCHES.get(bench)
    return frozenset(source.template() for source in getattr(module, "SOURCES", ()))
