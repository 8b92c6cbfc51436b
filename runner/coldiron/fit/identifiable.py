"""What readings tell about values, and what they cannot: singular values of the scaled sensitivities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coldiron.lamp.model import Provenance

Array = NDArray[np.float64]

LARGEST_RATIO = 0.2
"""A direction whose standard uncertainty is above this share of the values counts as not identifiable."""
_NAMED_SHARE = 0.2
"""Values with less than this part in a direction are not named with it."""
_FIRMNESS: dict[Provenance, int] = {
    "measured": 5, "data sheet": 4, "study": 3, "fitted": 2, "given": 1, "typical": 0,
}  # fmt: skip


@dataclass(frozen=True)
class NotIdentifiable:
    """Values that these readings cannot tell, alone or apart.

    `moves` is the change of each, in per cent, that leaves every reading where it is; `held` is the one that
    stays as the lamp file has it.
    """

    keys: tuple[str, ...]
    moves: tuple[float, ...]
    held: str

    def __str__(self) -> str:
        """One line for a person."""
        if len(self.keys) == 1:
            return f"{self.held}; left as it is"
        together = ", ".join(f"{key} {move:+.0f} %" for key, move in zip(self.keys, self.moves, strict=True))
        names = " and ".join(self.keys)
        return f"{names} apart ({together} changes no reading); {self.held} left as it is"


def identifiable(
    sensitivity: Array, keys: Sequence[str], provenances: Sequence[Provenance], limit: float = LARGEST_RATIO
) -> tuple[list[int], list[NotIdentifiable]]:
    """Which values are identifiable from readings.

    While the least singular value says that some direction of the values moves the readings too little, the
    firmest value of that direction (measured before data sheet before typical; then the one with the largest
    part) is held.

    Parameters
    ----------
    sensitivity : (readings, values) array
        Change of each reading, in its standard uncertainty, for a change of each value's logarithm.
    keys, provenances : sequences
        Of the values.
    limit : float
        Largest standard uncertainty of a direction that still counts as identifiable.

    Returns
    -------
    list of int
        Places of the values that are.
    list of NotIdentifiable
        The rest, in the order they were held.

    Examples
    --------
    Two readings of one ratio, and a third value that nothing depends on:

    >>> readings = np.array([[90.0, -90.0, 0.0], [50.0, -50.0, 0.0]])
    >>> kept, rest = identifiable(readings, ["a", "b", "c"], ["typical"] * 3)
    >>> kept, [one.keys for one in rest]
    ([1], [('c',), ('a', 'b')])
    """
    kept, rest = list(range(len(keys))), []
    for n in list(kept):
        if np.linalg.norm(sensitivity[:, n]) < 1.0 / limit:
            kept.remove(n)
            rest.append(NotIdentifiable((keys[n],), (100.0,), keys[n]))
    while kept:
        _, singular, directions = np.linalg.svd(sensitivity[:, kept])
        least = singular[-1] if len(singular) == len(kept) else 0.0
        if least >= 1.0 / limit:
            break
        direction = directions[-1]
        named = [m for m in range(len(kept)) if abs(direction[m]) > _NAMED_SHARE * np.abs(direction).max()]
        held = max(named, key=lambda m: (_FIRMNESS[provenances[kept[m]]], round(abs(direction[m]), 3), -m))
        scale = 10.0 / direction[named[0]] / max(1.0, np.abs(direction / direction[named[0]]).max())
        moves = tuple(float(direction[m] * scale) for m in named)
        rest.append(NotIdentifiable(tuple(keys[kept[m]] for m in named), moves, keys[kept[held]]))
        kept.pop(held)
    return kept, rest
