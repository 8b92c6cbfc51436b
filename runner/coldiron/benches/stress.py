"""What every rated part may see, on every bench: which reading is held to which rating.

Any reading that has a rating is held to it, whatever bench took it. Ratings come from the parts, which also
say what a rating means for a pulse shorter than the one it was given for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import Duty, Part, Rating
from coldiron.parts.roles import Rectifies

Readings = Mapping[str, float | str]


@dataclass(frozen=True)
class Rated:
    """One rating of one part and the reading held to it.

    `most` is in the reading's unit; `provenance` is where the rating came from ("from memory" for one that
    follows from another by a rule of thumb); `key` the key of the lamp file that would give it.
    """

    part: str
    reading: str
    most: float
    key: str
    provenance: str
    note: str = ""

    def margin_pct(self, readings: Readings) -> float:
        """Room left to the rating, 100 · (rated − seen) / rated [%]."""
        return 100.0 * (self.most - float(readings[self.reading])) / self.most


def ratings(lamp: Lamp, readings: Readings, frequency_hz: float) -> list[Rated]:
    """Every rating of a lamp that one of the readings can be held to, in a fixed order.

    Parameters
    ----------
    lamp : Lamp
    readings : mapping
        Readings of one case by id.
    frequency_hz : float
        Mains frequency the case was on [Hz], whatever the lamp's own is.
    """
    circuit = lamp.circuit
    settled = Duty(
        frequency_hz,
        smoothed=circuit.is_smoothed,
        reservoir_tolerance_ratio=max(
            (getattr(part.values, "tolerance_ratio", 0.0) for part in circuit.bus_capacitors), default=0.0
        ),
        readings=readings,
    )
    # Every disturbance has read this width, under its own first word.
    ends = tuple(f"_{rectifier.name}_pulse_us" for rectifier in circuit.having(Rectifies))
    pulses = dict.fromkeys(name.removesuffix(end) for name in readings for end in ends if name.endswith(end))
    found: dict[tuple[object, ...], Rated] = {}
    for duty in (settled, *(replace(settled, pulse=pulse) for pulse in pulses)):
        for part in circuit:
            for rating in part.ratings(duty) if part.works else ():
                if _is_number(readings.get(rating.reading)):
                    shared = () if part.shares_readings else (part.name,)
                    found.setdefault((*shared, rating.what, rating.reading), _rated(part, rating))
    return list(found.values())


def _rated(part: Part, rating: Rating) -> Rated:
    return Rated(
        part=f"{part.name.replace('_', ' ')}, {rating.what}",
        reading=rating.reading,
        most=rating.most,
        key=f"{part.name}.{rating.key}",
        provenance="from memory" if rating.unset else part.values.provenance(rating.key),
        note=rating.note,
    )


def weakest(held: list[Rated], readings: Readings) -> tuple[str, float]:
    """Part with the least margin, and that margin [%].

    Examples
    --------
    >>> bridge = Rated("bridge", "peak_A", 30.0, "bridge.surge_current", "typical")
    >>> sinks = Rated("sinks", "drain_V", 500.0, "sinks.drain_voltage", "typical")
    >>> weakest([bridge, sinks], {"peak_A": 10.0, "drain_V": 540.0})
    ('sinks', -8.0)
    """
    worst = min(held, key=lambda rated: rated.margin_pct(readings))
    return worst.part, worst.margin_pct(readings)


def weakest_readings(
    lamp: Lamp, readings: Readings, frequency_hz: float, prefix: str = ""
) -> dict[str, float | str]:
    """The weakest part of a case as two readings; none where nothing that was read has a rating."""
    held = ratings(lamp, readings, frequency_hz)
    if not held:
        return {}
    part, margin_pct = weakest(held, readings)
    return {f"{prefix}weakest_part": part, f"{prefix}weakest_margin_pct": margin_pct}


def _is_number(value: object) -> bool:
    return isinstance(value, float) and math.isfinite(value)
