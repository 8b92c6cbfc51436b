"""Coldiron answers one question: what would this change do to this lamp, before the soldering iron is hot.

In a notebook::

    from coldiron import load_lamp, make_study, run_study

    lamp = load_lamp("kerbside-flood")
    for farads in ("10 µF", "22 µF"):
        study = make_study(lamp, {farads: {"reservoir.capacitance": farads}}, benches=["steady"])
        print(run_study(study).wide["steady", "flicker_pct"][farads])

`load_lamp` and `load_study` read files, `make_study` does without one, `run_study` runs a study and returns a
`StudyResult`, `diagnose` ranks what may be broken, `run_spread` draws lamps of their tolerances and returns a
`SpreadResult`, `run_advice` chooses parts of a catalogue and returns an `AdviceResult`. Everything that is
refused is a `ColdironError`.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coldiron.api import (
        AdviceResult,
        SpreadResult,
        StudyResult,
        run_advice,
        run_spread,
        run_study,
    )
    from coldiron.diagnosis.diagnose import Diagnosis, diagnose
    from coldiron.errors import (
        CannotWrite,
        ColdironError,
        FileProblems,
        MissingEngine,
        Problem,
        SimulationFailed,
    )
    from coldiron.lamp.lamp import Lamp
    from coldiron.lamp.load import load_lamp
    from coldiron.study.load import load_study, make_study
    from coldiron.study.model import Study, Variant

__all__ = [
    "AdviceResult",
    "CannotWrite",
    "ColdironError",
    "Diagnosis",
    "FileProblems",
    "Lamp",
    "MissingEngine",
    "Problem",
    "SimulationFailed",
    "SpreadResult",
    "Study",
    "StudyResult",
    "Variant",
    "diagnose",
    "load_lamp",
    "load_study",
    "make_study",
    "run_advice",
    "run_spread",
    "run_study",
]

_HOMES = {
    "AdviceResult": "api",
    "Diagnosis": "diagnosis.diagnose",
    "Lamp": "lamp.lamp",
    "SpreadResult": "api",
    "Study": "study.model",
    "StudyResult": "api",
    "Variant": "study.model",
    "diagnose": "diagnosis.diagnose",
    "load_lamp": "lamp.load",
    "load_study": "study.load",
    "make_study": "study.load",
    "run_advice": "api",
    "run_spread": "api",
    "run_study": "api",
}
"""Module of each public name; what is not here is an error."""


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for: `coldiron --help` needs none of them."""
    if name in __all__:
        return getattr(importlib.import_module(f"coldiron.{_HOMES.get(name, 'errors')}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """Names for completion and `help(coldiron)`, loaded or not."""
    return sorted({*globals(), *__all__})
