"""What is around the circuit: heat path, housing, label, and the readings taken on the real lamp."""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

from pydantic import Field, ValidationInfo, field_validator

from coldiron.lamp.model import Note, Part
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


class Housing(Part):
    """What a person can touch, how the lamp is connected, and where it is meant to be used.

    `use` decides which rules about light apply: light sources for outdoor or industrial use are exempt from
    some. `portable` counts for a lamp on a plug: one that is moved while plugged in has stricter rules about
    its pins than one with a fixed place.
    `earth_capacitance_f` lies between the circuit and earth; unset, it is that of a metal-core board to its
    earthed housing, or of a small lamp to the room (typical).
    """

    earthed: bool
    connection: Literal["fixed wiring", "plug", "screw cap"] = "fixed wiring"
    portable: bool = True
    use: Literal["indoor", "outdoor", "industrial"] = "indoor"
    earth_capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-6)] | None = None

    @property
    def to_earth_f(self) -> float:
        """Capacitance between circuit and earth [F]."""
        if self.earth_capacitance_f is not None:
            return self.earth_capacitance_f
        return 1e-9 if self.earthed else 30e-12


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
