"""What a person without a meter notices of an end state, and how likely each word for it is.

The probabilities are our own (common practice, no source). None is below `LEAST`: people overlook things, and
one word must never exclude the truth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from coldiron.diagnosis.endstates import BREAKER_A

LEAST: Final = 0.02
EYE: Final = 0.15
"""Standard error with which an eye that remembers the lamp judges its light, as a share."""
_DARK, _DIM, _BRIGHT = 0.05, 0.8, 1.25
_SEEN_PCT = 10.0
"""Flicker at the mains frequency that is seen (common practice, no source)."""


@dataclass(frozen=True)
class Look:
    """What is to be seen of one severity of one state.

    `light_ratio` is of the healthy lamp; `mains_flicker_pct` what light shakes by at the mains frequency;
    `dark_ratio` the share of LEDs that are dark while others are lit; `input_a` what it takes from the mains
    [A]; `hot` names parts at twice their watts and twice those of the healthy lamp, `opened` parts that
    opened; `blinks` tells that something in it switches off and on by its temperature, `arcs` that a joint is
    loose.
    """

    light_ratio: float = 1.0
    mains_flicker_pct: float = 0.0
    dark_ratio: float = 0.0
    input_a: float = 0.0
    hot: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    blinks: bool = False
    arcs: bool = False
    banged: bool = False


LIGHT_WORDS: Final = ("dark", "dim", "lights as usual", "bright")
SYMPTOMS: Final = (
    *LIGHT_WORDS, "half dark", "flickers", "blinks slowly", "hums", "part discoloured", "trips the breaker",
    "bang",
)  # fmt: skip
CONTRADICTIONS: Final[Mapping[frozenset[str], str]] = {
    frozenset(pair): why
    for pair, why in {
        ("dark", "dim"): "a dark lamp gives no light at all",
        ("dark", "bright"): "a dark lamp gives no light at all",
        ("dark", "lights as usual"): "a dark lamp gives no light at all",
        ("dark", "half dark"): "half dark means that the rest is lit",
        ("dark", "flickers"): "a dark lamp gives no light that could flicker",
        ("dim", "bright"): "one compares the whole light with that of the lamp before",
        ("dim", "lights as usual"): "one compares the whole light with that of the lamp before",
        ("bright", "lights as usual"): "one compares the whole light with that of the lamp before",
        ("trips the breaker", "lights as usual"): "with the breaker off nothing lights",
        ("trips the breaker", "dim"): "with the breaker off nothing lights",
        ("trips the breaker", "bright"): "with the breaker off nothing lights",
        ("trips the breaker", "half dark"): "with the breaker off nothing lights",
        ("trips the breaker", "flickers"): "with the breaker off nothing lights",
        ("trips the breaker", "blinks slowly"): "with the breaker off nothing lights",
    }.items()
}
"""Symptoms that no lamp shows together, and why."""


@dataclass(frozen=True)
class Seen:
    """Symptoms that a person noticed, and which part is discoloured where one is known."""

    symptoms: tuple[str, ...] = ()
    discoloured: str = ""


def probability(symptom: str, look: Look, discoloured: str = "") -> float:
    """Probability that a person says a symptom of a lamp that looks so.

    Examples
    --------
    >>> dark = Look(light_ratio=0.0)
    >>> [round(probability(word, dark), 2) for word in ("dark", "dim", "flickers")]
    [0.94, 0.02, 0.02]
    """
    return min(1.0 - LEAST, max(LEAST, _plain(symptom, look, discoloured)))


def _plain(symptom: str, look: Look, discoloured: str) -> float:
    lit = look.light_ratio > _DARK and look.input_a < BREAKER_A
    if symptom in LIGHT_WORDS:
        return _light(look)[symptom]
    if symptom == "half dark":
        return (0.9 if look.dark_ratio >= 0.1 else 0.5) if lit and look.dark_ratio > 0.0 else 0.0
    if symptom == "flickers":
        shakes = look.mains_flicker_pct >= _SEEN_PCT
        return 0.0 if not lit else 0.7 if shakes else 0.6 if look.arcs else 0.05
    if symptom == "blinks slowly":
        return 0.7 if look.blinks else 0.3 if lit and look.arcs else 0.0
    if symptom == "hums":
        return 0.3 if look.arcs or look.input_a > 1.0 else 0.1
    if symptom == "part discoloured":
        warm = (*look.hot, *look.opened)
        if discoloured:
            return 0.6 if discoloured in warm else 0.0
        return 0.6 if look.hot else 0.5 if look.opened else 0.05
    if symptom == "trips the breaker":
        return 0.95 if look.input_a >= BREAKER_A else 0.0
    return 0.7 if look.banged else 0.05


def _light(look: Look) -> dict[str, float]:
    """Probability of each word about the light: what it is like to an eye of some error."""
    ratio = 0.0 if look.input_a >= BREAKER_A else look.light_ratio
    if ratio <= _DARK:
        return dict(zip(LIGHT_WORDS, (0.94, LEAST, LEAST, LEAST), strict=True))
    below = [_normal((math.log(edge) - math.log(ratio)) / EYE) for edge in (_DIM, _BRIGHT)]
    shares = (0.0, below[0], below[1] - below[0], 1.0 - below[1])
    return {word: LEAST + (1.0 - 4 * LEAST) * share for word, share in zip(LIGHT_WORDS, shares, strict=True)}


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def log_likelihood(seen: Seen, look: Look) -> float:
    """Logarithm of the probability of all that was seen."""
    return sum(math.log(probability(symptom, look, seen.discoloured)) for symptom in seen.symptoms)
