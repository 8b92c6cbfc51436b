"""Wire that is also an ammeter: joins two named points, as neutral and minus of a half-wave lamp."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Part, PartWaveforms

WIRE_OHM = 1e-3


class WireValues(PartValues):
    """Nothing."""


class Wire(Part):
    """A wire."""

    values: WireValues
    kind: ClassVar[str] = "wire"
    placeable: ClassVar[bool] = False
    model: ClassVar[type[PartValues]] = WireValues
    symbol: ClassVar[str] = "wire"
    hidden: ClassVar[bool] = True
    lossless: ClassVar[bool] = True

    def resistances(self) -> Iterator[tuple[str, str, float]]:
        """Next to nothing [Ω]."""
        yield self.at[0], self.at[1], WIRE_OHM

    def kept(self) -> tuple[str, ...]:
        """Its ammeter."""
        return (f"i(v{self.tag.lower()})",)

    def current_a(self, w: PartWaveforms) -> Array:
        """Current through it [A]."""
        return w.i(f"v{self.tag.lower()}")

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Nothing [W]."""
        return 0.0
