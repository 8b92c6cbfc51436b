"""What a technician would weigh for one lamp: the modifications that its own values suggest.

Rules of thumb only choose what is tried; what comes of it is simulated. Where a rule has no source it is
common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from coldiron.errors import Problem
from coldiron.lamp.lamp import Lamp
from coldiron.preferred import E6, E12, E24, nearest, step
from coldiron.quantities import FARAD, OHM, VOLT, WATT
from coldiron.study.apply import Workshop

Values = Mapping[str, str | int]

_HIGH_MAINS_RATIO = 1.1
_CAPACITOR_VOLTS = (63, 100, 160, 200, 250, 400, 450, 500, 630)
_RESISTOR_WATTS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0)
_DISCS = {
    130: (205, 340), 150: (240, 395), 175: (270, 455), 230: (360, 595), 250: (390, 650), 275: (430, 710),
    300: (470, 775), 320: (510, 840), 385: (620, 1025), 420: (680, 1120), 460: (750, 1240),
}  # fmt: skip
"""Varistor discs by the mains they are for: voltage at 1 mA and at class current [V]; from memory."""


class Modification(NamedTuple):
    """One thing to try: its name, the rule behind it, and its changes by dotted key or part."""

    name: str
    why: str
    change: Mapping[str, str | int | Values]


def modifications(lamp: Lamp) -> list[Modification]:
    """About a dozen modifications worth weighing for a lamp, those that it allows.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> [one.name for one in modifications(load_lamp("pantry-bulb"))][:4]
    ['reservoir 15 µF', 'reservoir 22 µF', 'reservoir 33 µF', 'line fusing 22 Ω']
    """
    workshop = Workshop(lamp, "")
    kept = []
    for one in _all(lamp):
        problems: list[Problem] = []
        _, changes = workshop.apply(one.change, "", problems)
        if changes and not problems:
            kept.append(one)
    return kept


def _fitted(lamp: Lamp, key: str) -> Any:
    """Values of a lamp's part by its short key; None where the lamp, or its topology, has none."""
    return getattr(lamp, key, None)


def _all(lamp: Lamp) -> Iterator[Modification]:
    """All rules, each for the short keys that the lamp's topology has."""
    reservoirs, fusings, currents = list(_reservoirs(lamp)), list(_fusings(lamp)), list(_currents(lamp))
    yield from reservoirs
    if _fitted(lamp, "reservoir"):
        why = "what it does for the light shows best without it"
        yield Modification("no reservoir", why, {"reservoir": "none"})
    yield from fusings
    yield from _varistors(lamp)
    yield from currents
    sinks, string = _fitted(lamp, "sinks"), _fitted(lamp, "string")
    if sinks and sinks.count > 1:
        yield Modification(
            "one sink fewer", "less current, and one part less to fail", {"sinks.count": sinks.count - 1}
        )
    if string and string.series > 1:
        yield Modification(
            "one LED bridged",
            "the usual repair of a dead LED: its volts fall on what feeds the string",
            {"string.series": string.series - 1},
        )
    yield from _bleeds(lamp)
    together, names = {}, []
    if reservoirs:
        middle = reservoirs[len(reservoirs) // 2]
        together, names = {**middle.change}, [middle.name]
    else:
        yield from _films(lamp)
    if fusings:
        together, names = {**together, **fusings[0].change}, [*names, fusings[0].name]
        if reservoirs:
            why = "a reservoir whose inrush the fusing resistor softens"
            yield Modification(", ".join(names), why, together)
        if currents:
            yield Modification(
                ", ".join([*names, currents[0].name]),
                "a reservoir lights the lamp all the time; less current keeps its heat where it was"
                if reservoirs
                else "softer at switch-on and in a surge, and cooler",
                {**together, **currents[0].change},
            )


def _reservoirs(lamp: Lamp) -> Iterator[Modification]:
    """Three values of E6 around the one that carries the string from one charge to the next.

    C = I · t / ΔV: the current of the lit string for eight tenths of a half cycle (a half wave: and one half
    cycle more), over the room between the mains peak and the string, or what feeds it (at least 3 % of the
    peak). A part in series with the mains feeds what is left to it: there, three tenths of the string.
    """
    if "reservoir" not in type(lamp).model_fields:
        return
    found, dropper = _fitted(lamp, "reservoir"), _fitted(lamp, "dropper")
    current_a, peak_v = lamp.lit_a, lamp.mains.peak_v
    string_v = lamp.circuit.light_v(current_a)
    room_v = 0.3 * string_v if dropper else max(peak_v - string_v, 0.03 * peak_v)
    half_cycles = 1.8 if _fitted(lamp, "rectifier") else 0.8
    needed_f = current_a * half_cycles / (2.0 * lamp.mains.frequency_hz) / room_v
    rated_v = next((v for v in _CAPACITOR_VOLTS if v >= _HIGH_MAINS_RATIO * peak_v), _CAPACITOR_VOLTS[-1])
    if dropper and found:
        rated_v = found.voltage_v
    middle_f = nearest(E6, needed_f)
    for value_f in (step(E6, middle_f, -1), middle_f, step(E6, middle_f, +1)):
        if found and abs(value_f / found.capacitance_f - 1) < 0.1:
            continue
        values: dict[str, str | int] = {"capacitance": FARAD.format(value_f), "voltage": VOLT.format(rated_v)}
        if found:
            # What the old one has of its own does not belong to a new one.
            values |= {"esr": "none", "ripple_current": "none"}
        yield Modification(
            f"reservoir {FARAD.format(value_f)}",
            f"about {FARAD.format(needed_f, 2)} carry the string from one charge to the next",
            {"reservoir": values},
        )


def _films(lamp: Lamp) -> Iterator[Modification]:
    """Where no reservoir has a place: twice the film capacitor, and none."""
    film = _fitted(lamp, "film")
    if film:
        value = FARAD.format(nearest(E6, 2.0 * film.capacitance_f))
        yield Modification(f"film {value}", "the bus takes a surge more slowly", {"film.capacitance": value})
        yield Modification("no film", "what it does for the mains and the surge", {"film": "none"})


def _fusings(lamp: Lamp) -> Iterator[Modification]:
    for leg in ("line", "neutral"):
        fusing = _fitted(lamp, f"{leg}_fusing")
        if fusing:
            value = OHM.format(nearest(E12, 2.0 * fusing.resistance_ohm))
            why = "twice the resistance: a softer switch-on, less surge, more watts in it"
            yield Modification(f"{leg} fusing {value}", why, {f"{leg}_fusing.resistance": value})
            return


def _varistors(lamp: Lamp) -> Iterator[Modification]:
    """Another class, the lowest that stands the mains 10 % high or else the next; and none."""
    suited = [v for v in _DISCS if v >= _HIGH_MAINS_RATIO * lamp.mains.voltage_v]
    found = _fitted(lamp, "varistor")
    others = [v for v in suited if found is None or abs(v - found.ac_rating_v) > 1.0]
    if others:
        one_milliamp_v, clamping_v = _DISCS[others[0]]
        values: dict[str, str | int] = {
            "ac_rating": VOLT.format(others[0]),
            "one_milliamp_voltage": VOLT.format(one_milliamp_v),
            "clamping_voltage": VOLT.format(clamping_v),
        }
        if found is None:
            values["clamping_current"] = "10 A"
        why = f"a disc for {others[0]} V stands {lamp.mains.voltage_v:.0f} V and 10 %"
        yield Modification(f"varistor of the {others[0]} V class", why, {"varistor": values})
    if found:
        yield Modification("no varistor", "what a surge does without it", {"varistor": "none"})


def _currents(lamp: Lamp) -> Iterator[Modification]:
    """Less current: by the sense resistor of the sinks, or by the capacitor that feeds the string."""
    sinks, dropper = _fitted(lamp, "sinks"), _fitted(lamp, "dropper")
    for words, factor in (("two thirds of the current", 1.5), ("half the current", 2.0)):
        why = "less light, cooler, longer life"
        if sinks:
            value = OHM.format(nearest(E24, factor * sinks.sense_resistor_ohm))
            yield Modification(words, why, {"sinks.sense_resistor": value})
        elif dropper:
            value = FARAD.format(nearest(E12, dropper.capacitance_f / factor))
            yield Modification(words, why, {"dropper.capacitance": value})


def _bleeds(lamp: Lamp) -> Iterator[Modification]:
    """Half the resistance of the one that is fitted, or one that takes an eighth of a watt."""
    # Behind a part in series with the mains the bus stands at the string's voltage.
    peak_v = lamp.circuit.light_v(lamp.lit_a) if _fitted(lamp, "dropper") else lamp.mains.peak_v
    found = _fitted(lamp, "bleed")
    ohm = nearest(E12, found.resistance_ohm / 2.0) if found else nearest(E12, peak_v**2 / 0.125)
    values: dict[str, str | int] = {"resistance": OHM.format(ohm)}
    power_w = found.power_w if found else _RESISTOR_WATTS[0]
    if 2.0 * peak_v**2 / ohm > power_w:
        needed_w = 2.0 * (_HIGH_MAINS_RATIO * peak_v) ** 2 / ohm
        power_w = next((w for w in _RESISTOR_WATTS if w >= needed_w), _RESISTOR_WATTS[-1])
    values["power"] = WATT.format(power_w)
    why = "empties the bus in half the time" if found else "empties the bus when unplugged"
    yield Modification(f"bleed {values['resistance']}", why, {"bleed": values})
