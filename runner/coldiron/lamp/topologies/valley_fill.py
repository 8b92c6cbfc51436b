"""Valley fill: linear sinks behind two electrolytics that charge one behind the other and feed side by side.

    bus --+----------- upper (+) ... valley_a --|>|refill|-- valley_b ... lower (+) -- minus
          +--|<|from_lower|-- valley_b            minus --|>|from_upper|-- valley_a

Near the crest both charge in series, to half the peak each; in the valley they feed the bus side by side, so
that it never falls below about half the peak. A string above that stays dark there.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from coldiron.lamp import parts as values
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.parts.diode import Diode, DiodeValues
from coldiron.parts.electrolytic import Electrolytic
from coldiron.parts.part import Part


class ValleyFillLamp(LinearSinksLamp):
    """A lamp with linear sinks and a valley-fill bus; `valley` is each of its two electrolytics."""

    topology_word: ClassVar[str] = "valley fill"

    topology: Literal["valley fill"]  # type: ignore[assignment]
    valley: values.ReservoirCapacitor
    valley_diodes: DiodeValues = DiodeValues()

    def _parts(self) -> Iterator[Part]:
        for part in super()._parts():
            if part.name == "stray":
                yield from self._valley()
            yield part

    def _valley(self) -> Iterator[Part]:
        yield Electrolytic("upper", ("bus", "valley_a"), self.valley)
        yield Diode("refill", ("valley_a", "valley_b"), self.valley_diodes)
        yield Electrolytic("lower", ("valley_b", "minus"), self.valley)
        yield Diode("from_upper", ("minus", "valley_a"), self.valley_diodes)
        yield Diode("from_lower", ("valley_b", "bus"), self.valley_diodes)
