"""A resistive element that heats, glows and opens when it takes far too many watts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from coldiron.parts.part import Array, Part, PartWaveforms


@dataclass(frozen=True)
class Element:
    """One element of a part.

    Parameters
    ----------
    part : Part
        Whose it is.
    name : str
        As a person calls it.
    ohm, rated_w : float
        Cold resistance [Ω] and rated watts [W].
    watts, current_a : callable
        Mean watts [W] and the current [A] of a window.
    scaled : callable
        The part with this element at some multiple of its resistance.
    opens_as : str
        Word of the failure mode that it ends in.
    make : str
        What it is made of, where that narrows when it opens: "wirewound", "film" or "".
    alone : bool
        Whether it is all of its part, so that a deck can put one with heat in its place.
    """

    part: Part
    name: str
    ohm: float
    rated_w: float
    watts: Callable[[PartWaveforms], float]
    current_a: Callable[[PartWaveforms], Array]
    scaled: Callable[[float], Part]
    opens_as: str = "open"
    make: str = ""
    alone: bool = True
