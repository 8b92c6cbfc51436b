"""The name of a case's results: a hash over everything that decides them."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

import numpy as np

from coldiron.benches.base import Case
from coldiron.deck.templates import templates_version
from coldiron.engine.ngspice_library import library_digest

_PACKAGE = Path(__file__).resolve().parents[1]
_DECIDING = ("parts", "lamp", "deck", "engine", "readings", "benches", "heat", "sweep")
"""Stages whose code decides what a case gives."""
_SAYS_ONLY = "readings/catalogue/"
"""Words and tolerances of readings: they decide no value, and a better word is not to cost a computation."""


@cache
def code_digest() -> str:
    """Hash over the source of every module from parts to sweep, and of the library that sums arrays."""
    digest = hashlib.sha256(np.__version__.encode())
    for stage in _DECIDING:
        for path in sorted((_PACKAGE / stage).rglob("*.py")):
            name = path.relative_to(_PACKAGE).as_posix()
            if not name.startswith(_SAYS_ONLY):
                digest.update(name.encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def identity() -> str:
    """Name of everything but the case that decides what it gives: templates, engine, code."""
    return "/".join((templates_version(), library_digest(), code_digest()))


def case_key(case: Case) -> str:
    """Hash over a case, the templates, the engine and the code.

    The names of study and variant are part of it, because the decks carry them as comments.
    """
    content = {
        "case": [case.study, case.variant, case.bench, vars(case.exposure)],
        "lamp": case.lamp.model_dump(),
        "with": identity(),
    }
    # The conditions of single benches are models of their own within the exposure.
    text = json.dumps(content, sort_keys=True, default=lambda model: model.model_dump())
    return hashlib.sha256(text.encode()).hexdigest()
