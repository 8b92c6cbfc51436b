"""Kinds of parts, one module each; importing the package registers them all by their word in a lamp file."""

from __future__ import annotations

import importlib
import pkgutil

from coldiron.parts.part import KINDS, MINUS, Part, PartConditions, PartWaveforms

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")

__all__ = ["KINDS", "MINUS", "Part", "PartConditions", "PartWaveforms"]
