"""Kinds of sources, one module each; importing the package registers them all.

A bench wires them before the lamp: a supply, a generator with its coupling, an open switch, an ammeter. A
source is a part like any other, with a Jinja macro of its module's name under `netlists/sources/`, but no
lamp file places one. Supplies are those that a lamp file names by the word of their waveform.
"""

from __future__ import annotations

import importlib
import pkgutil

from coldiron.sources.source import SOURCES, SUPPLIES, Source, Supply, SupplyValues

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")

__all__ = ["SOURCES", "SUPPLIES", "Source", "Supply", "SupplyValues"]
