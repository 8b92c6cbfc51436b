"""A study as the later steps read it: the lamp, its variants, the benches and the conditions."""

from __future__ import annotations

from typing import Final

from pydantic import BaseModel, ConfigDict, Field

from coldiron.lamp.lamp import Lamp
from coldiron.study.advise import Advise
from coldiron.study.aims import Aims
from coldiron.study.change import Change
from coldiron.study.conditions import Conditions, SupplyPoint
from coldiron.study.holding import Holding
from coldiron.study.spread import Spread
from coldiron.study.tolerance import Tolerances

KNOWN_BENCHES: Final = (
    "switch-on",
    "steady",
    "heat",
    "surge",
    "burst",
    "unplug",
    "off-glow",
    "dip",
    "touch",
    "live",
    "surge-earth",
    "insulation",
    "shared-circuit",
)
"""Names a study may give in `benches`, in the order of the tables."""

USUAL_BENCHES: Final = ("switch-on", "steady", "heat", "surge", "unplug")
"""BenchModules of a study that names none."""

AS_FOUND: Final = "as found"
"""Name of the variant without a change."""


class Variant(BaseModel):
    """A lamp with a set of changes applied; the empty set is "as found"."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    name: str
    changes: tuple[Change, ...]
    lamp: Lamp
    note: str = ""

    def __repr__(self) -> str:
        """Name and changes, in one line."""
        return f"<Variant {self.name!r}: {'; '.join(map(str, self.changes)) or 'no change'}>"


class Study(BaseModel):
    """A lamp, its variants ("as found" first), the benches to run and the conditions."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    name: str
    lamp: Lamp
    variants: tuple[Variant, ...]
    benches: tuple[str, ...]
    conditions: Conditions
    aim: Aims = Aims()
    advise: Advise = Advise()
    limits: Holding = Holding()
    tolerance: Tolerances = Field(default_factory=dict)
    spread: Spread | None = None
    faults: tuple[str, ...] = ()
    note: str = ""

    def __repr__(self) -> str:
        """Say what it asks, in one line."""
        benches = ", ".join(self.benches)
        return f"<Study {self.name!r} of {self.lamp.name!r}: {len(self.variants)} variants on {benches}>"

    def supplies(self, lamp: Lamp) -> tuple[SupplyPoint, ...]:
        """Supplies that a variant's lamp is tried on, in the order of the study."""
        return tuple(mains.point(lamp) for mains in self.conditions.mains)

    def surge_level_v(self, lamp: Lamp) -> float | None:
        """Surge level for a variant's lamp [V]; None where neither the study nor the label tells it."""
        level_v = self.conditions.surge_level_v
        return default_surge_level_v(lamp) if level_v is None else level_v


def default_surge_level_v(lamp: Lamp) -> float | None:
    """Open-circuit surge level, line to neutral, that a lamp of this power and kind has to stand [V].

    A self-ballasted lamp stands 500 V; a luminaire 500 V up to 25 W and 1 kV above. None for a luminaire
    without a rated power.

    References
    ----------
    IEC 61547:2009, table of surges, line to line; from memory.
    """
    if lamp.ratings.kind == "self-ballasted lamp":
        return 500.0
    if lamp.ratings.power_w is None:
        return None
    return 500.0 if lamp.ratings.power_w <= 25.0 else 1000.0
