"""BenchModules: one module each, with its deck, its conditions and its readings."""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping
from types import ModuleType

_MODULES = {
    "switch-on": "switch_on",
    "steady": "steady",
    "heat": "hot",
    "surge": "surge",
    "burst": "burst",
    "unplug": "unplug",
    "off-glow": "off_glow",
    "dip": "dip",
    "touch": "touch",
    "live": "live",
    "surge-earth": "surge_earth",
    "insulation": "insulation",
    "shared-circuit": "shared_circuit",
}
_ASIDE = {"fault": "fault"}
"""Benches that no study names: what a study asks of them has a key of its own."""


class BenchModules(Mapping[str, ModuleType]):
    """Modules by bench, each imported when it is first asked for: a study from the store asks for none."""

    def __getitem__(self, name: str) -> ModuleType:
        """Module of a bench."""
        return importlib.import_module(f"{__name__}.{(_MODULES | _ASIDE)[name]}")

    def __iter__(self) -> Iterator[str]:
        """Names in the order of the tables."""
        return iter(_MODULES)

    def __len__(self) -> int:
        """Number of benches."""
        return len(_MODULES)


BENCHES = BenchModules()
"""Every bench by the name a study gives it, in the order of the tables."""
