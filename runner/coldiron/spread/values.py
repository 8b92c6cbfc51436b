"""Values of a lamp by their dotted keys: which may differ, by how much, and a lamp with other ones."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.describe import key_label, part_label, stand_in
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.model import Provenance, written_key
from coldiron.lamp.shapes import shapes
from coldiron.parts.part import Part
from coldiron.parts.tolerance import PRACTICE, Assumption, Tolerance
from coldiron.study.model import Study
from coldiron.study.spread import Spread
from coldiron.wording import one_nearest, printable

MAINS, AMBIENT = "mains", "ambient"
"""What of a spread is no value of a part."""
ROOM_K = 10.0
"""How far the room may be from that of the study where nobody says (our choice) [K]."""

_HEAT_PATHS = ("die_to_board", "string_to_board", "board_to_housing", "housing_to_ambient")
_OF_AREA = ("housing_area", "housing_emissivity")
_HEAT_READING = "temperatures of housing, board and die of the warm lamp"


def heat_tolerances(lamp: Lamp) -> Iterator[Tolerance]:
    """Thermal resistances: paste, screws, air."""
    for key in _heat_keys(lamp):
        yield Tolerance(
            key, 0.1 if key in _OF_AREA else 0.2, f"±20 %, of area or emissivity ±10 % ({PRACTICE})"
        )


def heat_assumptions(lamp: Lamp) -> Iterator[Assumption]:
    """Thermal resistances are guesses until the lamp has been warm on the bench."""
    for key in _heat_keys(lamp):
        least, most = (0.7, 1.3) if key in _OF_AREA else (0.4, 2.5)
        yield Assumption(key, least, most, _HEAT_READING)


def _heat_keys(lamp: Lamp) -> Iterator[str]:
    by_area = lamp.heat.housing_area_m2 is not None
    for key in _HEAT_PATHS:
        if key != "housing_to_ambient" or not by_area:
            yield key
    if by_area:
        yield from _OF_AREA


def mains_assumptions(lamp: Lamp) -> Iterator[Assumption]:
    """What is behind the socket: the reference impedance is higher than most."""
    source = "IEC 60725: 0.4 Ω and 0.25 Ω at 50 Hz is what 95 % of homes are below (from memory)"
    yield Assumption("resistance", 0.1, 3.0, "the mains voltage with and without a heater on it", source)
    yield Assumption("inductance", 0.1, 3.0, "the mains impedance, by a loop tester", source)


@dataclass(frozen=True)
class Value:
    """One number of a lamp by its dotted key; `number` is what it has, or what stands in for it."""

    key: str
    number: float
    provenance: Provenance
    following: bool
    """Whether it is unset, and follows from others by a rule of thumb."""

    @property
    def label(self) -> str:
        """What a person calls it."""
        return label_of(self.key)


def label_of(key: str) -> str:
    """What a person calls a value, a supply or a room.

    >>> label_of("reservoir.esr"), label_of("mains"), label_of("sinks.sense_resistor")
    ('reservoir ESR', 'mains', 'sinks sense resistor')
    """
    part, _, own = key.partition(".")
    return f"{part_label(part)} {key_label(own)}" if own else key


class Varied(NamedTuple):
    """Values of a lamp that are off together, by the same share of each.

    `members` are their dotted keys; `moves` values that go with one, and a factor besides; `spends` keys of
    tolerances that a lamp with values of its own has no more.
    """

    key: str
    ratio: float
    source: str
    members: tuple[str, ...] = ()
    moves: tuple[tuple[str, float], ...] = ()
    spends: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What a person calls it."""
        return label_of(self.key)


def tables(lamp: Lamp) -> dict[str, PartValues]:
    """Tables of numbers of a lamp by their keys, further parts by their names."""
    own = {name: part for name, part in lamp if isinstance(part, PartValues)}
    return own | {further.name: further.values for further in lamp.further}


def value_of(lamp: Lamp, key: str) -> Value | None:
    """A value by its dotted key, resolved; None where the lamp has none."""
    table, _, own = key.partition(".")
    values = tables(lamp).get(table)
    field = _fields(type(values)).get(own) if values is not None else None
    if values is None or field is None:
        return None
    number = getattr(values, field)
    following = number is None
    number = stand_in(values, own) if following else number
    if number is None or isinstance(number, bool) or not isinstance(number, int | float):
        return None
    return Value(key, float(number), values.provenance(own), following)


def with_values(lamp: Lamp, numbers: Mapping[str, float]) -> Lamp:
    """A lamp with other numbers, by dotted keys, whatever a file would allow.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> lamp = with_values(load_lamp("kerbside-flood"), {"film.capacitance": 47e-9, "sinks.count": 4.0})
    >>> value_of(lamp, "film.capacitance").number, value_of(lamp, "sinks.count").number
    (4.7e-08, 4.0)
    """
    changed: dict[str, dict[str, Any]] = {}
    for key, number in numbers.items():
        table, _, own = key.partition(".")
        model = type(tables(lamp)[table])
        whole = shapes(model)[own].kind is int
        changed.setdefault(table, {})[_fields(model)[own]] = round(number) if whole else number
    update: dict[str, Any] = {
        table: getattr(lamp, table).model_copy(update=new)
        for table, new in changed.items()
        if table in type(lamp).model_fields
    }
    if len(update) < len(changed):
        update["further"] = tuple(
            further.model_copy(update={"values": further.values.model_copy(update=changed[further.name])})
            if further.name in changed
            else further
            for further in lamp.further
        )
    return lamp.model_copy(update=update)


@cache
def _fields(model: type[PartValues]) -> dict[str, str]:
    """Names of a model's fields by their written keys."""
    return {written_key(name): name for name in model.model_fields}


def parts_of(lamp: Lamp) -> Iterator[tuple[str, Part]]:
    """Each table that a fitted part of the circuit was made from, once, and the part."""
    keys = {id(values): key for key, values in tables(lamp).items()}
    for part in lamp.circuit:
        key = keys.pop(id(part.values), None)
        if key is not None and part.works:
            yield key, part


def assumptions(lamp: Lamp, benches: Collection[str]) -> list[tuple[str, Assumption]]:
    """Values of a lamp that nobody has measured, by their dotted keys.

    One that the lamp file gives without saying where from is as doubtful as a typical one.
    """
    of_parts = [(f"{table}.{one.key}", one) for table, part in parts_of(lamp) for one in part.assumptions()]
    around = [(f"mains.{one.key}", one) for one in mains_assumptions(lamp)]
    heat = [(f"heat.{one.key}", one) for one in heat_assumptions(lamp)] if "heat" in benches else []
    found = []
    for key, one in (*around, *of_parts, *heat):
        value = value_of(lamp, key)
        if value is not None and value.number > 0.0 and value.provenance in ("typical", "given"):
            found.append((key, one))
    return found


def varied(lamp: Lamp, benches: Collection[str], spread: Spread) -> list[Varied]:
    """What differs between lamps of one drawing, the mains first.

    Parameters
    ----------
    lamp : Lamp
    benches : collection of str
        Heat paths count on the bench "heat" alone.
    spread : Spread
        What the study says of it.
    """
    found: dict[tuple[object, ...], Varied] = {}
    for table, one in _tolerances(lamp, benches):
        key = f"{table}.{one.key}"
        value = value_of(lamp, key)
        ratio = spread.tolerance.get(key, one.ratio)
        if value is None or value.number == 0.0:
            continue
        if key in spread.tolerance:
            one = one._replace(source="the study")
        together = (one.key, value.number, ratio) if one.of_a_reel else (key,)
        moves = tuple((f"{table}.{other}", factor) for other, factor in one.moves)
        spends = (f"{table}.{one.spends}",) if one.spends else ()
        before = found.get(together)
        if before is None:
            found[together] = Varied(key, ratio, one.source, (key,), moves, spends)
        else:
            found[together] = before._replace(
                members=(*before.members, key), moves=before.moves + moves, spends=before.spends + spends
            )
    around = [Varied(MAINS, spread.mains_ratio, "the study"), Varied(AMBIENT, 1.0, "the study")]
    return [one for one in (*around, *found.values()) if one.ratio > 0.0 or one.moves or one.spends]


def _tolerances(lamp: Lamp, benches: Collection[str]) -> Iterator[tuple[str, Tolerance]]:
    for table, part in parts_of(lamp):
        for one in part.tolerances():
            yield table, one
    if "heat" in benches:
        for one in heat_tolerances(lamp):
            yield "heat", one


def check_tolerances(study: Study, spread: Spread) -> None:
    """Refuse tolerances of values that have none in any variant.

    Raises
    ------
    FileProblems
        Naming each, with the nearest that exists.
    """
    known = {
        f"{table}.{one.key}"
        for variant in study.variants
        for table, one in _tolerances(variant.lamp, ("heat",))
    }
    problems = [
        Problem(
            f"study {study.name}",
            f"spread.tolerance.{printable(key)}",
            "an unknown value",
            "a value of the lamp that has a tolerance",
            one_nearest(key, sorted(known)),
        )
        for key in spread.tolerance
        if key not in known
    ]
    if problems:
        raise FileProblems(problems)


def text_of(lamp: Lamp, key: str, number: float, digits: int = 3) -> str:
    """A value as a person writes it.

    >>> from coldiron.lamp.load import load_lamp
    >>> text_of(load_lamp("kerbside-flood"), "film.capacitance", 1.2345e-7)
    '123 nF'
    """
    table, _, own = key.partition(".")
    return shapes(type(tables(lamp)[table]))[own].number(float(f"{number:.{digits}g}"))


def applied(lamp: Lamp, values: Collection[Varied], off: Callable[[Varied], float]) -> Lamp:
    """A lamp whose values are off, each by a share of its own tolerance (1 is all of it, upwards).

    The lamp with no value off is the nominal one: its varistor is the disc in the middle, and what a lamp
    file has of tolerances is spent.
    """
    numbers: dict[str, float] = {}
    for one in values:
        factor = 1.0 + one.ratio * off(one)
        for key, besides in (*((member, 1.0) for member in one.members), *one.moves):
            value = value_of(lamp, key)
            assert value is not None
            numbers[key] = float(f"{value.number * factor * besides:.6g}")
        numbers |= dict.fromkeys(one.spends, 0.0)
    return with_values(lamp, numbers)
