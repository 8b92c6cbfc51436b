"""Candidates that settled runs cannot tell apart, and what the half wave says of each such group."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.advice.half_cycle import Reduced, half_cycle_readings, reduced
from coldiron.advice.space import Option, Space
from coldiron.lamp.lamp import Lamp
from coldiron.study.conditions import SupplyPoint
from coldiron.study.model import Study

_UNSEEN: Final = {"reservoir": ("rated_life", "rated_temperature")}
"""What a settled run and the ratings held on it do not see of a change, by part."""
_UNSEEN_PARTS: Final = ("varistor",)


def seen_settled(option: Option) -> str:
    """What settled runs see of an option, as text: on undisturbed mains a varistor carries microamperes."""
    seen = {}
    for part, values in option.change.items():
        if part not in _UNSEEN_PARTS:
            hidden = _UNSEEN.get(part, ())
            seen[part] = (
                {key: value for key, value in values.items() if key not in hidden}
                if isinstance(values, dict)
                else values
            )
    return json.dumps(seen, sort_keys=True)


class Groups:
    """All groups of a space; a group is known by its number and stood for by its first candidate.

    Parameters
    ----------
    space : Space
    """

    def __init__(self, space: Space) -> None:
        self._space = space
        codes: list[NDArray[np.intp]] = []
        firsts: list[list[int]] = []
        for axis in space.axes:
            seen: dict[str, int] = {}
            first: list[int] = []
            code = []
            for step, option in enumerate(axis.options):
                text = seen_settled(option)
                if text not in seen:
                    seen[text] = len(first)
                    first.append(step)
                code.append(seen[text])
            codes.append(np.array(code))
            firsts.append(first)
        self._shape = tuple(len(first) for first in firsts)
        self._firsts = firsts
        grids = np.meshgrid(*codes, indexing="ij")
        self.of = np.ravel_multi_index([grid.ravel() for grid in grids], self._shape)
        """Group of each candidate."""
        self.sizes = np.bincount(self.of, minlength=len(self))

    def __len__(self) -> int:
        """How many groups there are."""
        return int(np.prod(self._shape))

    def first(self, group: int) -> int:
        """Candidate that stands for a group: the first of it."""
        steps = np.unravel_index(group, self._shape)
        return self._space.number(
            tuple(first[int(step)] for first, step in zip(self._firsts, steps, strict=True))
        )


@dataclass(frozen=True)
class Said:
    """What the half wave says of groups on one supply.

    `smoothed` tells lamps with a reservoir; `fits` those that it can stand for at all.
    """

    supply: SupplyPoint
    label: str
    fits: NDArray[np.bool_]
    smoothed: NDArray[np.bool_]
    readings: dict[str, NDArray[np.float64]]


def said_of(study: Study, lamps: Sequence[Lamp | None]) -> list[Said]:
    """What the half wave says of lamps, on each supply of the study; equal circuits are computed once."""
    said = []
    for supply in study.supplies(study.lamp):
        own = [
            None if lamp is None else reduced(lamp, supply.voltage_v, supply.frequency_hz) for lamp in lamps
        ]
        unique: dict[Reduced, int] = {}
        places = np.array([-1 if one is None else unique.setdefault(one, len(unique)) for one in own])
        found = half_cycle_readings(list(unique))
        said.append(
            Said(
                supply,
                f"{supply.voltage_v:g} V {supply.frequency_hz:g} Hz",
                places >= 0,
                np.array([one is not None and one.reservoir_f > 0.0 for one in own]),
                {
                    name: np.where(places >= 0, values[np.maximum(places, 0)], np.nan)
                    for name, values in found.items()
                },
            )
        )
    return said
