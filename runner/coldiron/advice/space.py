"""Every candidate that the catalogue allows a lamp: axes of options, and their product."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from coldiron.advice import catalogue
from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.varistor_marking import varistor_classes
from coldiron.quantities import FARAD, HOUR, METRE, OHM, VOLT, WATT
from coldiron.study.advise import Advise, ResistorChoice
from coldiron.study.apply import Workshop
from coldiron.study.model import AS_FOUND, Study, Variant

MOST_CANDIDATES: Final = 2_000_000
"""More are refused by their count before any is built."""
VARISTOR_RESERVE: Final = 1.1
"""A disc's a.c. rating over the nominal mains, at least (a rule of makers: 10 % above the highest of the
system, of which the nominal is the lower bound here)."""
_VARISTOR_WIDEST: Final = 1.6
_SENSE_SPAN: Final = (0.8, 2.5)
_BLEED_SPAN: Final = (0.2, 2.0)


@dataclass(frozen=True)
class Option:
    """One part that may be bought: what changes, in words, what it costs and how much room it takes.

    `numbers` are what pairs are ordered by (key of the lamp to value). Nothing changes in the one that keeps
    the lamp's own part.
    """

    label: str
    change: Mapping[str, Any] = field(default_factory=dict)
    cost: float = 0.0
    height_m: float = 0.0
    diameter_m: float = 0.0
    numbers: Mapping[str, float] = field(default_factory=dict)

    @property
    def keeps(self) -> bool:
        """Whether it leaves the lamp's own part."""
        return not self.change


@dataclass(frozen=True)
class Axis:
    """One place of the lamp with its options, the own part of the lamp first."""

    name: str
    heading: str
    options: tuple[Option, ...]

    @property
    def costs(self) -> NDArray[np.float64]:
        """Cost of each option."""
        return np.array([option.cost for option in self.options])


class Space:
    """The product of all axes, numbered with the last axis running fastest; candidate 0 is the lamp as found.

    Parameters
    ----------
    study : Study

    Raises
    ------
    FileProblems
        If the study asks for a part that its lamp cannot have, leaves nothing to choose, or too much.
    """

    def __init__(self, study: Study) -> None:
        self.study = study
        self.lamp = study.lamp
        self.left_out: dict[str, int] = {}
        """Parts of the catalogue that were not tried, by why."""
        self._workshop = Workshop(study.lamp, f"study {study.name}")
        self.axes = tuple(self._axes())
        self._refuse_nothing_and_too_much()
        self.shape = tuple(len(axis.options) for axis in self.axes)
        self._lamps: dict[int, Lamp | None] = {}

    def __len__(self) -> int:
        """How many candidates there are."""
        return math.prod(len(axis.options) for axis in self.axes)

    @cached_property
    def costs(self) -> NDArray[np.float64]:
        """Cost of every candidate."""
        total = np.zeros(self.shape)
        for place, axis in enumerate(self.axes):
            along = [1] * len(self.axes)
            along[place] = -1
            total = total + axis.costs.reshape(along)
        return np.asarray(np.round(total.ravel(), 6))

    def steps(self, number: int) -> tuple[int, ...]:
        """Place of a candidate along each axis."""
        return tuple(int(step) for step in np.unravel_index(number, self.shape))

    def number(self, steps: tuple[int, ...]) -> int:
        """Candidate at a place along each axis."""
        return int(np.ravel_multi_index(steps, self.shape))

    def options(self, number: int) -> tuple[Option, ...]:
        """Options of a candidate, one an axis."""
        return tuple(axis.options[step] for axis, step in zip(self.axes, self.steps(number), strict=True))

    def name(self, number: int) -> str:
        """Words for a candidate: what is bought for it."""
        bought = [
            f"{axis.heading} {option.label}"
            for axis, option in zip(self.axes, self.options(number), strict=True)
            if not option.keeps
        ]
        return ", ".join(bought) or AS_FOUND

    def lamp_of(self, number: int) -> Lamp | None:
        """Lamp with the parts of a candidate; None where they do not belong together."""
        variant = self.variant(number)
        return None if variant is None else variant.lamp

    def variant(self, number: int) -> Variant | None:
        """Candidate as a variant of the study; None where its parts do not belong together."""
        change: dict[str, Any] = {}
        for option in self.options(number):
            change |= option.change
        problems: list[Problem] = []
        lamp, changes = self._workshop.apply(change, "advise", problems)
        if problems:
            return None
        return Variant(name=self.name(number), changes=changes, lamp=lamp)

    # What the catalogue has for each place.

    def _axes(self) -> Iterator[Axis]:
        asked = self.study.advise
        if not asked.names_parts:
            asked = asked.model_copy(update=_usual(self.lamp))
        makers: tuple[tuple[str, str, Callable[[Advise], Iterator[Option]]], ...] = (
            ("reservoir", "reservoir", self._reservoirs),
            ("line_fusing", "line", self._fusings("line_fusing", asked.line_fusing)),
            ("neutral_fusing", "neutral", self._fusings("neutral_fusing", asked.neutral_fusing)),
            ("sense_resistor", "sense", self._senses),
            ("bleed", "bleed", self._bleeds),
            ("varistor", "varistor", self._varistors),
            ("thermistor", "thermistor", self._thermistors),
        )
        for key, heading, options in makers:
            if getattr(asked, key) is None:
                continue
            self._refuse_unknown(key)
            fits = [option for option in options(asked) if self._has_room(option)]
            yield Axis(key, heading, (self._own(key), *fits))

    def _own(self, key: str) -> Option:
        """The lamp's own part, which may stay."""
        part = getattr(self.lamp, "sinks" if key == "sense_resistor" else key, None)
        numbers: dict[str, float] = {}
        if key == "sense_resistor":
            numbers["sinks.sense_resistor"] = part.sense_resistor_ohm if part else 0.0
        elif key in ("line_fusing", "neutral_fusing", "bleed"):
            numbers[f"{key}.resistance"] = (
                part.resistance_ohm if part else 0.0 if key != "bleed" else math.inf
            )
        elif key == "reservoir":
            numbers["reservoir.capacitance"] = part.capacitance_f if part else 0.0
        return Option("as found", numbers=numbers)

    def _has_room(self, option: Option) -> bool:
        asked = self.study.advise
        fits = option.height_m <= (asked.free_height_m or math.inf) * (1 + 1e-9) and option.diameter_m <= (
            asked.free_diameter_m or math.inf
        ) * (1 + 1e-9)
        if not fits:
            self.left_out["no room"] = self.left_out.get("no room", 0) + 1
        return fits

    def _reservoirs(self, asked: Advise) -> Iterator[Option]:
        wanted, data = asked.reservoir, catalogue.electrolytics()
        assert wanted is not None
        crest_v = math.sqrt(2.0) * max(supply.voltage_v for supply in self.study.supplies(self.lamp))
        reservoir = getattr(self.lamp, "reservoir", None)
        dropped = {"esr_100khz": "none"} if reservoir and reservoir.esr_100khz_ohm is not None else {}
        for number, row in enumerate(data.row):
            if (
                not (wanted.least_f or 0.0) * (1 - 1e-9)
                <= row.capacitance_f
                <= (wanted.most_f or 1.0) * (1 + 1e-9)
            ):
                continue
            for voltage_v in data.voltages_v:
                if wanted.voltage_v and voltage_v not in wanted.voltage_v:
                    continue
                if voltage_v < crest_v or (not wanted.voltage_v and voltage_v > 2.0 * crest_v):
                    reason = (
                        "voltage class below the crest" if voltage_v < crest_v else "voltage class far above"
                    )
                    self.left_out[reason] = self.left_out.get(reason, 0) + 1
                    continue
                case = data.case_of(number, voltage_v)
                for life in data.life:
                    if wanted.life_h and life.hours_h not in wanted.life_h:
                        continue
                    words = [
                        FARAD.format(row.capacitance_f),
                        VOLT.format(voltage_v),
                        HOUR.format(life.hours_h),
                    ]
                    yield Option(
                        " ".join(words),
                        {
                            "reservoir": {
                                "capacitance": row.capacitance_f,
                                "voltage": voltage_v,
                                "esr": row.esr_ohm,
                                "ripple_current": row.ripple_a,
                                "rated_life": life.hours_h,
                                "rated_temperature": 105.0,
                                **dropped,
                            }
                        },
                        cost=round(case.price * life.price_factor, 4),
                        height_m=case.height_m,
                        diameter_m=case.diameter_m,
                        numbers={"reservoir.capacitance": row.capacitance_f},
                    )

    def _fusings(self, key: str, wanted: ResistorChoice | None) -> Callable[[Advise], Iterator[Option]]:
        def options(asked: Advise) -> Iterator[Option]:
            assert wanted is not None
            for ohm, row in _resistors(catalogue.resistors().fusing, wanted):
                yield Option(
                    f"{OHM.format(ohm)} {WATT.format(row.power_w)}",
                    {key: {"resistance": ohm, "power": row.power_w, "pulse_energy": row.pulse_energy_j}},
                    cost=row.price,
                    height_m=row.diameter_m,
                    diameter_m=row.diameter_m,
                    numbers={f"{key}.resistance": ohm},
                )

        return options

    def _senses(self, asked: Advise) -> Iterator[Option]:
        wanted = asked.sense_resistor
        assert wanted is not None
        sinks = self.lamp.sinks  # type: ignore[attr-defined]
        low, high = (span * sinks.sense_resistor_ohm for span in _SENSE_SPAN)
        for ohm, row in _resistors(catalogue.resistors().sense, wanted, low, high):
            yield Option(
                OHM.format(ohm),
                {"sinks.sense_resistor": ohm},
                cost=round(row.price * sinks.count, 4),
                height_m=row.diameter_m,
                diameter_m=row.diameter_m,
                numbers={"sinks.sense_resistor": ohm},
            )

    def _bleeds(self, asked: Advise) -> Iterator[Option]:
        wanted = asked.bleed
        assert wanted is not None
        own = getattr(self.lamp, "bleed", None)
        low, high = (span * own.resistance_ohm for span in _BLEED_SPAN) if own else (None, None)
        for ohm, row in _resistors(catalogue.resistors().bleed, wanted, low, high):
            yield Option(
                f"{OHM.format(ohm)} {WATT.format(row.power_w)}",
                {"bleed": {"resistance": ohm, "power": row.power_w}},
                cost=row.price,
                height_m=row.diameter_m,
                diameter_m=row.diameter_m,
                numbers={"bleed.resistance": ohm},
            )

    def _varistors(self, asked: Advise) -> Iterator[Option]:
        wanted = asked.varistor
        assert wanted is not None
        nominal_v = self.lamp.mains.voltage_v
        own = getattr(self.lamp, "varistor", None)
        dropped = {"marking": "none"} if own and own.marking else {}
        from coldiron.lamp.varistor import DISC_SIZES

        sizes = {round(1e3 * size.diameter_m): size for size in DISC_SIZES}
        for row in varistor_classes():
            if wanted.ac_rating_v and row.ac_rating_v not in wanted.ac_rating_v:
                continue
            if row.ac_rating_v < VARISTOR_RESERVE * nominal_v or (
                not wanted.ac_rating_v and row.ac_rating_v > _VARISTOR_WIDEST * nominal_v
            ):
                self.left_out["a.c. rating"] = self.left_out.get("a.c. rating", 0) + 1
                continue
            for disc in catalogue.varistor_discs():
                if wanted.disc_m and not any(math.isclose(disc.diameter_m, d) for d in wanted.disc_m):
                    continue
                size = sizes[round(1e3 * disc.diameter_m)]
                # The energy of a disc grows with its voltage; told for the 275 V class.
                energy_j = float(f"{disc.energy_j * row.ac_rating_v / 275.0:.3g}")
                yield Option(
                    f"{METRE.format(disc.diameter_m)} {VOLT.format(row.ac_rating_v)}",
                    {
                        "varistor": {
                            **dropped,
                            "ac_rating": row.ac_rating_v,
                            "one_milliamp_voltage": row.one_milliamp_voltage_v,
                            "clamping_voltage": row.clamping_voltage_v,
                            "clamping_current": size.clamping_current_a,
                            "disc": disc.diameter_m,
                            "peak_current": disc.peak_current_a,
                            "energy": energy_j,
                            "capacitance": "none",
                            "mean_power": "none",
                        }
                    },
                    cost=disc.price,
                    height_m=disc.height_m,
                    # It stands on edge: its thickness, not its diameter, takes the board.
                    diameter_m=0.0,
                    numbers={"varistor.ac_rating": row.ac_rating_v},
                )

    def _thermistors(self, asked: Advise) -> Iterator[Option]:
        wanted = asked.thermistor
        assert wanted is not None
        for disc in catalogue.thermistor_discs():
            if wanted.disc_m and not any(math.isclose(disc.diameter_m, d) for d in wanted.disc_m):
                continue
            for ohm, most_a in zip(disc.r25_ohm, disc.largest_current_a, strict=True):
                yield Option(
                    f"{METRE.format(disc.diameter_m)} {OHM.format(ohm)}",
                    {
                        "part.ntc": {
                            "kind": "thermistor",
                            "after": wanted.after,
                            "r25": ohm,
                            "loss_w": disc.loss_w_per_k,
                            "heat": disc.heat_j_per_k,
                            "largest_current": most_a,
                        }
                    },
                    cost=disc.price,
                    height_m=disc.height_m,
                    diameter_m=0.0,
                    numbers={"part.ntc.r25": ohm},
                )

    def _refuse_unknown(self, key: str) -> None:
        file = f"study {self.study.name}"
        if key == "thermistor":
            return
        part = "sinks" if key == "sense_resistor" else key
        if part not in type(self.lamp).model_fields or (
            key == "sense_resistor" and getattr(self.lamp, "sinks", None) is None
        ):
            known = [name for name in _PLACES if name in type(self.lamp).model_fields]
            raise FileProblems(
                [
                    Problem(
                        file,
                        f"advise.{key}",
                        self.lamp.topology_word,
                        f"a part of this topology ({', '.join(known)})",
                    )
                ]
            )

    def _refuse_nothing_and_too_much(self) -> None:
        file = f"study {self.study.name}"
        if len(self) <= 1:
            why = ", ".join(f"{count} {reason}" for reason, count in self.left_out.items())
            text = f"nothing to choose{f' ({why})' if why else ''}"
            expected = "a part that may be bought, such as an empty table [advise.reservoir], and room for it"
            raise FileProblems([Problem(file, "advise", text, expected)])
        if len(self) > MOST_CANDIDATES:
            sizes = " × ".join(f"{len(axis.options)} {axis.heading}" for axis in self.axes)
            raise FileProblems(
                [Problem(file, "advise", f"{len(self)} candidates ({sizes})", f"at most {MOST_CANDIDATES}")]
            )


_PLACES: Final = ("reservoir", "line_fusing", "neutral_fusing", "bleed", "varistor")


def _usual(lamp: Lamp) -> dict[str, Any]:
    """What may be chosen where a study names nothing: the reservoir, the line, the current, the varistor."""
    fields = type(lamp).model_fields
    written: dict[str, Any] = {key: {} for key in ("reservoir", "line_fusing", "varistor") if key in fields}
    if getattr(lamp, "sinks", None) is not None:
        written["sense_resistor"] = {}
    usual = Advise.model_validate(written)
    return {key: getattr(usual, key) for key in written}


def _resistors(
    of: catalogue.Resistors,
    wanted: ResistorChoice,
    low_ohm: float | None = None,
    high_ohm: float | None = None,
) -> Iterator[tuple[float, catalogue.ResistorRow]]:
    """Values of the series by the ratings there are; the study's own ends go before the usual ones."""
    least_ohm = max(of.least_ohm, wanted.least_ohm or low_ohm or 0.0)
    most_ohm = min(of.most_ohm, wanted.most_ohm or high_ohm or math.inf)
    for ohm in (
        catalogue.preferred(wanted.series or of.series, least_ohm, most_ohm) if least_ohm <= most_ohm else ()
    ):
        for row in of.row:
            if not wanted.power_w or row.power_w in wanted.power_w:
                yield ohm, row
