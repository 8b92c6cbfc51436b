"""The conditions of a study: supply, ambient and surge."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Closed
from coldiron.quantities import HERTZ, RATIO, VOLT, Celsius, Degree, NotUnderstood, Volt
from coldiron.study.disturbances import Burst, Dip, Leakage, Sag
from coldiron.study.surroundings import OPEN_AIR, Surroundings

_VOLTAGE_AND_FREQUENCY = re.compile(r"(?P<voltage>.*?V)(?: +(?P<frequency>[^V]*Hz))?")
_MAINS_EXPECTED = '"nominal", a share such as "+10 %", or a supply such as "240 V" or "240 V 60 Hz"'


@dataclass(frozen=True)
class SupplyPoint:
    """One supply a lamp is tried on."""

    label: str
    voltage_v: float
    frequency_hz: float


@dataclass(frozen=True)
class MainsCondition:
    """A supply as a study asks for it; what it leaves open comes from the lamp."""

    label: str
    voltage_v: float | None = None
    share_ratio: float = 1.0
    frequency_hz: float | None = None

    @classmethod
    def read(cls, written: object) -> MainsCondition:
        """Read "nominal", "+10 %", "240 V" or "240 V 60 Hz".

        Raises
        ------
        NotUnderstood
            If it is none of these, or outside 50 to 500 V, 40 to 70 Hz or half to one and a half times.

        Examples
        --------
        >>> MainsCondition.read("+10 %").share_ratio, MainsCondition.read("240 V 60 Hz").frequency_hz
        (1.1, 60.0)
        """
        if isinstance(written, MainsCondition):
            return written
        text = " ".join(written.split()) if isinstance(written, str) else ""
        if text == "nominal":
            return cls("nominal")
        if text.endswith("%") and text[0] in "+-−":
            share = 1.0 + _within(RATIO.parse(text), -0.5, 0.5, "a share from -50 % to +50 %")
            return cls(f"{(share - 1.0) * 100:+.4g} %", share_ratio=share)
        match = _VOLTAGE_AND_FREQUENCY.fullmatch(text)
        if match is None:
            raise NotUnderstood(_MAINS_EXPECTED)
        voltage_v = _within(VOLT.parse(match["voltage"]), 50, 500, "a mains voltage from 50 V to 500 V")
        if match["frequency"] is None:
            return cls(VOLT.format(voltage_v), voltage_v)
        frequency_hz = _within(HERTZ.parse(match["frequency"]), 40, 70, "a frequency from 40 Hz to 70 Hz")
        return cls(
            f"{VOLT.format(voltage_v)} {HERTZ.format(frequency_hz)}", voltage_v, frequency_hz=frequency_hz
        )

    def point(self, lamp: Lamp) -> SupplyPoint:
        """Supply for one lamp."""
        voltage_v = lamp.mains.voltage_v * self.share_ratio if self.voltage_v is None else self.voltage_v
        frequency_hz = lamp.mains.frequency_hz if self.frequency_hz is None else self.frequency_hz
        return SupplyPoint(self.label, voltage_v, frequency_hz)


def _within(value: float, least: float, most: float, expected: str) -> float:
    if not least <= value <= most:
        raise NotUnderstood(expected)
    return value


def _polarity(written: object) -> int:
    signs = {"+": 1, "-": -1, "−": -1, "positive": 1, "negative": -1}
    if isinstance(written, str) and written in signs:
        return signs[written]
    raise NotUnderstood('"+" or "-"')


def once_each(written: Any) -> Any:
    """Refuse a list that names one thing twice."""
    if isinstance(written, tuple) and any(entry in written[:n] for n, entry in enumerate(written)):
        raise ValueError("each entry once")
    return written


Mains = Annotated[MainsCondition, BeforeValidator(MainsCondition.read)]
Around = Annotated[Surroundings, BeforeValidator(Surroundings.read)]
Room = Annotated[Celsius, Field(ge=-60, le=100)]
Angle = Annotated[Degree, Field(ge=0, le=360)]
Polarity = Annotated[int, BeforeValidator(_polarity)]


class Conditions(Closed):
    """Under what every variant is tried; `surge_level_v` None leaves it to the lamp's power and kind.

    `surroundings` and `rooms_c` matter to the bench "heat" alone; the rooms are those that each lamp is
    also brought to its balance in, from the coldest to the hottest.
    """

    mains: Annotated[tuple[Mains, ...], Field(min_length=1, max_length=12), BeforeValidator(once_each)] = (
        MainsCondition("nominal"),
    )
    ambient_c: Room = 25.0
    surroundings: Annotated[
        tuple[Around, ...], Field(min_length=1, max_length=6), BeforeValidator(once_each)
    ] = (OPEN_AIR,)
    rooms_c: (
        Annotated[tuple[Room, ...], Field(min_length=2, max_length=24), BeforeValidator(once_each)] | None
    ) = None
    surge_level_v: Annotated[Volt, Field(ge=50, le=10e3)] | None = None
    surge_angle_deg: Annotated[
        tuple[Angle, ...], Field(min_length=1, max_length=36), BeforeValidator(once_each)
    ] = (0.0, 90.0, 180.0, 270.0)
    surge_polarity: Annotated[
        tuple[Polarity, ...], Field(min_length=1, max_length=2), BeforeValidator(once_each)
    ] = (1, -1)
    burst: Burst = Burst()
    dip: Dip = Dip()
    sag: Sag = Sag()
    leakage: Leakage | None = None
