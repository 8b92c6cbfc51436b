"""How far off its value a part may be: as it is bought, and where nobody has measured it.

Each kind says both for itself. A *tolerance* makes lamps of one drawing differ: it is there however well one
lamp was measured. An *assumption* is what is not known of one lamp: it goes away with a reading.
"""

from __future__ import annotations

from typing import NamedTuple

PRACTICE = "common practice, no source"


class Tolerance(NamedTuple):
    """How much of a value a part may have more or less, as it is bought.

    Parameters
    ----------
    key : str
        Written key of the value.
    ratio : float
        Plus and minus this share.
    source : str
        Where that is from.
    moves : tuple of (str, float)
        Values that go with it, and what they are multiplied with besides: the clamping voltage of a varistor
        is given for the highest disc.
    spends : str
        Key of the tolerance that a lamp file has for it: in a lamp whose part has its own value that is
        nothing, or it would count twice.
    of_a_reel : bool
        Whether parts of equal value in one lamp are from one reel, and off together.
    """

    key: str
    ratio: float
    source: str
    moves: tuple[tuple[str, float], ...] = ()
    spends: str = ""
    of_a_reel: bool = False


class Assumption(NamedTuple):
    """Between which factors of it a value lies that nobody has measured, and what reading would tell.

    Parameters
    ----------
    key : str
        Written key of the value.
    least_factor, most_factor : float
        Of the value that is assumed.
    reading : str
        What to measure on the bench.
    source : str
        Where the factors are from.
    """

    key: str
    least_factor: float
    most_factor: float
    reading: str
    source: str = PRACTICE
