"""What a person found, from flags or from a small TOML file, or one line for each mistake in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import Field

from coldiron.diagnosis.look import CONTRADICTIONS, SYMPTOMS, Seen
from coldiron.diagnosis.measurable import KINDS, Kind, Measurable, measurables
from coldiron.diagnosis.rank import Findings, Found
from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Closed, Name
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import understand
from coldiron.parts.part import MINUS
from coldiron.quantities import NotUnderstood, Ratio
from coldiron.wording import as_written, one_nearest, one_of, printable

OPEN_WORDS: Final = ("open", "infinite", "OL")
SHORT_WORDS: Final = ("short",)


class ReadingEntry(Closed):
    """One reading on the broken lamp; `of` a part, or `between` two points, where it has a place.

    `value` is in the unit of `what`; a resistance may also be "open" or "short". `tolerance_ratio` is that of
    the meter; unset, that of a plain one.
    """

    what: Literal[
        "input power",
        "input current",
        "mains voltage",
        "voltage",
        "resistance",
        "capacitance",
        "string test",
        "diode test",
    ]
    value: Any
    of: Name | None = None
    between: Annotated[tuple[Name, ...], Field(min_length=2, max_length=2)] | None = None
    tolerance_ratio: Annotated[Ratio, Field(ge=1e-4, le=0.5)] | None = None


class FindingsFile(Closed):
    """Readings and symptoms of a broken lamp; `discoloured` is a part that is burnt, brown or swollen."""

    symptoms: Annotated[tuple[Name, ...], Field(max_length=20)] = ()
    discoloured: Name | None = None
    reading: Annotated[tuple[ReadingEntry, ...], Field(max_length=100)] = ()


@dataclass(frozen=True)
class Entered:
    """One reading as it was entered; `file` and `key` say where it stands, or which flag it was."""

    file: str
    key: str
    what: str
    value: Any
    where: tuple[str, ...] = ()
    tolerance_ratio: float | None = None

    def problem(self, value: object, expected: str, nearest: str = "", field: str = "value") -> Problem:
        """What is wrong with it."""
        key = f"{self.key}.{field}" if self.key.startswith("reading") else self.key
        return Problem(self.file, key, as_written(value), expected, nearest)


def read_file(path: Path) -> tuple[list[Entered], list[str], str]:
    """Readings, symptoms and the discoloured part of a TOML file.

    Raises
    ------
    FileProblems
        With everything that is wrong in the file.
    """
    problems: list[Problem] = []
    table = read_toml(path, what="readings and symptoms")
    found = understand(FindingsFile, table, str(path), problems)
    if found is None:
        raise FileProblems(problems)
    file = printable(str(path))
    entered = [
        Entered(
            file,
            f"reading[{number}]",
            one.what,
            one.value,
            one.between or ((one.of,) if one.of else ()),
            one.tolerance_ratio,
        )
        for number, one in enumerate(found.reading, start=1)
    ]
    return entered, list(found.symptoms), found.discoloured or ""


def findings(
    lamp: Lamp,
    entered: Sequence[Entered],
    symptoms: Sequence[str] = (),
    discoloured: str = "",
    *,
    file: str = "diagnose",
) -> Findings:
    """Findings on a lamp, from what was entered.

    Parameters
    ----------
    lamp : Lamp
    entered : sequence of Entered
    symptoms : sequence of str
        Words of `SYMPTOMS`.
    discoloured : str
        Name of a part; empty where none is known.
    file : str
        Where the symptoms stand, for their problems.

    Raises
    ------
    FileProblems
        With all that is unknown, contradicts itself, or is about a part that the lamp lacks.
    """
    problems: list[Problem] = []
    every = measurables(lamp)
    readings = tuple(found for one in entered if (found := _found(lamp, every, one, problems)) is not None)
    problems += _unknown_symptoms(symptoms, file)
    problems += _contradictions(symptoms, file)
    if discoloured and (discoloured not in lamp.circuit or not lamp.circuit[discoloured].shown):
        names = [part.name for part in lamp.circuit if part.shown]
        nearest = one_nearest(discoloured, names)
        expected = f"a part of this lamp ({one_of(names)})"
        problems.append(Problem(file, "discoloured", as_written(discoloured), expected, nearest))
    if not problems:
        problems += _impossible(every, readings, entered)
    if not problems and not readings and not symptoms and not discoloured:
        problems.append(
            Problem(file, "", "", "a reading or a symptom: watts, ohms of a part, or what it does")
        )
    if problems:
        raise FileProblems(problems)
    words = dict.fromkeys([*symptoms, *(["part discoloured"] if discoloured else [])])
    name = lamp.circuit[discoloured].name if discoloured else ""
    return Findings(readings, Seen(tuple(words), name))


def _found(lamp: Lamp, every: Sequence[Measurable], one: Entered, problems: list[Problem]) -> Found | None:
    kind = KINDS[one.what]
    places = _places(lamp, every, kind, one)
    if not places:
        written, expected, nearest = _no_place(lamp, every, kind, one)
        problems.append(one.problem(written, expected, nearest, "between" if len(one.where) == 2 else "of"))
        return None
    try:
        value = _value(kind, one.value)
    except NotUnderstood as wrong:
        problems.append(one.problem(one.value, wrong.expected, wrong.nearest))
        return None
    if not kind.logarithmic and not kind.least <= value <= kind.most:
        expected = f"between {kind.unit.format(kind.least)} and {kind.unit.format(kind.most)}"
        problems.append(one.problem(one.value, expected))
        return None
    return Found(places[0], value, one.tolerance_ratio)


def _value(kind: Kind, written: object) -> float:
    if isinstance(written, str) and kind.danger == "unplugged":
        word = written.strip().casefold()
        if word in [open_word.casefold() for open_word in OPEN_WORDS]:
            return kind.least if kind.what == "capacitance" else kind.most
        if word in SHORT_WORDS:
            return kind.most if kind.what == "capacitance" else kind.least
    value = kind.unit.parse(written)
    if kind.logarithmic and value < 0.0:
        raise NotUnderstood(f"{kind.unit.expected}, not below zero")
    return value


def _places(lamp: Lamp, every: Sequence[Measurable], kind: Kind, one: Entered) -> list[int]:
    """Measurements of a kind that an entry may mean."""
    own = [(place, each) for place, each in enumerate(every) if each.kind is kind]
    if not one.where:
        # Where there is one place only nobody has to name it.
        return [place for place, _ in own] if len(own) == 1 else []
    names = [name.casefold() for name in one.where]
    found = []
    for place, each in own:
        points = [point.casefold() for point in each.where]
        parts = [part.casefold() for part in each.parts]
        if (
            (len(names) == 2 and sorted(names) == sorted(points))
            or (len(names) == 1 and (names[0] in parts or names == points))
            or (len(names) == 1 and kind.what == "voltage" and points == [names[0], MINUS])
        ):
            found.append(place)
    return found


def _no_place(lamp: Lamp, every: Sequence[Measurable], kind: Kind, one: Entered) -> tuple[str, str, str]:
    own = [each for each in every if each.kind is kind]
    parts = list(dict.fromkeys(part for each in own for part in each.parts))
    points = [each.where[0] for each in own if each.where]
    names = points if kind.what == "voltage" else parts
    written = " to ".join(one.where)
    if not own:
        return written, f"no {kind.what}: this lamp has nothing to take it of", ""
    if not one.where:
        return "", f"where it was taken: {one_of(names)}", ""
    if len(one.where) == 1:
        at = "a point" if kind.what == "voltage" else "a part"
        return written, f"{at} of this lamp that has one ({one_of(names)})", one_nearest(one.where[0], names)
    pairs = [f"{each.where[0]} to {each.where[1]}" for each in own if len(each.where) == 2]
    return written, f"two points of this lamp ({one_of(pairs)})" if pairs else "the name of a part", ""


def _unknown_symptoms(symptoms: Sequence[str], file: str) -> Iterator[Problem]:
    for symptom in symptoms:
        if symptom not in SYMPTOMS:
            nearest = one_nearest(symptom, SYMPTOMS)
            yield Problem(file, "symptom", as_written(symptom), one_of(SYMPTOMS), nearest)


def _contradictions(symptoms: Sequence[str], file: str) -> Iterator[Problem]:
    for one, other in combinations(dict.fromkeys(symptoms), 2):
        why = CONTRADICTIONS.get(frozenset((one, other)))
        if why is not None:
            value = f"{as_written(one)} and {as_written(other)}"
            yield Problem(file, "symptom", value, f"one of the two: {why}")


def _impossible(
    every: Sequence[Measurable], readings: Sequence[Found], entered: Sequence[Entered]
) -> Iterator[Problem]:
    """Readings that no lamp gives together: one twice and not alike, watts above volt-amperes."""
    for (one, first), (other, again) in combinations(zip(readings, entered, strict=True), 2):
        if one.place == other.place:
            kind = every[one.place].kind
            a, b = (kind.scaled(found.value) for found in (one, other))
            ratios = [found.tolerance_ratio for found in (one, other)]
            if abs(a - b) > 3.0 * sum(kind.spread(x, r) for x, r in zip((a, b), ratios, strict=True)):
                name = every[one.place].name
                yield again.problem(
                    again.value, f"{name} once, or twice alike: it was {as_written(first.value)} before"
                )
    values = {
        every[found.place].kind.what: (found, one) for found, one in zip(readings, entered, strict=True)
    }
    if {"input power", "input current", "mains voltage"} <= values.keys():
        (power, entry), (current, _), (mains, _) = (
            values[what] for what in ("input power", "input current", "mains voltage")
        )
        most_w = mains.value * current.value
        slack_w = sum(share * most_w for share in (0.02, 0.02, 0.005)) + 0.3 + 2e-3 * mains.value
        if power.value > most_w + slack_w:
            text = f"at most {every[power.place].kind.text(most_w)}: volts times amperes as read"
            yield entry.problem(entry.value, text)


def mains_of(lamp: Lamp, found: Findings) -> float:
    """Mains to compute on [V].

    They are those of the lamp, or as read where they are further off than mains commonly are.
    """
    every = measurables(lamp)
    for one in found.readings:
        if every[one.place].kind.what == "mains voltage":
            off = abs(one.value / lamp.mains.voltage_v - 1.0)
            return float(round(one.value)) if off > 0.04 else lamp.mains.voltage_v
    return lamp.mains.voltage_v


FLAGS: Final = {
    "watts": "input power",
    "amperes": "input current",
    "mains": "mains voltage",
    "volts": "voltage",
    "ohms": "resistance",
    "farads": "capacitance",
    "led-volts": "string test",
    "diode-volts": "diode test",
}
"""Flags of the command line that give a reading, and of which kind."""


def entries_of(flags: Mapping[str, Sequence[str] | str | None]) -> list[Entered]:
    """Readings that flags of the command line give, by the flag's name.

    Parameters
    ----------
    flags : mapping
        "watts", "amperes" and "mains" to a value; "volts", "ohms", "farads", "led-volts" and "diode-volts" to
        texts such as "line_fusing=4R7" or "bus-minus=open".

    Raises
    ------
    FileProblems
        If a text has no place or no value.
    """
    found, problems = [], []
    for flag, what in FLAGS.items():
        given = flags.get(flag)
        for text in [given] if isinstance(given, str) else given or ():
            place, equals, value = text.rpartition("=")
            at_plug = KINDS[what].danger == "plug"
            if bool(equals and place) == at_plug:
                expected = "a value" if at_plug else "a place and a value: line_fusing=4R7 or bus-minus=open"
                problems.append(Problem(f"--{flag}", "", as_written(text), expected))
                continue
            where = tuple(part.strip() for part in place.split("-")) if place else ()
            found.append(Entered(f"--{flag}", "", what, value.strip(), where))
    if problems:
        raise FileProblems(problems)
    return found
