"""What a study asks of tolerances: how many lamps, how far their values may be off, and which mains."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from coldiron.lamp.model import Closed, Inconsistency
from coldiron.quantities import RATIO, Celsius, NotUnderstood, Ratio

USUAL_RUNS = 300
"""Lamps of a spread: a yield of 99 % is shown with 95 % confidence by 299 without a failure."""
MOST_RATIO = 0.9


def _shares(written: Any) -> dict[str, float]:
    if not isinstance(written, Mapping):
        raise NotUnderstood('a table, such as { "film.capacitance" = "5 %" }')
    return dict(_each(written, ""))


def _each(table: Mapping[str, Any], inside: str) -> Iterator[tuple[str, float]]:
    """Yield key and share; a dotted key without quotes has become a table of tables, which is taken back."""
    for key, value in table.items():
        name = f"{inside}.{key}".lstrip(".")
        if isinstance(value, Mapping):
            yield from _each(value, name)
        else:
            ratio = RATIO.parse(value)
            if not 0 <= ratio <= MOST_RATIO:
                raise NotUnderstood("a share from 0 % to 90 %")
            yield name, ratio


class Spread(Closed):
    """The [spread] of a study: lamps that differ by the tolerances of their parts.

    `runs` lamps are drawn; each value is `shape`: "uniform" within its tolerance, or "normal" with the
    tolerance at three standard deviations and cut there, which is kinder than parts that were sorted. `mains`
    is the share that the supply varies by, `ambient` the rooms between which the lamps hang (unset, 10 °C to
    either side of the study's). `tolerance` replaces that of single values, by their dotted keys. Another
    `seed` draws other lamps.
    """

    runs: Annotated[int, Field(ge=20, le=100_000)] = USUAL_RUNS
    shape: Literal["uniform", "normal"] = "uniform"
    mains_ratio: Annotated[Ratio, Field(ge=0, le=0.3)] = 0.1
    ambient_c: tuple[Annotated[Celsius, Field(ge=-60, le=100)], ...] | None = None
    tolerance: Annotated[dict[str, float], BeforeValidator(_shares)] = Field(default_factory=dict)
    seed: Annotated[int, Field(ge=0, le=2**31)] = 0

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Rooms are two, the cooler first."""
        if self.ambient_c is not None and (len(self.ambient_c) != 2 or self.ambient_c[0] > self.ambient_c[1]):
            yield Inconsistency("ambient", 'two temperatures, the cooler first, such as ["10 °C", "40 °C"]')
