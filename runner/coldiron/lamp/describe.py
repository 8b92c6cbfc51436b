"""A lamp in a person's units: each value with its provenance, and the facts that follow from them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Fact, Part, Provenance, written_key
from coldiron.lamp.shapes import shapes

_LABELS = {"film": "film capacitor", "bleed": "bleed resistor"}

_NAMES = {
    "ac_rating": "AC rating",
    "one_milliamp_voltage": "1 mA voltage",
    "esr": "ESR",
    "esr_100khz": "ESR at 100 kHz",
    "cold_esr_factor": "cold ESR factor",
    "i2t": "I²t",
    "die": "heat capacity of a die",
    "string": "heat capacity of the string",
    "board": "heat capacity of the board",
    "housing": "heat capacity of the housing",
}

_STAND_INS = {
    "pulse_energy": "pulse_limit_j",
    "slope": "dynamic_ohm",
    "i2t": "i2t_limit_a2s",
    "esr": "series_ohm",
    "continuous_current": "continuous_each_a",
    "esr_100khz": "high_series_ohm",
    "foldback_delay": "foldback_lag_s",
    "restart": "restarts_c",
    "avalanche_voltage": "breakdown_v",
    "breakdown_voltage": "breakdown_v",
    "transconductance": "gain_a_per_v2",
    "disc": "diameter_m",
    "capacitance": "terminal_f",
    "energy": "energy_limit_j",
    "peak_current": "peak_limit_a",
    "mean_power": "power_limit_w",
}
"""What a part uses while an optional value is unset: written key to property in the same unit."""

_ABSENT = {"drain_capacitor", "foldback_power", "shut_off", "supply_current"}
"""Values whose being unset says that the part has no such thing."""


def stand_in(part: Part, key: str) -> float | None:
    """What a part uses while an optional value is unset; None where it has no such thing."""
    name = _STAND_INS.get(key)
    value = None if name is None else getattr(part, name)
    return None if value is None else float(value)


def has_stand_in(key: str) -> bool:
    """Whether something stands in for an optional value while it is unset."""
    return key in _STAND_INS


class Line(NamedTuple):
    """One value of a lamp as a person reads it; `part` and `key` are as a file writes them.

    `by_default` tells that the file does not have it, `implied_by` names the key of the file that it follows
    from.
    """

    part: str
    key: str
    value: str
    provenance: Provenance
    by_default: bool = False
    implied_by: str = ""

    @property
    def provenance_text(self) -> str:
        """Where the value came from, and who is silent about it."""
        if self.implied_by:
            return f"typical, by its {key_label(self.implied_by)}"
        if self.by_default:
            return "typical, not given"
        return "given, source not said" if self.provenance == "given" else self.provenance


def part_label(part: str) -> str:
    """Name of a part for people.

    >>> part_label("film"), part_label("line_fusing")
    ('film capacitor', 'line fusing')
    """
    return _LABELS.get(part, part.replace("_", " "))


def key_label(key: str) -> str:
    """Name of a part's value for people.

    >>> key_label("one_milliamp_voltage"), key_label("sense_resistor")
    ('1 mA voltage', 'sense resistor')
    """
    return _NAMES.get(key, key.replace("_", " "))


def value_text(model: type[Part], key: str, value: object) -> str:
    """Value of a part's field for people; one that is unset reads "typical", or "none" where there is none.

    >>> from coldiron.lamp.parts import Sinks
    >>> value_text(Sinks, "sense_resistor", 9.1), value_text(Sinks, "drain_capacitor", None)
    ('9.1 Ω', 'none')
    """
    if value is None:
        return "none" if key in _ABSENT else "typical"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return shapes(model)[key].number(value) if isinstance(value, int | float) else str(value)


def lines(lamp: Lamp) -> Iterator[Line]:
    """Yield every value of a lamp, part by part, and the mark of its provenance.

    An optional value that is unset is given as what stands in for it, typical; one that nothing stands in
    for is left out.
    """
    for name, part in lamp:
        if isinstance(part, Part):
            yield from _part_lines(name, part)
    for further in lamp.further:
        yield from _part_lines(further.name, further.values)


def _part_lines(name: str, part: Part) -> Iterator[Line]:
    for field, value in part:
        key = written_key(field)
        if field == "provenances":
            continue
        if value is None and key in _STAND_INS:
            unit, stand_in = shapes(type(part))[key].unit, getattr(part, _STAND_INS[key], None)
            assert unit is not None
            if stand_in is not None:
                yield Line(name, key, unit.format(stand_in, 4), "typical", True)
        elif value is not None:
            text = value_text(type(part), key, value)
            given = key in part.provenances
            by = "" if given else _implied_by(part, key)
            yield Line(name, key, text, part.provenance(key), not given and not by, by)


def _implied_by(part: Part, key: str) -> str:
    """Key of a file from which a value that is not given follows."""
    found = (by for by, keys in part.implied_by.items() if by in part.provenances and key in keys)
    return next(found, "")


def absent(lamp: Lamp) -> list[str]:
    """Labels of the parts that a lamp does not have."""
    return [part_label(name) for name, part in lamp if part is None]


def facts(lamp: Lamp) -> list[Fact]:
    """What follows from the values and helps to see a slip of the pen."""
    return list(lamp.facts())
