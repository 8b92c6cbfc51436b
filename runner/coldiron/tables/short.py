"""Short words for the heads of narrow columns."""

from __future__ import annotations

from typing import Final

_PARTS: Final = {
    "line fusing": "L fuse",
    "neutral fusing": "N fuse",
    "reservoir": "reserv.",
    "sinks": "sink",
    "sinks, drain voltage": "drain",
    "sinks, die temperature": "die",
    "varistor": "varist.",
}
_RULES: Final = {
    "stroboscopic effect": "SVM",
    "visible flicker": "Pst LM",
    "flicker (low risk)": "flicker low",
    "flicker (no effect)": "flicker none",
    "displacement factor": "displ.",
    "harmonics": "harm.",
}


def short_part(rated: str) -> str:
    """Part of a rating such as "sinks, watts of one".

    Examples
    --------
    >>> short_part("sinks, watts of one"), short_part("sinks, drain voltage"), short_part("film, voltage")
    ('sink', 'drain', 'film')
    """
    part = rated.partition(", ")[0]
    return _PARTS.get(rated, _PARTS.get(part, part))


def short_rule(topic: str) -> str:
    """What a rule is about."""
    return _RULES.get(topic, topic)
