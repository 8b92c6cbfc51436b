"""Candidates of a diagnosis: how a lamp stands once a fault has come to its end.

A person meets the end and not the fault: a varistor that failed short has opened the fusing resistor before
it, and the lamp is dark. A fault whose severity can be any (a drift, a wear) is one candidate with several
severities.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Final

from coldiron.faults.catalogue import AND, HOUSING, SUPPLY, single_faults
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Part

HEALTHY: Final = "healthy"
NOTHING: Final = "nothing"
"""What the bench "fault" says where nothing opened."""
OR: Final = " or "
"""Between parts of which it cannot tell which opens first."""
SEVERITIES: Final = (0.5, 1.0, 1.5)
"""Shares of a gradual fault that stand for all of it where the catalogue has one degree of it."""
BREAKER_A: Final = 20.0
"""Current that opens the breaker of a house before long (a B10 to C16 passes 1.13 times its rating for an
hour; IEC 60898-1, from memory) [A]."""
NOT_IN_THE_LAMP: Final = (HOUSING, SUPPLY)
"""Faults of these move nothing that is measured between points of the lamp, or at its plug."""
_DEGREE = re.compile(r" ?[+-]\d+ %")


@dataclass(frozen=True)
class Breakage:
    """One part broken in one way of its kind; `share` is how much of a gradual change it has."""

    part: str
    way: str
    share: float | None = None

    def applied(self, lamp: Lamp) -> Lamp:
        """The lamp with this part broken."""
        if self.share is None:
            return lamp.with_faults((self.part, self.way))
        part = lamp.circuit[self.part]
        values = _between(part.values, _becomes(part)[self.way].values, self.share)
        return lamp.model_copy(update={self.part: values})


@dataclass(frozen=True)
class EndState:
    """One way in which a lamp can stand.

    `severities` are what is broken, one entry a severity, the openings that came of it last; `opened` names
    the parts that opened because of the fault; `dead_short` tells that something in it shorts the mains,
    though a part may have opened before it.
    """

    name: str
    severities: tuple[tuple[Breakage, ...], ...] = ((),)
    opened: tuple[str, ...] = ()
    dead_short: bool = False

    def lamps(self, lamp: Lamp) -> list[Lamp]:
        """The lamp in this state, one for each severity."""
        return [applied(lamp, broken) for broken in self.severities]

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts that are broken in it."""
        return tuple(dict.fromkeys(one.part for one in self.severities[0]))


def applied(lamp: Lamp, broken: Sequence[Breakage]) -> Lamp:
    """A lamp with some parts broken."""
    for one in broken:
        lamp = one.applied(lamp)
    return lamp


def candidates(lamp: Lamp) -> tuple[EndState, ...]:
    """The healthy lamp, and every single fault before anything has come of it.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> found = candidates(load_lamp("kerbside-flood"))
    >>> [state.name for state in found[:3]], [len(s.severities) for s in found if "degraded" in s.name]
    (['healthy', 'line_fusing open', 'line_fusing drifted'], [4])
    """
    found = {HEALTHY: EndState(HEALTHY)}
    for fault in single_faults(lamp):
        ((part, way),) = fault.pairs
        if part in NOT_IN_THE_LAMP:
            continue
        if not _gradual(lamp, part, way):
            found[fault.name] = EndState(fault.name, ((Breakage(part, way),),))
        else:
            name = f"{part} {_DEGREE.sub('', way).strip() or 'degraded'}"
            if name not in found:
                found[name] = EndState(name, tuple(_severities(lamp, part, way)))
    return tuple(found.values())


def followed(state: EndState, end: Mapping[str, float | str], *, dead_short: bool) -> EndState:
    """The state at the end of what a fault brings about.

    Parameters
    ----------
    state : EndState
        A single fault.
    end : mapping
        Readings of the bench "fault", which followed it; without what was left where it gave no answer.
    dead_short : bool
        Whether it shorts the mains before anything has opened.
    """
    left = str(end.get("end_left", NOTHING))
    if left == NOTHING:
        return replace(state, dead_short=dead_short)
    gone = str(end.get("end_opened", NOTHING)).split("; ")
    ways = [pair.split(" ", 1) for pair in left.split(AND)]
    # Of parts that open as soon as each other any may be the one.
    steps = [
        [Breakage(name if OR in names else part, way) for name in names.split(OR)]
        for names, (part, way) in zip(gone, ways, strict=True)
    ]
    return replace(
        state,
        name=f"{state.name} with {' and '.join(gone)} opened",
        severities=tuple((*broken, *more) for broken in state.severities for more in product(*steps)),
        opened=tuple(dict.fromkeys(one.part for step in steps for one in step)),
        dead_short=dead_short,
    )


def _severities(lamp: Lamp, part: str, way: str) -> Iterator[tuple[Breakage, ...]]:
    """Degrees of a gradual fault as shares of the worst that the catalogue has."""
    whole, modes = lamp.circuit[part], _becomes(lamp.circuit[part])
    alike = [word for word in modes if _DEGREE.sub("", word) == _DEGREE.sub("", way)]
    changes = {word: _change(whole.values, modes[word].values) for word in alike}
    worst = max(changes, key=lambda word: changes[word])
    shares = [change / changes[worst] for change in changes.values()]
    for share in shares if len(shares) > 1 else SEVERITIES:
        yield (Breakage(part, worst, share),)


def _gradual(lamp: Lamp, part: str, way: str) -> bool:
    """Whether a fault is only a change of numbers which stand in a table of the lamp of that name."""
    if part not in lamp.circuit:
        return False
    whole = lamp.circuit[part]
    broken = _becomes(whole)[way]
    if type(broken) is not type(whole):
        return False
    changed = _changed(whole.values, broken.values)
    return (
        broken.works
        and getattr(lamp, part, None) is whole.values
        and bool(changed)
        and any(_is_number(whole.values, name) for name in changed)
        and all(_is_number(whole.values, name) or getattr(whole.values, name) is None for name in changed)
    )


def _becomes(part: Part) -> dict[str, Part]:
    return {mode.word: mode.becomes for mode in part.failures()}


def _changed(whole: PartValues, broken: PartValues) -> list[str]:
    return [name for name in type(whole).model_fields if getattr(whole, name) != getattr(broken, name)]


def _is_number(values: Any, name: str) -> bool:
    return isinstance(getattr(values, name), float)


def _change(whole: PartValues, broken: PartValues) -> float:
    """Largest change of a value, as a share of it."""
    numbers = [name for name in _changed(whole, broken) if _is_number(whole, name)]
    return max(abs(float(getattr(broken, name) / getattr(whole, name)) - 1.0) for name in numbers)


def _between(whole: PartValues, broken: PartValues, share: float) -> PartValues:
    """Values a share of the way from those of a whole part to those of a broken one.

    They go in equal ratios: half of the way to a tenth is a third, and no share of it is below zero.
    """
    update: dict[str, Any] = {}
    for name in _changed(whole, broken):
        before, after = getattr(whole, name), getattr(broken, name)
        update[name] = before * (after / before) ** share if isinstance(before, float) else after
    return whole.model_copy(update=update)
