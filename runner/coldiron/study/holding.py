"""What a study holds its readings against: the margin that counts as close, and limits of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, NamedTuple

from pydantic import BeforeValidator, Field

from coldiron.lamp.model import Closed
from coldiron.quantities import NotUnderstood, Ratio

_EXPECTED = 'a number in the unit of the reading, "none", or { value = ..., source = "..." }'


class Replacement(NamedTuple):
    """A study's own limit in place of a shipped one; None takes the limit away."""

    value: float | None
    source: str


def _replacements(written: Any) -> dict[str, Replacement]:
    if not isinstance(written, Mapping):
        raise NotUnderstood('a table, such as { "eu-2019-2020.svm" = 0.9 }')
    return dict(_each(written, ""))


def _each(table: Mapping[str, Any], inside: str) -> Iterator[tuple[str, Replacement]]:
    """Yield id and replacement; an id without quotes has become a table of tables, which is taken back."""
    for key, value in table.items():
        name = f"{inside}.{key}".lstrip(".")
        if isinstance(value, Replacement):
            yield name, value
        elif isinstance(value, Mapping) and "value" not in value:
            yield from _each(value, name)
        else:
            yield name, _replacement(value)


def _replacement(written: Any) -> Replacement:
    source: Any = "the study"
    if isinstance(written, Mapping):
        if set(written) - {"value", "source"}:
            raise NotUnderstood(_EXPECTED)
        source, written = written.get("source", source), written["value"]
    if not isinstance(source, str) or not source.isprintable() or not source.strip():
        raise NotUnderstood(_EXPECTED)
    if written == "none":
        return Replacement(None, source)
    if isinstance(written, bool) or not isinstance(written, int | float) or not 0 <= written < 1e9:
        raise NotUnderstood(_EXPECTED)
    return Replacement(float(written), source)


class Holding(Closed):
    """The [limits] of a study.

    `margin_ratio` is the share of a limit within which a reading is "close"; `replace` maps ids of limits to
    the study's own.
    """

    margin_ratio: Annotated[Ratio, Field(ge=0, le=0.9)] = 0.1
    replace: Annotated[dict[str, Replacement], BeforeValidator(_replacements)] = Field(default_factory=dict)
