"""The marking on a varistor's disc: "07D431K" is 7 mm, 430 V at 1 mA and ±10 %, a row of a catalogue."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from typing import NamedTuple

from coldiron.resources import resource_dir
from coldiron.wording import one_of

TOLERANCES = {"J": 0.05, "K": 0.10, "L": 0.15, "M": 0.20}
"""Letters of IEC 60062, and L, which varistors have beside them."""
_CATALOGUE_TOLERANCE = 0.10

_DIAMETER_FIRST = re.compile(r"(?P<mm>[0-9]{1,2})[ -]?D?[ -]?(?P<code>[0-9]{3})(?P<letter>[A-Z])?")
_VOLTAGE_FIRST = re.compile(r"(?P<code>[0-9]{3})(?P<letter>[A-Z])?(?:[ -]?D?[ -]?(?P<mm>[0-9]{1,2}))?")


class VaristorClass(NamedTuple):
    """One row of the catalogue: nominal disc at 1 mA, a.c. rating, clamping voltage at ±10 % [V]."""

    one_milliamp_voltage_v: float
    ac_rating_v: float
    clamping_voltage_v: float


class Marked(NamedTuple):
    """What a marking says; a diameter that it does not say is None."""

    diameter_m: float | None
    one_milliamp_voltage_v: float
    ac_rating_v: float
    clamping_voltage_v: float
    tolerance_ratio: float


@cache
def varistor_classes() -> tuple[VaristorClass, ...]:
    """Classes of the catalogue file, by rising voltage."""
    path = resource_dir("variants") / "catalogue" / "varistor-classes.toml"
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["class"]
    return tuple(
        VaristorClass(
            float(row["one_milliamp_voltage"]), float(row["ac_rating"]), float(row["clamping_voltage"])
        )
        for row in rows
    )


def marked(marking: str, diameters_m: tuple[float, ...]) -> Marked:
    """What the marking of a disc stands for.

    Three digits are the voltage at 1 mA: two figures and a power of ten; the letter behind them is its
    tolerance (K, ±10 %, where there is none), the number before, or at the end, the diameter in millimetres.
    The clamping voltage is that of the disc at the upper end of its tolerance, so that a wider one raises it.

    Parameters
    ----------
    marking : str
    diameters_m : tuple of float
        Diameters there are [m].

    Raises
    ------
    ValueError
        Saying what was expected.

    Examples
    --------
    >>> tuple(marked("07D431K", (7e-3, 14e-3)))
    (0.007, 430.0, 275.0, 710.0, 0.1)
    >>> marked("471K", (7e-3,)).diameter_m is None
    True
    """
    text = marking.strip().upper()
    found = _DIAMETER_FIRST.fullmatch(text) or _VOLTAGE_FIRST.fullmatch(text)
    if found is None or (found["letter"] or "K") not in TOLERANCES:
        raise ValueError(
            "a disc's marking: diameter, three digits and a letter for the tolerance "
            f"({one_of(TOLERANCES)}), such as 07D431K"
        )
    volts = float(found["code"][:2]) * 10.0 ** int(found["code"][2])
    row = next((row for row in varistor_classes() if row.one_milliamp_voltage_v == volts), None)
    if row is None:
        codes = [f"{row.one_milliamp_voltage_v / 10:.0f}1" for row in varistor_classes()]
        raise ValueError(
            f"three digits of a class for mains ({one_of(codes)}), two figures and a power of ten"
        )
    diameter_m = None if found["mm"] is None else int(found["mm"]) / 1000.0
    if diameter_m is not None and all(abs(diameter_m - known) > 1e-6 for known in diameters_m):
        millimetres = one_of(f"{known * 1e3:g}" for known in diameters_m)
        raise ValueError(f"a diameter of {millimetres} mm before the three digits")
    tolerance = TOLERANCES[found["letter"] or "K"]
    clamping_v = row.clamping_voltage_v * (1.0 + tolerance) / (1.0 + _CATALOGUE_TOLERANCE)
    return Marked(diameter_m, volts, row.ac_rating_v, clamping_v, tolerance)
