"""How a result is written down, and read back only if it is one.

A store may come from elsewhere: a build cache, a shared folder, a person who means harm. So nothing of a row
is believed for its place. Decks pass the guard, names are plain words, texts are printable, vectors have one
length. What cannot be told is whether a number is true: a store is as good as whoever could write to it.
"""

from __future__ import annotations

import json
import math
from typing import Annotated

import numpy as np
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from coldiron.deck.guard import check_deck
from coldiron.engine.waves import Array
from coldiron.errors import DeckRefused
from coldiron.sweep.case_result import CaseResult, Failure, PlainWaves
from coldiron.wording import printable

_FLOAT = np.dtype("<f8")
_MOST_TEXT = 20_000


class NotAResult(ValueError):
    """Bytes that this program has not written."""


def written(result: CaseResult) -> bytes:
    """Everything of a result but its waves, as text."""
    failure = result.failure
    return json.dumps(
        {
            "readings": dict(result.readings),
            "decks": dict(result.decks),
            "failure": [failure.why, failure.engine_words] if failure else None,
            "cpu_s": result.cpu_s,
            "engine_s": result.engine_s,
            "runs": result.runs,
            "how_run": dict(result.how_run),
            "not_applicable": result.not_applicable,
        }
    ).encode()


def read_back(text: bytes, waves: PlainWaves | None = None) -> CaseResult:
    """CaseResult as it was written.

    Raises
    ------
    NotAResult
        If it is not one.

    Examples
    --------
    >>> found = CaseResult({"bus_mean_V": 0.1 + 0.2, "weakest_part": "bridge"}, {})
    >>> read_back(written(found)) == found
    True
    """
    try:
        row = _Row.model_validate_json(text)
    except ValidationError as error:
        detail = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(step) for step in detail["loc"])
        raise NotAResult(printable(f"{place}: {detail['msg']}")) from None
    except DeckRefused as refusal:
        raise NotAResult(printable(str(refusal))) from None
    return CaseResult(
        readings=row.readings,
        decks=row.decks,
        failure=Failure(*row.failure) if row.failure else None,
        waves=waves,
        cpu_s=row.cpu_s,
        engine_s=row.engine_s,
        runs=row.runs,
        how_run=row.how_run,
        not_applicable=row.not_applicable,
    )


def written_waves(waves: PlainWaves) -> bytes:
    """Names and lengths in one line of JSON, then the numbers of each vector; the store compresses it."""
    lengths = {label: {name: len(values) for name, values in row.items()} for label, row in waves.items()}
    numbers = [values.astype(_FLOAT).tobytes() for row in waves.values() for values in row.values()]
    return b"".join([json.dumps(lengths).encode(), b"\n", *numbers])


def waves_read_back(content: bytes) -> PlainWaves:
    """Waveforms as they were written.

    Raises
    ------
    NotAResult
        If they are not.

    Examples
    --------
    >>> waves = {"steady": {"time": np.array([0.0, 0.1]), "v(bus)": np.ones(2)}}
    >>> back = waves_read_back(written_waves(waves))
    >>> back["steady"]["time"].tolist()
    [0.0, 0.1]
    """
    head, _, body = content.partition(b"\n")
    try:
        lengths = _Lengths.model_validate_json(b'{"of":' + head + b"}").of
    except ValidationError:
        raise NotAResult("waves: expected names and lengths of vectors") from None
    if any("time" not in row or len(set(row.values())) != 1 for row in lengths.values()):
        raise NotAResult("waves: expected a time for every vector")
    if _FLOAT.itemsize * sum(sum(row.values()) for row in lengths.values()) != len(body):
        raise NotAResult("waves: expected as many numbers as their head says")
    numbers = np.frombuffer(body, _FLOAT).astype(np.float64)
    waves: dict[str, dict[str, Array]] = {}
    at = 0
    for label, row in lengths.items():
        for name, length in row.items():
            waves.setdefault(label, {})[name] = numbers[at : at + length]
            at += length
    return waves


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("expected printable characters")
    return text


def _passed(text: str) -> str:
    check_deck(text)
    return text


def _time(value: float) -> float:
    if not 0.0 <= value < math.inf:
        raise ValueError("expected a time")
    return value


_Id = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]{0,99}$")]
_Label = Annotated[str, Field(pattern=r"^[A-Za-z0-9+-][A-Za-z0-9 .,+-]{0,79}$")]
_Vector = Annotated[str, Field(pattern=r"^[A-Za-z@][A-Za-z0-9_@.()\[\]-]{0,79}$")]
_Text = Annotated[str, Field(max_length=1000), AfterValidator(_printable)]
_Deck = Annotated[str, AfterValidator(_passed)]
_Time = Annotated[float, AfterValidator(_time)]
_Words = Annotated[str, Field(max_length=_MOST_TEXT)]


class _Row(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    readings: dict[_Id, float | _Text]
    decks: dict[_Label, _Deck]
    failure: tuple[_Words, _Words] | None
    cpu_s: _Time
    engine_s: _Time
    runs: Annotated[int, Field(ge=0)]
    how_run: dict[_Label, _Text]
    not_applicable: _Text


class _Lengths(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    of: dict[_Label, dict[_Vector, Annotated[int, Field(ge=1)]]]
