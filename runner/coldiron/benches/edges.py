"""Why a lamp at the edge of what can be gives no answer, in words that point at the part."""

from __future__ import annotations

from collections.abc import Iterator

from coldiron.benches.base import Case
from coldiron.parts.roles import Rectifies, Resists
from coldiron.quantities import FARAD, OHM, VOLT

SLOW_S = 0.1
"""A reservoir whose charging through the resistors before it takes longer than this is at the edge."""
MAINS_PULSE_SHARE = 0.1
"""Share of the time in which a rectifier charges a reservoir (common practice, no source)."""


def edge_words(case: Case) -> str:
    """What is out of the ordinary about the lamp of a case on its mains; "" when nothing is.

    Told only when the case gave no answer: a lamp at an edge may well have one.
    """
    return "; ".join(_edges(case))


def _edges(case: Case) -> Iterator[str]:
    circuit, peak_v = case.lamp.circuit, case.conditions.operating_point().peak_v
    for rectifier in circuit.having(Rectifies):
        if rectifier.is_on_the_mains and rectifier.breakdown_v < peak_v:
            yield (
                f"the {rectifier.name} breaks down at {VOLT.format(rectifier.breakdown_v, 3)}, and the mains "
                f"peaks at {VOLT.format(peak_v, 3)}: check {rectifier.name}.reverse_voltage"
            )
    left_v = peak_v - circuit.light_v(case.lamp.lit_a)
    for sink in circuit.regulators:
        if sink.breakdown_v < left_v and len(circuit.lights) == 1:
            yield (
                f"the {sink.name} break down at {VOLT.format(sink.breakdown_v, 3)}, and the string leaves "
                f"them {VOLT.format(left_v, 3)}: check {sink.name}.drain_voltage and string.series"
            )
    ohm = case.lamp.mains.resistance_ohm
    ohm += sum(leg.cold_ohm for leg in circuit.carrying_mains() if isinstance(leg, Resists))
    for part in circuit.bus_capacitors:
        if not part.lossless and ohm * part.stored_f / MAINS_PULSE_SHARE > SLOW_S:
            yield (
                f"a {part.name} of {FARAD.format(part.stored_f)} behind {OHM.format(ohm, 3)} "
                f"charges for many mains cycles: check {part.name}.capacitance"
            )
