"""What set the surge current of a sink, in words: two currents of different making are not compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

LIMITED = "surge_limited_by"
PEAK = "surge_sink_peak_A"
AVALANCHE = "avalanche"
DRIVE = "gate drive"
LEGEND = (
    f"{DRIVE}: no {AVALANCHE}; what one sink carries is limited by the drive of the sink, assumed, "
    f"and no gain of that size against an {AVALANCHE}"
)

Readings = Mapping[Any, object]


def note(reading: str, own: Readings) -> str:
    """Words beside a surge current that only the drive of the sink limits; empty for any other reading.

    Examples
    --------
    >>> note("surge_sink_peak_A", {"surge_limited_by": "gate drive, assumed"})
    ' (limited by the drive of the sink, assumed)'
    """
    drive, comma, assumed = str(own.get(LIMITED, "")).partition(", ")
    if reading != PEAK or drive != DRIVE:
        return ""
    return f" (limited by the drive of the sink{comma}{assumed})"


def turned(reading: str, own: Readings, found: Readings) -> str:
    """What sets a surge current, in one word, where it is not what set the one it is held against.

    Examples
    --------
    >>> turned("surge_sink_peak_A", {"surge_limited_by": "avalanche"}, {"surge_limited_by": "set current"})
    'avalanche'
    """
    now, before = (str(each.get(LIMITED, "")).partition(",")[0] for each in (own, found))
    if reading != PEAK or not now or not before or AVALANCHE not in (now, before):
        return ""
    return "" if now == before else now
