"""Safety parts: what a change must not take away from a lamp, and the caution that stands where it does."""

from __future__ import annotations

from enum import Enum

from coldiron.lamp.lamp import Lamp
from coldiron.parts.roles import Opens


class Hazard(Enum):
    """A state of a lamp that no reading shows; its value is the caution, always in these words."""

    NO_FUSE = (
        "no fusing part is left in any leg: a shorted varistor, bridge or capacitor then burns until the "
        "installation's own fuse opens"
    )
    NO_BLEED = "the reservoir has no bleed resistor: it can hold mains peak voltage long after unplugging"
    NO_EARTH = (
        "the housing loses its protective earth: one failed insulation puts it at mains potential, and "
        "touching it can kill"
    )

    BARE_METAL = (
        "a metal housing without protective earth: one failed insulation puts it at mains potential, and "
        "touching it can kill"
    )

    @property
    def caution(self) -> str:
        """The caution."""
        return str(self.value)


def hazards(lamp: Lamp) -> set[Hazard]:
    """States of a lamp that take a safety part's place; a housing without earth may be meant to be one."""
    found = set()
    circuit = lamp.circuit
    legs = circuit.carrying_mains()
    if not any(isinstance(part, Opens) and part.works for part in legs):
        found.add(Hazard.NO_FUSE)
    if circuit.is_smoothed and not circuit.bleeds:
        found.add(Hazard.NO_BLEED)
    if not lamp.housing.earthed:
        found.add(Hazard.NO_EARTH)
        if lamp.housing.needs_earth:
            found.add(Hazard.BARE_METAL)
    return found


def taken_away(found: Lamp, now: Lamp) -> tuple[Hazard, ...]:
    """Hazards that a variant has and the lamp as found has not, in a fixed order.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> lamp = load_lamp("pantry-bulb")
    >>> [hazard.name for hazard in taken_away(lamp, lamp.model_copy(update={"line_fusing": None}))]
    ['NO_FUSE']
    """
    new = hazards(now) - hazards(found)
    if Hazard.NO_EARTH in new:
        new.discard(Hazard.BARE_METAL)
    return tuple(hazard for hazard in Hazard if hazard in new)


def standing_hazards(found: Lamp) -> tuple[Hazard, ...]:
    """Hazards of the lamp as found that a person should know of, whatever is changed.

    A housing without earth is among them where it is of metal and of no class that does without one.
    """
    return tuple(hazard for hazard in Hazard if hazard in hazards(found) - {Hazard.NO_EARTH})
