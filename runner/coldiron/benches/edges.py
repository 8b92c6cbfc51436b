"""Why a lamp at the edge of what can be gives no answer, in words that point at the part."""

from __future__ import annotations

from collections.abc import Iterator

from coldiron.benches.base import Case
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
    lamp, peak_v = case.lamp, case.exposure.state().peak_v
    if lamp.bridge.breakdown_v < peak_v:
        yield (
            f"the bridge breaks down at {VOLT.format(lamp.bridge.breakdown_v, 3)}, and the mains peaks at "
            f"{VOLT.format(peak_v, 3)}: check bridge.reverse_voltage"
        )
    left_v = peak_v - lamp.string.voltage_v(lamp.sinks.set_current_a)
    if lamp.sinks.breakdown_v < left_v:
        yield (
            f"the sinks break down at {VOLT.format(lamp.sinks.breakdown_v, 3)}, and the string leaves them "
            f"{VOLT.format(left_v, 3)}: check sinks.drain_voltage and string.series"
        )
    if lamp.reservoir:
        ohm = lamp.mains.resistance_ohm
        ohm += sum(leg.resistance_ohm for leg in (lamp.line_fusing, lamp.neutral_fusing) if leg)
        if ohm * lamp.reservoir.capacitance_f / MAINS_PULSE_SHARE > SLOW_S:
            yield (
                f"a reservoir of {FARAD.format(lamp.reservoir.capacitance_f)} behind {OHM.format(ohm, 3)} "
                f"charges for many mains cycles: check reservoir.capacitance"
            )
