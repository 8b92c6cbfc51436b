"""The varistor: a metal-oxide disc, its catalogue points, and what a good disc may be instead."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, NamedTuple

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from coldiron.lamp.model import Inconsistency, Part, written_key
from coldiron.lamp.varistor_marking import marked
from coldiron.quantities import METRE, VOLT, Ampere, Farad, Joule, Metre, Ohm, Ratio, Volt, Watt

Disc = Literal["low", "nominal", "high"]
"""Which good disc is fitted: at the lower end of its tolerance, as meant, or at the upper end."""
DISCS: tuple[Disc, ...] = ("low", "nominal", "high")

EXPONENTS = (5.0, 100.0)
"""Exponents that a metal-oxide disc can have, with room; catalogue discs are 20 to 60 (from memory)."""


class DiscSize(NamedTuple):
    """What a diameter of disc brings, for the 275 V class."""

    diameter_m: float
    clamping_current_a: float
    capacitance_f: float
    energy_j: float
    peak_current_a: float
    power_w: float


DISC_SIZES = (
    DiscSize(5e-3, 5.0, 50e-12, 10.0, 400.0, 0.1),
    DiscSize(7e-3, 10.0, 95e-12, 21.0, 1200.0, 0.25),
    DiscSize(10e-3, 25.0, 195e-12, 43.0, 2500.0, 0.4),
    DiscSize(14e-3, 50.0, 320e-12, 71.0, 4500.0, 0.6),
    DiscSize(20e-3, 100.0, 630e-12, 140.0, 8000.0, 1.0),
)
"""Discs of the trade. The capacitances of 7, 10 and 14 mm are a maker's; the current that the clamping
voltage is told for, 2500 A at 10 mm, and 0.25 and 0.60 W stand in catalogues that were read; the rest is from
memory of catalogues."""
_CLASS_V = 275.0


class Varistor(Part):
    """A metal-oxide varistor, given by its two catalogue points (1 mA and clamping).

    The voltage at 1 mA is that of the nominal disc, the clamping voltage the most that any good disc has: the
    power law through both points is the *high* disc (a maker's curve of the disc at +10 % lies within 3 % of
    it to 100 A for 7 mm, to 1 kA for 14 and 20 mm). The nominal disc has the clamping voltage less the
    tolerance, the low disc both voltages of the nominal one less the tolerance.

    `marking` is what stands on the disc; the catalogue values that it stands for (`varistor_marking`) are
    typical, and any of them may be given beside it. `disc_m` is the diameter; unset, that of the class whose
    clamping voltage is told for this current. By `DISC_SIZES` it stands in for what is unset: capacitance and
    peak current, pulse energy and mean power.
    """

    implied_by: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "marking": (
            "ac_rating", "one_milliamp_voltage", "clamping_voltage", "clamping_current", "disc", "tolerance",
        )
    }  # fmt: skip

    marking: Annotated[str, Field(max_length=20)] | None = None
    ac_rating_v: Annotated[Volt, Field(ge=10, le=1000)]
    one_milliamp_voltage_v: Annotated[Volt, Field(ge=15, le=2000)]
    clamping_voltage_v: Annotated[Volt, Field(ge=20, le=5000)]
    clamping_current_a: Annotated[Ampere, Field(ge=0.1, le=1e4)]
    disc_m: Annotated[Metre, Field(ge=2e-3, le=0.1)] | None = None
    series_resistance_ohm: Annotated[Ohm, Field(ge=1e-4, le=10)] = 0.1
    capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-7)] | None = None
    energy_j: Annotated[Joule, Field(ge=0.1, le=1e4)] | None = None
    peak_current_a: Annotated[Ampere, Field(ge=10, le=1e5)] | None = None
    mean_power_w: Annotated[Watt, Field(ge=0.01, le=100)] | None = None
    tolerance_ratio: Annotated[Ratio, Field(ge=0, le=0.3)] = 0.1
    place: Literal["mains terminals", "behind line fusing", "behind both fusing"] = "behind line fusing"

    @model_validator(mode="before")
    @classmethod
    def _by_marking(cls, written: Any) -> Any:
        """Let the marking stand for the catalogue values that are not given."""
        if not isinstance(written, Mapping) or not isinstance(written.get("marking"), str):
            return written
        sizes = {size.diameter_m: size for size in DISC_SIZES}
        try:
            says = marked(written["marking"], tuple(sizes))
            disc_m = written.get("disc", written.get("disc_m", says.diameter_m))
            if disc_m is None:
                raise ValueError('the diameter before the three digits, or disc = "7 mm" beside it')
            diameter_m = METRE.parse(disc_m)
        except ValueError as error:
            broken = Inconsistency("marking", str(error))
            raise PydanticCustomError(
                "inconsistencies", "{text}", {"text": str(error), "inconsistencies": [broken]}
            ) from None
        size = min(DISC_SIZES, key=lambda size: abs(math.log(size.diameter_m / max(diameter_m, 1e-9))))
        implied = {
            "ac_rating": says.ac_rating_v,
            "one_milliamp_voltage": says.one_milliamp_voltage_v,
            "clamping_voltage": says.clamping_voltage_v,
            "clamping_current": size.clamping_current_a,
            "disc": diameter_m,
            "tolerance": says.tolerance_ratio,
        }
        taken = {written_key(key) for key in written}
        return {**written, **{key: value for key, value in implied.items() if key not in taken}}

    @property
    def discs(self) -> tuple[Disc, ...]:
        """Discs that may be fitted, the high one first; without a tolerance it is the only one."""
        return DISCS[::-1] if self.tolerance_ratio > 0 else ("high",)

    def voltages_v(self, disc: Disc) -> tuple[float, float]:
        """Voltages of a disc at 1 mA and at the clamping current [V].

        Examples
        --------
        >>> part = Varistor(ac_rating_v=275.0, one_milliamp_voltage_v=430.0, clamping_voltage_v=710.0,
        ...                 clamping_current_a=10.0)
        >>> [tuple(round(volt, 1) for volt in part.voltages_v(disc)) for disc in DISCS]
        [(387.0, 580.9), (430.0, 645.5), (430.0, 710.0)]
        """
        if disc == "high":
            return self.one_milliamp_voltage_v, self.clamping_voltage_v
        share = 1.0 - self.tolerance_ratio if disc == "low" else 1.0
        nominal_v = self.clamping_voltage_v / (1.0 + self.tolerance_ratio)
        return share * self.one_milliamp_voltage_v, share * nominal_v

    def exponent(self, disc: Disc) -> float:
        """Exponent a of I = 1 mA (V / V1mA)^a through both points, behind the series resistance."""
        one_milliamp_v, clamping_v = self.voltages_v(disc)
        core_v = clamping_v - self.series_resistance_ohm * self.clamping_current_a
        return math.log(self.clamping_current_a / 1e-3) / math.log(core_v / one_milliamp_v)

    @property
    def diameter_m(self) -> float:
        """Diameter of the disc [m]."""
        if self.disc_m is not None:
            return self.disc_m
        told_a = self.clamping_current_a
        return min(DISC_SIZES, key=lambda size: abs(math.log(size.clamping_current_a / told_a))).diameter_m

    @property
    def _size(self) -> DiscSize:
        return min(DISC_SIZES, key=lambda size: abs(math.log(size.diameter_m / self.diameter_m)))

    @property
    def _area_ratio(self) -> float:
        return (self.diameter_m / self._size.diameter_m) ** 2

    @property
    def terminal_f(self) -> float:
        """Capacitance between its leads [F]; unset, area over thickness, and thickness goes with voltage."""
        if self.capacitance_f is not None:
            return self.capacitance_f
        return self._size.capacitance_f * self._area_ratio * _CLASS_V / self.ac_rating_v

    @property
    def energy_limit_j(self) -> float:
        """Energy of one pulse of 2 ms that it survives [J]; unset, by its volume."""
        if self.energy_j is not None:
            return self.energy_j
        return self._size.energy_j * self._area_ratio * self.ac_rating_v / _CLASS_V

    @property
    def peak_limit_a(self) -> float:
        """Current of one surge of 8/20 µs that it survives [A]; unset, by its area."""
        if self.peak_current_a is not None:
            return self.peak_current_a
        return self._size.peak_current_a * self._area_ratio

    @property
    def power_limit_w(self) -> float:
        """Mean power that it bears [W]; unset, by its area."""
        if self.mean_power_w is not None:
            return self.mean_power_w
        return self._size.power_w * self._area_ratio

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The points of every disc must make a power law, and the 1 mA voltage belong to the AC rating."""
        drop_v = self.series_resistance_ohm * self.clamping_current_a
        softest, steepest = EXPONENTS
        decades = self.clamping_current_a / 1e-3
        up = 1.0 + self.tolerance_ratio
        # The low disc is the one whose two points are nearest to each other.
        low = 1.0 - self.tolerance_ratio
        least_v = up * (self.one_milliamp_voltage_v * decades ** (1 / steepest) + drop_v / low)
        most_v = self.one_milliamp_voltage_v * decades ** (1 / softest) + drop_v
        if not least_v <= self.clamping_voltage_v <= most_v:
            yield Inconsistency(
                "clamping_voltage",
                f"between {VOLT.format(math.ceil(least_v))} and {VOLT.format(math.floor(most_v))}, above the "
                f"1 mA voltage of {VOLT.format(self.one_milliamp_voltage_v)}, the "
                f"{VOLT.format(drop_v, 3)} in the series resistance and the tolerance",
            )
        # A disc's 1 mA voltage is about 1.57 times its AC rating (common practice, from memory).
        if self.one_milliamp_voltage_v < 1.2 * self.ac_rating_v:
            yield Inconsistency(
                "one_milliamp_voltage",
                f"at least {VOLT.format(1.2 * self.ac_rating_v, 4)}, well above the AC rating of "
                f"{VOLT.format(self.ac_rating_v)}",
            )
