"""The base of every part: how a key is written in a file, and where each number came from."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Standing = Literal["data sheet", "measured", "fitted", "assumed", "study"]
"""Where a number came from; "study" marks one that a study's change has set."""

_UNIT_SUFFIXES = (
    "_v_per_k", "_k_per_w", "_j_per_k", "_per_k", "_a2s", "_ohm", "_ratio", "_hz", "_m2",
    "_v", "_a", "_f", "_h", "_w", "_j", "_s", "_c", "_m",
)  # fmt: skip


def written_key(field: str) -> str:
    """Key of a field as a file writes it: the name without its unit.

    >>> written_key("sense_resistor_ohm"), written_key("count")
    ('sense_resistor', 'count')
    """
    for suffix in _UNIT_SUFFIXES:
        if field.endswith(suffix):
            return field.removesuffix(suffix)
    return field


class Part(BaseModel):
    """One part of a lamp. `standings` maps written keys to the standing of their values."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, alias_generator=written_key, populate_by_name=True
    )

    standings: dict[str, Standing] = Field(default_factory=dict)
