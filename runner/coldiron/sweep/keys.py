"""The name of a case's results: a hash over everything that decides them, and nothing else."""

from __future__ import annotations

import hashlib
import json
from functools import cache

from coldiron.benches.base import Case
from coldiron.engine.ngspice_library import library_digest
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
    content = {
        "case": [case.bench, vars(case.conditions)],
        "lamp": [type(case.lamp).__name__, case.lamp.model_dump(exclude=_NAMES_ONLY)],
        "with": identity(),
    }
    # The conditions of single benches are models of their own within the conditions.
    text = json.dumps(content, sort_keys=True, default=lambda model: model.model_dump())
    return hashlib.sha256(text.encode()).hexdigest()
