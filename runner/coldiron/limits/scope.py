"""Where a limit applies: kind and use of the lamp, mains, power, connection, what it stores, its light."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple, Self

from coldiron.benches.base import Case
from coldiron.limits.rules import Limit
from coldiron.quantities import FARAD, HERTZ, VOLT, WATT

SAME_SUPPLY_RATIO = 0.05
"""A supply within this share of the lamp's own counts as its rated one: 220 V to 240 V are one system."""
SAME_HZ = 2.0
"""A supply within this of a frequency counts as that mains; the grid itself keeps to within 1 Hz."""
OTHER_SYSTEM_RATIO = 0.2
"""A supply farther than this share from the lamp's own is another mains system, with its own nominal."""


@dataclass(frozen=True)
class Circumstances:
    """What decides about a limit's scope, and what a limit may be a multiple of."""

    case: Case
    readings: Mapping[str, float | str]

    @classmethod
    def of(cls, case: Case, readings: Mapping[str, float | str]) -> Self:
        """Circumstances of a case."""
        return cls(case, readings)

    def number(self, reading: str) -> float:
        """A reading, nan where there is none."""
        value = self.readings.get(reading)
        return float(value) if isinstance(value, int | float) else math.nan

    @property
    def power_w(self) -> float:
        """Power that decides the class: what the lamp takes on this supply, else what its label says [W]."""
        measured_w = self.number("input_power_W")
        return self.case.lamp.expected_power_w if math.isnan(measured_w) else measured_w

    @property
    def nominal_v(self) -> float:
        """Nominal voltage of the mains system the case is on [V]."""
        own_v, seen_v = self.case.lamp.mains.voltage_v, self.case.conditions.voltage_v
        return own_v if abs(seen_v / own_v - 1.0) <= OTHER_SYSTEM_RATIO else seen_v

    @property
    def on_rated_supply(self) -> bool:
        """Whether the supply is the nominal one of its system."""
        return abs(self.case.conditions.voltage_v / self.nominal_v - 1.0) <= SAME_SUPPLY_RATIO

    @property
    def stored_f(self) -> float:
        """Capacitance across the bus [F]."""
        return self.case.lamp.circuit.bus_f

    @property
    def light_hz(self) -> float:
        """Frequency of the light: twice that of the mains [Hz]."""
        return 2.0 * self.case.conditions.frequency_hz


class Reason(NamedTuple):
    """Why a limit does not apply; `rank` is how many conditions held before the one that did not."""

    text: str
    rank: int


def out_of_scope(at: Circumstances, limit: Limit) -> Reason | None:
    """Why a limit does not apply to a case, or None when it does."""
    for rank, (fits, reason) in enumerate(_conditions(at, limit)):
        if not fits:
            return Reason(reason(), rank)
    return None


def _conditions(at: Circumstances, limit: Limit) -> Iterator[tuple[bool, Callable[[], str]]]:
    row, file, conditions, lamp = limit.row, limit.file, at.case.conditions, at.case.lamp
    housing, kind = lamp.housing, lamp.ratings.kind
    supply = VOLT.format(float(f"{at.nominal_v:.4g}"))
    standard = limit.source.partition(", ")[0]
    yield (
        not file.kind or kind in file.kind,
        lambda: f"{standard} is for a {' or '.join(file.kind)}, this is a {kind}",
    )
    yield (
        at.nominal_v >= limit.mains_from_v,
        lambda: f"no limit at {supply}: {standard} starts at {VOLT.format(limit.mains_from_v)} nominal",
    )
    yield (
        at.nominal_v <= file.mains_up_to_v,
        lambda: f"no limit at {supply}: {standard} ends at {VOLT.format(file.mains_up_to_v)} nominal",
    )
    yield (
        not file.mains_frequency_hz
        or any(abs(conditions.frequency_hz - hz) <= SAME_HZ for hz in file.mains_frequency_hz),
        lambda: (
            f"no limit at {HERTZ.format(conditions.frequency_hz)}: {standard} is for a mains of "
            f"{' or '.join(HERTZ.format(hz) for hz in file.mains_frequency_hz)}"
        ),
    )
    yield (
        at.nominal_v < row.mains_below_v,
        lambda: f"no limit at {supply}: this one is for less than {VOLT.format(row.mains_below_v)}",
    )
    yield (
        not row.use or housing.use in row.use,
        lambda: f"light sources for {housing.use} use are exempt",
    )
    yield (
        not row.connection or housing.connection in row.connection,
        lambda: (
            f"the rule is for a {' or '.join(row.connection)}, this lamp has {_article(housing.connection)}"
        ),
    )
    yield (
        row.portable is None or housing.portable == row.portable,
        lambda: f"the rule is for a lamp that {_moved(row.portable)}, this one {_moved(housing.portable)}",
    )
    yield (
        not file.rated_supply or at.on_rated_supply,
        lambda: (
            f"held at the rated {supply} only, not at {VOLT.format(float(f'{conditions.voltage_v:.4g}'))}"
        ),
    )
    yield (
        not file.rated_supply or lamp.mains.waveform == "sine",
        lambda: f"held on a sine, and this mains is {lamp.mains.waveform}",
    )
    yield (
        row.power_from_w <= at.power_w and row.power_above_w < at.power_w <= row.power_up_to_w,
        lambda: f"none for a lamp of {WATT.format(float(f'{at.power_w:.3g}'))}",
    )
    yield (
        at.stored_f > row.capacitance_above_f or row.capacitance_above_f == 0.0,
        lambda: (
            f"none up to {FARAD.format(row.capacitance_above_f)}: the bus has "
            f"{FARAD.format(float(f'{at.stored_f:.3g}'))}"
        ),
    )
    yield (
        row.light_from_hz <= at.light_hz < row.light_below_hz,
        lambda: f"none for light that moves at {HERTZ.format(at.light_hz)}",
    )


def _article(connection: str) -> str:
    return connection if connection == "fixed wiring" else f"a {connection}"


def _moved(portable: bool | None) -> str:
    return "is moved while plugged in" if portable else "has a fixed place"
