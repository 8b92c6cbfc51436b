"""The small language of claims: what is said of a run, found in the run.

    bus voltage at 0.5 µs                      a vector at a moment, by straight lines
    highest bus voltage, lowest bus voltage    of the whole run
    mean string current                        over the whole run, by its instants
    first time varistor current above 1 mA     when, from 0 on
    varistor voltage when varistor current above 1 mA
    string energy                              of a part: its power over the run
    reading surge_sink_peak_A                  a reading by its id
    lamp film.voltage                          a value of the lamp, as its file or the run's change says
    A over B                                   the ratio of two of these
    found reading ...                          any of these of another run, by its name

Vectors have the names of `coldiron.strips.vectors`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from coldiron.errors import NotApplicable, Problem
from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.shapes import shapes
from coldiron.lessons.model import NAMED, Claim, Lesson, Step
from coldiron.lessons.record import Recorded
from coldiron.quantities import AMPERE, JOULE, RATIO, SECOND, VOLT, WATT, NotUnderstood, Unit
from coldiron.readings.catalogue import kind_of
from coldiron.readings.figures import figure
from coldiron.strips.vectors import unit_of
from coldiron.study.apply import written_values

_UNITS: Mapping[str, Unit] = {"V": VOLT, "A": AMPERE, "W": WATT, "J": JOULE, "s": SECOND, "%": RATIO}
_AT = re.compile(r"(?P<name>.+) at (?P<moment>-?[0-9.]+ ?[µmn]?s)")
_FIRST = re.compile(r"first time (?P<name>.+) above (?P<level>.+)")
_WHEN = re.compile(r"(?P<name>.+) when (?P<other>.+) above (?P<level>.+)")
_PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
_EXTREMES = {"highest": np.max, "lowest": np.min}


class Found(NamedTuple):
    """A value in SI units, or in the reading's own, and its unit's symbol ("" for a plain number)."""

    value: float
    unit: str


class Unsayable(Exception):
    """A claim whose words mean nothing, or not for this run."""


def found(words: str, runs: Mapping[str, Recorded], run: str) -> Found:
    """Value of a claim's words in a run.

    Parameters
    ----------
    words : str
    runs : mapping
        Every run of the lesson by name.
    run : str
        The one that is meant where the words name none.

    Raises
    ------
    Unsayable
        If they mean nothing.
    """
    words = " ".join(words.split())
    if " over " in words:
        above, _, below = words.partition(" over ")
        one, other = found(above, runs, run), found(below, runs, run)
        if one.unit != other.unit:
            raise Unsayable(f"{one.unit} over {other.unit}")
        return Found(one.value / other.value, "")
    first, _, rest = words.partition(" ")
    if first in runs and rest:
        return _of(rest, runs[first])
    return _of(words, runs[run])


def _of(words: str, recorded: Recorded) -> Found:
    first, _, rest = words.partition(" ")
    if first == "reading":
        value = recorded.readings.get(rest)
        if not isinstance(value, float):
            raise Unsayable(f"no number {rest} in this run")
        return Found(value, kind_of(rest).unit)
    if first == "lamp" and "." in rest and " " not in rest:
        return _lamp_value(rest, recorded)
    try:
        if first in _EXTREMES:
            return Found(float(_EXTREMES[first](recorded.vector(rest))), unit_of(rest))
        if first == "mean":
            return Found(recorded.window.mean(recorded.vector(rest)), unit_of(rest))
        if match := _FIRST.fullmatch(words):
            return Found(_first_s(recorded, match["name"], match["level"]), "s")
        if match := _WHEN.fullmatch(words):
            at_s = _first_s(recorded, match["other"], match["level"])
            return Found(_at(recorded, match["name"], at_s), unit_of(match["name"]))
        if match := _AT.fullmatch(words):
            return Found(_at(recorded, match["name"], SECOND.parse(match["moment"])), unit_of(match["name"]))
        if words.endswith(" energy"):
            power_w = recorded.vector(f"{words.removesuffix(' energy')} power")
            return Found(float(np.trapezoid(power_w, recorded.window.time_s)), "J")
    except Unsayable:
        raise
    except (NotApplicable, NotUnderstood, KeyError, NotImplementedError) as error:
        raise Unsayable(str(error) or type(error).__name__) from None
    raise Unsayable(f'"{words}" is no claim')


def _at(recorded: Recorded, name: str, at_s: float) -> float:
    time_s = recorded.window.time_s
    if not time_s[0] <= at_s <= time_s[-1]:
        raise Unsayable(f"{at_s:g} s is outside of the run")
    return float(np.interp(at_s, time_s, recorded.vector(name)))


def _first_s(recorded: Recorded, name: str, level: str) -> float:
    """First moment from 0 on at which a vector passes a level upwards [s]."""
    limit = _UNITS[unit_of(name)].parse(level)
    time_s, values = recorded.window.time_s, recorded.vector(name)
    inside = time_s >= 0.0
    time_s, values = time_s[inside], values[inside]
    over = np.flatnonzero(values > limit)
    if not len(over):
        raise Unsayable(f"{name} never passes {level}")
    n = int(over[0])
    if n == 0:
        return float(time_s[0])
    share = (limit - values[n - 1]) / (values[n] - values[n - 1])
    return float(time_s[n - 1] + share * (time_s[n] - time_s[n - 1]))


def _lamp_value(key: str, recorded: Recorded) -> Found:
    part, _, field = key.partition(".")
    values = getattr(recorded.lamp, part, None)
    value = None if not isinstance(values, PartValues) else written_values(values).get(field)
    if not isinstance(value, int | float):
        raise Unsayable(f"the lamp gives no {key}")
    assert isinstance(values, PartValues)
    unit = shapes(type(values))[field].unit
    return Found(float(value), unit.symbol if unit else "")


def said(value: Found) -> str:
    """A value as a text says it.

    Examples
    --------
    >>> said(Found(0.0879, "A")), said(Found(325.27, "V")), said(Found(5.6, "")), said(Found(3.9e-7, "s"))
    ('87.9 mA', '325 V', '5.6', '390 ns')
    """
    if value.unit in ("V", "A", "W", "J", "s", "F", "Ω"):
        scaled, prefix = value.value, ""
        for size, letter in (
            (1e6, "M"),
            (1e3, "k"),
            (1.0, ""),
            (1e-3, "m"),
            (1e-6, "µ"),
            (1e-9, "n"),
            (1e-12, "p"),
        ):
            if abs(value.value) >= 0.9995 * size:
                scaled, prefix = value.value / size, letter
                break
        if prefix == "k" and value.unit == "V":
            scaled, prefix = value.value, ""
        return f"{_short(scaled)} {prefix}{value.unit}"
    return f"{_short(value.value)}{'' if value.unit == '°' else ' '}{value.unit}".rstrip()


def _short(value: float) -> str:
    text = figure(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


def told(text: str, step: Step, runs: Mapping[str, Recorded]) -> str:
    """A text of a step with the figures that the runs give."""
    values = {claim.name: found(claim.value, runs, step.run) for claim in step.claim if claim.name}
    return NAMED.sub(lambda name: said(values[name[1]]), text)


def check(lesson: Lesson, runs: Mapping[str, Recorded], file: str) -> list[Problem]:
    """Everything that a lesson says and its runs do not give."""
    problems = []
    for number, step in enumerate(lesson.step, 1):
        for claim in step.claim:
            key = f"step[{number}], {step.name}: {claim.value}"
            try:
                value = found(claim.value, runs, step.run)
                problems += [Problem(file, key, said(value), wanted) for wanted in _missed(claim, value)]
            except (Unsayable, NotUnderstood, KeyError, ZeroDivisionError) as why:
                problems.append(Problem(file, key, "", f"a claim that the run can answer ({why})"))
    return problems


def _missed(claim: Claim, value: Found) -> list[str]:
    """What a claim wants and a value does not give."""
    missed = []
    if claim.gives is not None:
        wanted, within = _read(claim.gives, value.unit), claim.within_ratio
        if not abs(value.value - wanted) <= within * abs(wanted):
            missed.append(f"{claim.gives} within {RATIO.format(claim.within_ratio)}")
    if claim.above is not None and not value.value > _read(claim.above, value.unit):
        missed.append(f"above {claim.above}")
    if claim.below is not None and not value.value < _read(claim.below, value.unit):
        missed.append(f"below {claim.below}")
    return missed


def _read(written: str, unit: str) -> float:
    """A written figure in the unit of what was found."""
    if unit in ("V", "A", "W", "J", "s"):
        return _UNITS[unit].parse(written)
    number = re.match(r"\s*(-?[0-9.]+)\s*", written)
    if number is None:
        raise NotUnderstood("a figure")
    scale = {"mΩ": 1e-3, "kΩ": 1e3, "MΩ": 1e6, "nF": 1e-9, "µF": 1e-6, "pF": 1e-12, "mF": 1e-3}
    rest = written[number.end() :].strip()
    if rest and rest != unit and rest not in scale:
        raise NotUnderstood(f"a figure in {unit or 'plain numbers'}")
    return float(number[1]) * scale.get(rest, 1.0)
