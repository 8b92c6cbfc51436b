"""The base of every part: how a key is written in a file, and where each number came from."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler, model_validator
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from coldiron.quantities import NotUnderstood
from coldiron.wording import one_nearest, one_of

Provenance = Literal["measured", "data sheet", "fitted", "given", "typical", "study"]
"""Where a number came from; "study" marks one that a study's change has set."""

_UNIT_SUFFIXES = (
    "_v_per_k", "_a_per_v2", "_k_per_w", "_j_per_k", "_per_k", "_f_per_m", "_a2s", "_ohm", "_ratio",
    "_hz", "_m2", "_v", "_a", "_f", "_h", "_w", "_j", "_s", "_c", "_m", "_deg",
)  # fmt: skip


@cache
def written_key(field: str) -> str:
    """Key of a field as a file writes it: the name without its unit.

    >>> written_key("sense_resistor_ohm"), written_key("count")
    ('sense_resistor', 'count')
    """
    for suffix in _UNIT_SUFFIXES:
        if field.endswith(suffix):
            return field.removesuffix(suffix)
    return field


def _one_line(text: str) -> str:
    """Text a person reads on one line; nothing else may reach a deck's comment."""
    if not text.strip():
        raise ValueError("a name, not an empty text")
    if not text.isprintable():
        raise ValueError("one line of printable characters")
    return unicodedata.normalize("NFC", text.strip())


def _note(text: str) -> str:
    """Fold a note into one line; other control characters are refused."""
    return _one_line(" ".join(text.split())) if text.strip() else ""


Name = Annotated[str, Field(max_length=80), AfterValidator(_one_line)]
Note = Annotated[str, Field(max_length=500), AfterValidator(_note)]


@dataclass(frozen=True)
class OneOf:
    """A field that holds one of the words which are known by the time a file is read."""

    known: Callable[[], Iterable[str]]

    @property
    def words(self) -> tuple[str, ...]:
        """Every word it may hold."""
        return tuple(self.known())

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Refuse other words with those that are known and the nearest of them."""

        def check(word: str) -> str:
            if word not in self.words:
                raise NotUnderstood(one_of(self.words), one_nearest(word, self.words))
            return word

        return core_schema.no_info_after_validator_function(check, handler(source))


class Inconsistency(NamedTuple):
    """Values that are each possible but do not belong together; `key` is the written key to change."""

    key: str
    expected: str


class Fact(NamedTuple):
    """Something that follows from the values of a lamp, as a person reads it."""

    name: str
    value: str


class Closed(BaseModel):
    """A table of a file: frozen, strict, and no key but its own."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, alias_generator=written_key, populate_by_name=True
    )

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Yield what is wrong between fields; a model with such rules overrides this."""
        yield from ()

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        found = list(self.inconsistencies())
        if found:
            text = "; ".join(f"{one.key}: expected {one.expected}" for one in found)
            raise PydanticCustomError("inconsistencies", "{text}", {"text": text, "inconsistencies": found})
        return self


class Part(Closed):
    """One part of a lamp. `provenances` has one for each key that a file has written."""

    implied_by: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    """Written keys that stand for others while those are not given, as a marking does."""

    provenances: dict[str, Provenance] = Field(default_factory=dict)

    def provenance(self, key: str) -> Provenance:
        """Where the value of a written key came from; a default is "typical"."""
        return self.provenances.get(key, "typical")
