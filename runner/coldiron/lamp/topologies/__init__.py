"""Topologies: which short keys a lamp of a class has, and the parts between points that they stand for.

A topology is one module with one lamp class. A lamp file names it by `topology`, linear sinks where it names
none.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from typing import Final

from coldiron.lamp.lamp import Lamp

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")


def _kinds(lamp: type[Lamp]) -> Iterator[type[Lamp]]:
    for kind in lamp.__subclasses__():
        yield kind
        yield from _kinds(kind)


TOPOLOGIES: Final[dict[str, type[Lamp]]] = {lamp.topology_word: lamp for lamp in _kinds(Lamp)}
"""Lamp classes by the word of their topology."""
DEFAULT: Final = "linear sinks"
