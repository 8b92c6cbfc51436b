"""What surrounds a lamp when it warms: open air, a closed fitting, a hot room."""

from __future__ import annotations

from dataclasses import dataclass

from coldiron.lamp.lamp import Lamp
from coldiron.quantities import CELSIUS, KELVIN_PER_WATT, NotUnderstood

HOT_ROOM_C = 45.0
"""A hot room, unless a study says how hot: under a roof in summer (common practice, no source)."""
FITTING_RISE_K = 25.0
"""A closed fitting, unless a study gives its resistance, warms its air by this at the lamp's rated power
(common practice, no source)."""

_EXPECTED = '"open air", "closed fitting", "closed fitting 2 K/W", "hot room" or "hot room 50 °C"'


@dataclass(frozen=True)
class Surroundings:
    """Where a lamp hangs; what is None comes from the study's ambient, or from the lamp's rated power."""

    label: str
    closed: bool = False
    ambient_c: float | None = None
    resistance_k_per_w: float | None = None

    @classmethod
    def read(cls, written: object) -> Surroundings:
        """Read "open air", "closed fitting", "closed fitting 2 K/W", "hot room" or "hot room 50 °C".

        Raises
        ------
        NotUnderstood
            If it is none of these, or outside 0.01 to 50 K/W or -60 to 100 °C.

        Examples
        --------
        >>> Surroundings.read("hot room").ambient_c, Surroundings.read("closed fitting 2 K/W").label
        (45.0, 'closed fitting 2 K/W')
        """
        if isinstance(written, Surroundings):
            return written
        text = " ".join(written.split()) if isinstance(written, str) else ""
        if text == "open air":
            return OPEN_AIR
        if text == "closed fitting":
            return cls(text, closed=True)
        if text.startswith("closed fitting "):
            value = KELVIN_PER_WATT.parse(text.removeprefix("closed fitting "))
            if not 0.01 <= value <= 50.0:
                raise NotUnderstood("a closed fitting of 0.01 K/W to 50 K/W")
            return cls(f"closed fitting {KELVIN_PER_WATT.format(value)}", True, None, value)
        if text == "hot room":
            return cls(f"hot room {CELSIUS.format(HOT_ROOM_C)}", ambient_c=HOT_ROOM_C)
        if text.startswith("hot room "):
            value = CELSIUS.parse(text.removeprefix("hot room "))
            if not -60.0 <= value <= 100.0:
                raise NotUnderstood("a room of -60 °C to 100 °C")
            return cls(f"hot room {CELSIUS.format(value)}", ambient_c=value)
        raise NotUnderstood(_EXPECTED)

    def fitting_k_per_w(self, lamp: Lamp) -> float:
        """Resistance between the air around the lamp and the room [K/W]; 0 in open air."""
        if not self.closed:
            return 0.0
        if self.resistance_k_per_w is not None:
            return self.resistance_k_per_w
        return FITTING_RISE_K / lamp.expected_power_w


OPEN_AIR = Surroundings("open air")
