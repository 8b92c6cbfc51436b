"""Varistor: a metal-oxide disc.

    i = 1 mA · (v / V1mA)^a  behind a series resistance, with its capacitance across both

printed as a table of straight lines (within 0.3 % of the law), because a power overflows while the engine
iterates. Valid from 1 nA to 20 kA; what a disc does to itself (ageing, heat) is followed by the fault bench.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.varistor import Disc
from coldiron.lamp.varistor import Varistor as VaristorValues
from coldiron.lamp.varistor_marking import varistor_classes
from coldiron.parts.part import Array, Duty, FailureMode, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Clamps
from coldiron.parts.tolerance import Assumption, Tolerance
from coldiron.preferred import Bought
from coldiron.quantities import VOLT

DEGRADED_PCT = (10, 22, 28, 35)
"""How far the 1 mA voltage of worn discs has fallen [%]: 10 is the end of life in catalogues, the others are
where discs of a class run away at 10 % above or at the nominal mains (computed: the power law on a sine)."""


class Varistor(Clamps):
    """A voltage-dependent resistor that begins to conduct above its 1 mA voltage."""

    values: VaristorValues
    kind: ClassVar[str] = "varistor"
    model: ClassVar[type[PartValues]] = VaristorValues
    symbol: ClassVar[str] = "varistor"
    guards: ClassVar[str] = "surge protection"
    known_by: ClassVar[str] = "ac_rating"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """The curve of its disc, series resistance and capacitance."""
        v = self.values
        return {
            "disc": conditions.disc,
            "rows": table_rows(v.voltages_v(conditions.disc)[0], v.exponent(conditions.disc)),
            "ohm": v.series_resistance_ohm,
            "farad": v.terminal_f,
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind the curve, and behind the series resistance."""
        return self.inner("r"), self.inner("a")

    def kept(self) -> tuple[str, ...]:
        """Its ammeter."""
        return (f"i(v{self.tag.lower()})",)

    def current_a(self, w: PartWaveforms) -> Array:
        """Current through the disc, without that of its capacitance [A]."""
        return w.i(f"v{self.tag.lower()}")

    @property
    def discs(self) -> tuple[Disc, ...]:
        """Good discs that may be fitted, the high one first."""
        return self.values.discs

    @property
    def clamps_from_v(self) -> float:
        """Voltage at one milliampere [V]."""
        return self.values.one_milliamp_voltage_v

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Mains it may hang on, mean watts; energy and current of one pulse."""
        v = self.values
        if not duty.pulse:
            yield Rating("mains voltage", "input_voltage_V", v.ac_rating_v, "ac_rating")
            unset = v.mean_power_w is None
            yield Rating("watts", f"{self.name}_W", v.power_limit_w, "mean_power", unset=unset)
            return
        reading, unset = duty.id(f"{self.name}_energy_J"), v.energy_j is None
        yield Rating("energy", reading, v.energy_limit_j, "energy", unset=unset)
        reading, unset = duty.id(f"{self.name}_peak_A"), v.peak_current_a is None
        yield Rating("peak current", reading, v.peak_limit_a, "peak_current", unset=unset)

    def failures(self) -> Iterator[FailureMode]:
        """Short; degraded, by how far its 1 mA voltage has fallen; open, burst or off its leads."""
        yield self.broken("short")
        for lost_pct in DEGRADED_PCT:
            share, v = 1.0 - lost_pct / 100.0, self.values
            yield self.drifted(
                f"-{lost_pct} %",
                "its 1 mA voltage has fallen by so much",
                one_milliamp_voltage_v=share * v.one_milliamp_voltage_v,
                clamping_voltage_v=share * v.clamping_voltage_v,
            )
        yield self.broken("open")

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.ac_rating_v

    @property
    def rated_in_rms(self) -> bool:
        """Its rating is one of a sine."""
        return True

    def to_buy(self) -> Mapping[str, Bought]:
        """The classes of the trade, with the voltages that come with each."""
        brings = {
            one.ac_rating_v: {
                "one_milliamp_voltage": one.one_milliamp_voltage_v,
                "clamping_voltage": one.clamping_voltage_v,
            }
            for one in varistor_classes()
        }
        return {"ac_rating": Bought(values=tuple(sorted(brings)), brings=brings)}

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its voltages about the nominal disc; the clamping voltage is given for the highest."""
        tolerance = self.values.tolerance_ratio
        yield Tolerance(
            "one_milliamp_voltage",
            tolerance,
            "the letter on the disc, ±10 % (K) without one",
            moves=(("clamping_voltage", 1.0 / (1.0 + tolerance)),),
            spends="tolerance",
        )

    def assumptions(self) -> Iterator[Assumption]:
        """What stands beside its curve."""
        yield Assumption("series_resistance", 0.2, 10.0, "the maker's curve at some hundred amperes")
        yield Assumption("capacitance", 0.5, 2.0, "capacitance, out of circuit")

    def text(self) -> tuple[str, ...]:
        """Its a.c. rating."""
        return (f"{VOLT.format(self.values.ac_rating_v)} a.c.",)


def varistor_table(
    one_milliamp_v: float, exponent: float, top_a: float = 2e4, points: int = 200
) -> np.ndarray:
    """Points of the law I = 1 mA · (V / V1mA)^a, mirrored to negative voltage.

    The points are spaced evenly in log current from 1 nA up, dense enough that straight lines between them
    stay within 0.3 % of the law; a table cannot overflow, as a power can while the engine iterates.

    Returns
    -------
    numpy.ndarray, shape (2 * points + 1, 2)
        Voltage [V] and current [A], rising.

    Examples
    --------
    >>> table = varistor_table(430.0, 21.58)
    >>> bool(abs(np.interp(430.0, table[:, 0], table[:, 1]) / 1e-3 - 1) < 0.003)
    True
    """
    ampere = np.geomspace(1e-9, top_a, points)
    volt = one_milliamp_v * (ampere / 1e-3) ** (1.0 / exponent)
    half = np.column_stack([volt, ampere])
    return np.vstack([-half[::-1], [[0.0, 0.0]], half])


@lru_cache(maxsize=64)
def table_rows(one_milliamp_v: float, exponent: float) -> tuple[str, ...]:
    """Rows of five printed pairs: a surge prints the same table many times."""
    pairs = [f"{volt:.6g},{ampere:.5g}" for volt, ampere in varistor_table(one_milliamp_v, exponent)]
    return tuple(", ".join(pairs[i : i + 5]) for i in range(0, len(pairs), 5))
