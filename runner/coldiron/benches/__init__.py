"""Benches: one module each, with its deck, its conditions and its readings."""

from __future__ import annotations

from types import ModuleType

from coldiron.benches import burst, dip, hot, off_glow, steady, surge, switch_on, unplug

BENCHES: dict[str, ModuleType] = {
    "switch-on": switch_on,
    "steady": steady,
    "heat": hot,
    "surge": surge,
    "burst": burst,
    "unplug": unplug,
    "off-glow": off_glow,
    "dip": dip,
}
"""Every bench by the name a study gives it, in the order of the tables."""
