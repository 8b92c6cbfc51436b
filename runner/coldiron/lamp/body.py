"""What is around the circuit: heat path, housing, label, and the readings taken on the real lamp."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal, NamedTuple

from pydantic import Field, ValidationInfo, field_validator

from coldiron.lamp.model import Inconsistency, Note, Part
from coldiron.quantities import (
    AMPERE,
    CELSIUS,
    RATIO,
    VOLT,
    WATT,
    Celsius,
    Farad,
    JoulePerKelvin,
    KelvinPerWatt,
    Metre,
    NotUnderstood,
    Ohm,
    Ratio,
    SquareMetre,
    Unit,
    Volt,
    Watt,
)


class HeatPath(Part):
    """Die, board, string and housing to ambient; all of the whole lamp but the die's, which is per sink.

    With `housing_area_m2` set the housing's own path to ambient is computed from its geometry; otherwise
    `housing_to_ambient_k_per_w` stands.
    """

    die_to_board_k_per_w: Annotated[KelvinPerWatt, Field(ge=0.1, le=500)] = 20.0
    string_to_board_k_per_w: Annotated[KelvinPerWatt, Field(ge=0.01, le=100)] = 0.5
    board_to_housing_k_per_w: Annotated[KelvinPerWatt, Field(ge=0.01, le=100)] = 0.6
    housing_to_ambient_k_per_w: Annotated[KelvinPerWatt, Field(ge=0.01, le=200)] = 1.5
    housing_area_m2: Annotated[SquareMetre, Field(ge=1e-4, le=10)] | None = None
    housing_height_m: Annotated[Metre, Field(ge=0.005, le=3)] = 0.1
    housing_emissivity_ratio: Annotated[Ratio, Field(ge=0.02, le=1)] = 0.85
    die_j_per_k: Annotated[JoulePerKelvin, Field(ge=1e-4, le=100)] = 0.05
    string_j_per_k: Annotated[JoulePerKelvin, Field(ge=1e-3, le=1e3)] = 2.0
    board_j_per_k: Annotated[JoulePerKelvin, Field(ge=0.1, le=1e4)] = 60.0
    housing_j_per_k: Annotated[JoulePerKelvin, Field(ge=0.1, le=1e5)] = 400.0


VACUUM_F_PER_M = 8.8541878128e-12
"""Permittivity of the vacuum [F/m], CODATA 2018."""
BOARD_W_PER_M2 = 3e3
"""Watts on a square metre of board whose area is not given: 0.3 W/cm² (from memory)."""
FOIL_F = 266e-12
"""Metal foil on plastic, as a hand laid flat on it: 200 cm² over 2 mm of permittivity 3 (from memory)."""

Material = Literal["metal", "plastic", "bare board"]


class Housing(Part):
    """What a person can touch, how the lamp is connected, and where it is meant to be used.

    `use` decides which rules about light apply: light sources for outdoor or industrial use are exempt from
    some. `portable` counts for a lamp on a plug: one that is moved while plugged in has stricter rules about
    its pins than one with a fixed place.

    `material` is what a hand meets: metal, plastic, or the "bare board" itself; unset, an earthed housing is
    of metal and of another nothing is known. `protection_class` "II" says that the lamp is meant to do
    without earth; whether its insulation is what that asks, no computation sees.

    The insulation of the board lies between string and housing: `board_capacitance_f` [F] where it was
    measured (string ends tied, against the housing), else copper share times area times permittivity over
    thickness of the dielectric; without an area, 0.3 W/cm². `minus_capacitance_f` is that of the driver's own
    copper. `room_capacitance_f` lies between the housing and the room, `insulation_resistance_ohm` beside the
    capacitance of the board, `earth_resistance_ohm` in the protective conductor as far as the
    installation's earth. Capacitances to housing and room matter to tests against earth alone.

    `earth_capacitance_f` lies between the circuit and earth; unset, it is that of a metal-core board to its
    earthed housing, or of a small lamp to the room (typical).
    """

    earthed: bool
    material: Material | None = None
    protection_class: Literal["I", "II"] | None = None
    connection: Literal["fixed wiring", "plug", "screw cap"] = "fixed wiring"
    portable: bool = True
    use: Literal["indoor", "outdoor", "industrial"] = "indoor"
    earth_capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-6)] | None = None
    board_capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-6)] | None = None
    board_area_m2: Annotated[SquareMetre, Field(ge=1e-5, le=2)] | None = None
    copper_share_ratio: Annotated[Ratio, Field(ge=0.05, le=1)] = 0.6
    dielectric_thickness_m: Annotated[Metre, Field(ge=5e-6, le=5e-3)] = 100e-6
    dielectric_permittivity: Annotated[float, Field(ge=1, le=30)] = 4.8
    minus_capacitance_f: Annotated[Farad, Field(ge=0, le=1e-6)] = 0.0
    room_capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-8)] = 50e-12
    insulation_resistance_ohm: Annotated[Ohm, Field(ge=1e3, le=1e13)] = 1e9
    earth_resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=100)] = 0.1

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Class II has no protective earth, and a bare board nothing to connect one to."""
        if self.earthed and self.protection_class == "II":
            yield Inconsistency(
                "protection_class", '"I", or earthed = false: class II has no protective earth'
            )
        if self.earthed and self.material == "bare board":
            yield Inconsistency(
                "material", '"metal", or earthed = false: without a housing nothing is earthed'
            )

    @property
    def to_earth_f(self) -> float:
        """Capacitance between circuit and earth [F]."""
        if self.earth_capacitance_f is not None:
            return self.earth_capacitance_f
        return 1e-9 if self.earthed else 30e-12

    @property
    def is_metal(self) -> bool:
        """Whether a hand meets metal; an earthed housing that says nothing is of metal."""
        return self.material == "metal" or (self.material is None and self.earthed)

    @property
    def needs_earth(self) -> bool:
        """Whether it is of metal that only an earth keeps from mains potential when insulation fails."""
        return self.is_metal and self.protection_class != "II"

    @property
    def board_is_assumed(self) -> bool:
        """Whether the capacitance of the board follows from typical values alone."""
        return self.board_capacitance_f is None and self.board_area_m2 is None

    def board_f(self, power_w: float) -> float:
        """Capacitance of a metal-core board between its copper and the metal behind it [F].

        Parameters
        ----------
        power_w : float
            Of the lamp, which decides the area where none is given [W].

        References
        ----------
        C = k · A · ε₀ · εr / d, the parallel plates of every handbook; 42.5 pF/cm² at 4.8 and 100 µm.

        Examples
        --------
        >>> round(1e12 * Housing(earthed=True, board_area_m2=1e-4, copper_share_ratio=1.0).board_f(5.0), 1)
        42.5
        """
        if self.board_capacitance_f is not None:
            return self.board_capacitance_f
        area_m2 = power_w / BOARD_W_PER_M2 if self.board_area_m2 is None else self.board_area_m2
        per_m2 = VACUUM_F_PER_M * self.dielectric_permittivity / self.dielectric_thickness_m
        return self.copper_share_ratio * area_m2 * per_m2

    def to_hand_f(self, power_w: float) -> float:
        """Capacitance between the string and what a hand can lie on [F]: through plastic, as through foil."""
        if self.is_metal:
            return self.board_f(power_w)
        if self.board_is_assumed:
            return FOIL_F
        board_f = self.board_f(power_w)
        return board_f * FOIL_F / (board_f + FOIL_F)


class Ratings(Part):
    """What the label says, if there is one.

    Power and kind decide which surge a lamp has to stand; the kind also which standards are about it: those
    for luminaires say nothing of a self-ballasted lamp (a bulb with its own driver, in a lampholder).
    """

    power_w: Annotated[Watt, Field(ge=0.1, le=5000)] | None = None
    kind: Literal["luminaire", "self-ballasted lamp"] = "luminaire"


class Scale(NamedTuple):
    """Unit of a kind of bench reading, and what a meter can have shown."""

    unit: Unit
    least: float
    most: float


READING_SCALES = {
    "input current": Scale(AMPERE, 1e-6, 100.0),
    "input power": Scale(WATT, 1e-3, 5000.0),
    "power factor": Scale(RATIO, 0.01, 1.0),
    "die temperature": Scale(CELSIUS, -60.0, 300.0),
    "board temperature": Scale(CELSIUS, -60.0, 300.0),
    "string temperature": Scale(CELSIUS, -60.0, 300.0),
    "housing temperature": Scale(CELSIUS, -60.0, 300.0),
    "bus voltage": Scale(VOLT, 0.0, 1000.0),
    "string voltage": Scale(VOLT, 0.0, 1000.0),
}


class BenchReading(Part):
    """One reading a person took on the real lamp, with the meter's tolerance; `what` decides the unit."""

    what: Literal[
        "input current",
        "input power",
        "power factor",
        "die temperature",
        "board temperature",
        "string temperature",
        "housing temperature",
        "bus voltage",
        "string voltage",
    ]
    state: Literal["cold", "hot"]
    value: float
    tolerance_ratio: Annotated[Ratio, Field(ge=1e-4, le=0.5)] = 0.02
    tolerance_digits: Annotated[float, Field(ge=0, le=1000)] = 0.0
    mains_voltage_v: Annotated[Volt, Field(ge=50, le=500)] | None = None
    ambient_c: Annotated[Celsius, Field(ge=-60, le=100)] | None = None
    note: Note = ""

    @field_validator("value", mode="before")
    @classmethod
    def _in_the_unit_of_what(cls, written: object, info: ValidationInfo) -> object:
        """Read the value in the unit that `what` decides; a wrong `what` has its own problem."""
        scale = READING_SCALES.get(info.data.get("what", ""))
        if scale is None:
            return 0.0
        value = scale.unit.parse(written)
        if not scale.least <= value <= scale.most:
            least, most = scale.unit.format(scale.least), scale.unit.format(scale.most)
            raise NotUnderstood(f"between {least} and {most}")
        return value
