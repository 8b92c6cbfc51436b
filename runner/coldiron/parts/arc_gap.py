"""Arc gap: a joint that is loose, with an arc across it while a current flows.

    v = ± (V + R · i) while it burns; it burns wherever the circuit has more than V for it

Real arcs need more to strike than to burn, and go out near each zero of the current; both are left out, so
that what it takes is an upper bound. Valid for milliamperes to amperes across a fraction of a millimetre.

References
----------
The shortest arc between copper contacts holds some 12 V, a gap of half a millimetre some 20 V (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, FailureMode, Part, PartConditions, PartWaveforms
from coldiron.quantities import Ohm, Volt

DARK_A_PER_V, TOP_A = 1e-7, 1e3
"""What a gap without an arc lets through, and how far its law is told."""


class ArcGapValues(PartValues):
    """Voltage at which the arc burns, and how it rises with the current."""

    arc_v: Annotated[Volt, Field(ge=5, le=100)] = 20.0
    arc_ohm: Annotated[Ohm, Field(ge=0.1, le=1e3)] = 30.0


class ArcGap(Part):
    """A gap in series. No lamp is made with one: it comes with a fault."""

    values: ArcGapValues
    kind: ClassVar[str] = "arc gap"
    placeable: ClassVar[bool] = False
    model: ClassVar[type[PartValues]] = ArcGapValues
    symbol: ClassVar[str] = "gap"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Corners of its law to the right of zero: next to nothing flows below its voltage, then 1/R."""
        volt, ohm = self.values.arc_v, self.values.arc_ohm
        right = ((volt, DARK_A_PER_V * volt), (volt + TOP_A * ohm, TOP_A))
        left = tuple((-v, -a) for v, a in right[::-1])
        return {"corners": ", ".join(f"{v:.9g},{a:.9g}" for v, a in (*left, *right))}

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind its ammeter."""
        return (self.inner("a"),)

    def kept(self) -> tuple[str, ...]:
        """Its ammeter."""
        return (f"i(v{self.tag.lower()})",)

    def current_a(self, w: PartWaveforms) -> Array:
        """Current through it [A]."""
        return w.i(f"v{self.tag.lower()}")

    def failures(self) -> Iterator[FailureMode]:
        """It is a failure itself."""
        yield from ()
