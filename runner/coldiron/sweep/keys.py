"""The name of a case's results: a hash over everything that decides them, and nothing else."""

from __future__ import annotations

import hashlib
import json
from functools import cache, lru_cache

from coldiron.benches.base import Case
from coldiron.engine.ngspice_library import library_digest
from coldiron.lamp.lamp import Lamp
from coldiron.sweep.code import code_digest

_NAMES_ONLY = {"name", "note"}
"""Fields of a lamp that no bench reads: they are for people."""


@cache
def identity() -> str:
    """Name of everything but the case that decides what it gives: engine, code, libraries, templates."""
    return f"{library_digest()}/{code_digest()}"


def case_key(case: Case) -> str:
    """Hash over a case, the engine, and the code, libraries and templates that it runs through.

    Names of lamp, study and variant are no part of it: equal circuits share a result.
    """
    exposed = _text([case.bench, vars(case.conditions), identity()])
    return hashlib.sha256(f"{exposed}\n{_lamp_text(_Same(case.lamp))}".encode()).hexdigest()


class _Same:
    """A lamp, equal to itself and to no other, however like; who holds one keeps its lamp alive."""

    def __init__(self, lamp: Lamp) -> None:
        self.lamp = lamp

    def __hash__(self) -> int:
        return id(self.lamp)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.lamp is other.lamp


@lru_cache(maxsize=16)
def _lamp_text(asked: _Same) -> str:
    """All values of a lamp; the cases of one follow each other."""
    lamp = asked.lamp
    return _text([type(lamp).__name__, lamp.model_dump(exclude=_NAMES_ONLY)])


def _text(content: object) -> str:
    # The conditions of single benches are models of their own within the conditions.
    return json.dumps(content, sort_keys=True, default=lambda model: model.model_dump())
