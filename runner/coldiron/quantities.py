"""Quantities as the trade writes them: "4k7", "47 µF", "230 V", "5 %", "-2 mV/K"; SI floats inside.

Number and prefix are read by quantiphy, codes of the "4k7" kind (IEC 60062) by rkm-codes. Both are lenient
("1,5" is 15 to the one, "4k7k" is 4.7k to the other), so a strict pattern stands in front of each.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema
from quantiphy import Quantity
from rkm_codes import from_rkm

_LONGEST_TEXT = 40
_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_PLAIN = re.compile(rf"(?P<number>{_NUMBER})(?:[eE][+-]?[0-9]{{1,3}}| ?(?P<prefix>[A-Za-z]))?")
_CODE = re.compile(r"(?P<sign>[+-]?)(?P<code>[0-9]*(?P<letter>[A-Za-z])[0-9]+)")


class NotUnderstood(ValueError):
    """A written value that is not what its key needs; says what was expected and the nearest that fits."""

    def __init__(self, expected: str, nearest: str = "") -> None:
        self.expected = expected
        self.nearest = nearest
        super().__init__(expected)


@cache
def _writer(prefixes: str) -> type[Quantity]:
    """Quantiphy's quantity with preferences of its own, so that nobody else's are touched."""

    class Writer(Quantity):
        pass

    Writer.set_prefs(map_sf=Quantity.map_sf_to_greek, output_sf=prefixes, spacer=" ")
    return Writer


@dataclass(frozen=True)
class Unit:
    """One unit: how it is written, and how it is read back.

    Placed in an `Annotated` type it makes a pydantic field accept trade notation.

    Parameters
    ----------
    symbol : str
        As printed for people.
    quantity : str
        What it measures, with its article ("a resistance").
    example : str
        A well-written value.
    prefixes : str
        SI prefixes that may stand before the unit.
    spellings : mapping of str to float
        Further ways to write the unit, each with its size in the base unit.
    code_letter : str
        Letter that stands for the decimal point in IEC 60062 codes ("R" in "2R2"); empty if codes are not
        written for this quantity.
    scale : float
        Size of `symbol` in the base unit (0.01 for "%").
    """

    symbol: str
    quantity: str
    example: str
    prefixes: str = ""
    spellings: Mapping[str, float] = field(default_factory=dict, hash=False)
    code_letter: str = ""
    scale: float = 1.0

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let pydantic read the text before it checks the number."""
        return core_schema.no_info_before_validator_function(self.parse, handler(source))

    @property
    def expected(self) -> str:
        """What a person should have written."""
        return f"{self.quantity}, such as {self.example}"

    def parse(self, written: object) -> float:
        """Value in the base unit of a written quantity.

        Parameters
        ----------
        written : str, int or float
            Trade notation, or a bare number in the base unit.

        Raises
        ------
        NotUnderstood
            If it is not this quantity, or not finite.

        Examples
        --------
        >>> OHM.parse("4k7"), FARAD.parse("47 µF"), RATIO.parse("5 %"), HENRY.parse(0.001)
        (4700.0, 4.7e-05, 0.05, 0.001)
        """
        if isinstance(written, str):
            text = _normalised(written)
            value = self._read(text)
            if value is None or (self.symbol == "F" and _capacitor_mark(text) is not None):
                raise NotUnderstood(self.expected, self._nearest(text))
        elif isinstance(written, int | float) and not isinstance(written, bool):
            try:
                value = float(written)
            except OverflowError:
                raise NotUnderstood(f"a finite number, such as {self.example}") from None
            if self.symbol == "F" and isinstance(written, int) and _capacitor_mark(str(written)) is not None:
                raise NotUnderstood(self.expected, self._nearest(str(written)))
        else:
            raise NotUnderstood(self.expected)
        if not math.isfinite(value):
            raise NotUnderstood(f"a finite number, such as {self.example}")
        return value

    def _read(self, text: str) -> float | None:
        """Value of normalised text, or None."""
        units = {_normalised(self.symbol): self.scale, **self.spellings}
        number, size = text, 1.0
        for spelling in sorted(units, key=len, reverse=True):
            if text.endswith(spelling):
                number, size = text.removesuffix(spelling).rstrip(), units[spelling]
                break
        plain = _PLAIN.fullmatch(number)
        if plain and (plain["prefix"] is None or plain["prefix"] in self.prefixes):
            return float(Quantity(number)) * size
        code = _CODE.fullmatch(number)
        if code and self.code_letter and code["letter"] in self.prefixes + self.code_letter:
            return math.copysign(float(from_rkm(code["code"])), -1 if code["sign"] == "-" else 1)
        return None

    def _nearest(self, text: str) -> str:
        """Try a point for a comma, the unit in its right case, and what labels and old prints write."""
        marked = _capacitor_mark(text) if self.symbol == "F" else None
        if marked is not None:
            return self.format(marked)
        tries = []
        for bare in dict.fromkeys((text, _undressed(text, tolerance=self.symbol != "%"))):
            tries += [bare] if re.search(r",[0-9]{3}(?![0-9])", bare) else [bare.replace(",", ".")]
            tries += [old.sub(new, bare) for old, new in _OLD_PRINTS.get(self.symbol, ())]
            for spelling in (_normalised(self.symbol), *self.spellings):
                if bare.lower().endswith(spelling.lower()):
                    tries.append(bare[: len(bare) - len(spelling)] + spelling)
        return next((self._nicely(t) for t in tries if self._read(t) is not None), "")

    def _nicely(self, text: str) -> str:
        """A text that can be read, with its unit and a space before it."""
        value = self._read(text)
        assert value is not None
        plain = re.fullmatch(rf"({_NUMBER}) ?([A-Za-z°Ω/%²]+)", text)
        if plain and self.symbol not in text:
            return self.format(value)
        return (f"{plain[1]} {plain[2]}" if plain else text).replace("u", "µ")

    def format(self, value: float, digits: int = 7) -> str:
        """Write a value for people; with seven digits `parse` reads it back within 1e-6.

        Examples
        --------
        >>> FARAD.format(4.7e-05), OHM.format(4700), RATIO.format(0.05), CELSIUS.format(85)
        ('47 µF', '4.7 kΩ', '5 %', '85 °C')
        """
        if self.prefixes:
            return _prefixed("".join(p for p in self.prefixes if p not in "Kc"), value, self.symbol, digits)
        space = "" if self.symbol == "°" else " "
        return f"{value / self.scale:.{digits}g}{space}{self.symbol}"


@lru_cache(maxsize=4096)
def _prefixed(prefixes: str, value: float, symbol: str, digits: int) -> str:
    """Write a value with one of some prefixes; the tables of a study write few values many times."""
    return str(_writer(prefixes)(value, symbol).render(prec=digits - 1))


_DRESS = re.compile(r"(?<=[VAa-z0-9]) ?(?:AC|DC|ac|dc|a\.c\.|d\.c\.|rms|RMS|eff|~|=)$")
_TOLERANCE = re.compile(r" ?(?:±|\+/-|\+-)? ?[0-9]+(?:\.[0-9]+)? ?%$")
_OLD_PRINTS: dict[str, tuple[tuple[re.Pattern[str], str], ...]] = {
    "F": (
        (re.compile(r" ?(?:mmfd|uufd|mmf|uuf|pfd)$", re.IGNORECASE), " pF"),
        (re.compile(r" ?(?:mfd|ufd|mf)$", re.IGNORECASE), " uF"),
    ),
    "V": ((re.compile(r" ?volts?$", re.IGNORECASE), " V"),),
    "A": ((re.compile(r" ?MA$"), " mA"), (re.compile(r" ?amp(?:ere)?s?$", re.IGNORECASE), " A")),
    "W": ((re.compile(r" ?watts?$", re.IGNORECASE), " W"),),
    "%": ((re.compile(r"^(?:±|\+/-|\+-) ?"), ""), (re.compile(r" ?(?:pct|percent)$", re.IGNORECASE), " %")),
    "Ω": (
        (re.compile(r" ?meg(?: ?(?:ohms?|Ω|R))?$", re.IGNORECASE), " MΩ"),
        (re.compile(r" ?k ?ohms?$", re.IGNORECASE), " kΩ"),
    ),
}
"""How people, labels and schematics write a unit; "mfd" is a microfarad (common practice, no source)."""


def _undressed(text: str, *, tolerance: bool) -> str:
    """A quantity without what labels put behind it: a.c. or d.c., r.m.s., a tolerance."""
    bare = _TOLERANCE.sub("", text) if tolerance else text
    return _DRESS.sub("", bare).rstrip()


def _capacitor_mark(text: str) -> float | None:
    """Capacitance of a three-digit mark: two digits, and the power of ten in picofarads (IEC 60062) [F].

    >>> _capacitor_mark("104"), _capacitor_mark("472K"), _capacitor_mark("100 n")
    (1e-07, 4.7e-09, None)
    """
    mark = re.fullmatch(r"([1-9][0-9])([1-7])[FGJKMZ]?", text)
    return float(f"{mark[1]}e{int(mark[2]) - 12}") if mark else None


def _normalised(text: str) -> str:
    """One spelling for each sign: both micro signs, both ohm signs, superscripts, spaces, minus."""
    if len(text) > _LONGEST_TEXT:
        return ""
    text = unicodedata.normalize("NFKC", text).replace("μ", "u").replace("−", "-")
    return " ".join(text.split())


def _per_kelvin(head: str, size: float = 1.0) -> dict[str, float]:
    return {f"{head}/{tail}": size for tail in ("K", "°C", "C")}


OHM = Unit("Ω", "a resistance", "4k7 or 10 Ω", "umkKMG", {"ohm": 1, "Ohm": 1, "ohms": 1, "R": 1}, "R")
FARAD = Unit("F", "a capacitance", "47 µF", "pnum", code_letter="F")
FARAD_PER_METRE = Unit("F/m", "a capacitance per metre", "120 pF/m", "pnum")
HENRY = Unit("H", "an inductance", "1.5 mH", "num", code_letter="H")
VOLT = Unit("V", "a voltage", "230 V", "umk", code_letter="V")
AMPERE = Unit("A", "a current", "45 mA", "numk", code_letter="A")
WATT = Unit("W", "a power", "2 W", "umk", code_letter="W")
JOULE = Unit("J", "an energy", "0.5 J", "umk")
HERTZ = Unit("Hz", "a frequency", "50 Hz", "kM")
DEGREE = Unit("°", "an angle", "90°", spellings={"deg": 1})
SECOND = Unit("s", "a time", "2 µs", "num", {"min": 60})
HOUR = Unit("h", "a life in hours", "2000 h", spellings={"kh": 1000, "hours": 1})
METRE = Unit("m", "a length", "120 mm", "umc")
SQUARE_METRE = Unit("m²", "an area", "450 cm²", spellings={"cm2": 1e-4, "mm2": 1e-6})
CELSIUS = Unit("°C", "a temperature", "85 °C", spellings={"C": 1, "degC": 1})
KELVIN_PER_WATT = Unit(
    "K/W", "a thermal resistance", "1.5 K/W", spellings={"°C/W": 1, "C/W": 1, "mK/W": 1e-3, "kK/W": 1e3}
)
KELVIN = Unit("K", "a difference of temperature", "3000 K")
WATT_PER_KELVIN = Unit(
    "W/K", "a loss of heat", "11 mW/K", "m", {**_per_kelvin("W"), **_per_kelvin("mW", 1e-3)}
)
JOULE_PER_KELVIN = Unit("J/K", "a heat capacity", "60 J/K", "mk", _per_kelvin("J"))
VOLT_PER_KELVIN = Unit("V/K", "a drift of voltage with temperature", "-2 mV/K", "um", _per_kelvin("V"))
PER_KELVIN = Unit(
    "%/K", "a drift with temperature", "-0.15 %/K", "",
    {**_per_kelvin("1"), **_per_kelvin(""), **_per_kelvin("%", 0.01), **_per_kelvin("ppm", 1e-6)}, "", 0.01,
)  # fmt: skip
AMPERE_PER_SQUARE_VOLT = Unit("A/V²", "a transconductance", "0.8 A/V²", "m", {"A/V^2": 1})
AMPERE_SQUARED_SECOND = Unit("A²s", "a melting or surge integral", "3.5 A²s", spellings={"A^2s": 1})
RATIO = Unit("%", "a share", "5 % or 0.05", scale=0.01)

Ohm = Annotated[float, OHM]
Farad = Annotated[float, FARAD]
FaradPerMetre = Annotated[float, FARAD_PER_METRE]
Henry = Annotated[float, HENRY]
Volt = Annotated[float, VOLT]
Ampere = Annotated[float, AMPERE]
Watt = Annotated[float, WATT]
Joule = Annotated[float, JOULE]
Hertz = Annotated[float, HERTZ]
Degree = Annotated[float, DEGREE]
Second = Annotated[float, SECOND]
Hour = Annotated[float, HOUR]
Metre = Annotated[float, METRE]
SquareMetre = Annotated[float, SQUARE_METRE]
Celsius = Annotated[float, CELSIUS]
KelvinPerWatt = Annotated[float, KELVIN_PER_WATT]
Kelvin = Annotated[float, KELVIN]
WattPerKelvin = Annotated[float, WATT_PER_KELVIN]
JoulePerKelvin = Annotated[float, JOULE_PER_KELVIN]
VoltPerKelvin = Annotated[float, VOLT_PER_KELVIN]
PerKelvin = Annotated[float, PER_KELVIN]
AmperePerSquareVolt = Annotated[float, AMPERE_PER_SQUARE_VOLT]
AmpereSquaredSecond = Annotated[float, AMPERE_SQUARED_SECOND]
Ratio = Annotated[float, RATIO]

_UNITS = {
    unit.symbol: unit
    for unit in (
        OHM, FARAD, FARAD_PER_METRE, HENRY, VOLT, AMPERE, WATT, JOULE, HERTZ, DEGREE, SECOND, HOUR, METRE,
        SQUARE_METRE, CELSIUS, KELVIN, WATT_PER_KELVIN, KELVIN_PER_WATT, JOULE_PER_KELVIN, VOLT_PER_KELVIN,
        PER_KELVIN, AMPERE_PER_SQUARE_VOLT, AMPERE_SQUARED_SECOND, RATIO,
    )
}  # fmt: skip


def format_quantity(value: float, unit: str) -> str:
    """Write a value in the base unit for people, by the unit's symbol.

    Examples
    --------
    >>> format_quantity(795.8e-6, "H"), format_quantity(1.5, "K/W")
    ('795.8 µH', '1.5 K/W')
    """
    return _UNITS[unit].format(value)
