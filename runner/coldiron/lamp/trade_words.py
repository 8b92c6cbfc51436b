"""What people call the parts and values of a lamp file, where the file has another word for it."""

from __future__ import annotations

from collections.abc import Iterable

from coldiron.wording import one_nearest

TRADE_WORDS = {
    "supply": "mains", "line": "mains", "grid": "mains",
    "fuse": "line_fusing", "fusible": "line_fusing", "fusing": "line_fusing",
    "fusing_resistor": "line_fusing",
    "fusible_resistor": "line_fusing", "resistor": "line_fusing", "line_fuse": "line_fusing",
    "neutral_fuse": "neutral_fusing",
    "mov": "varistor", "vdr": "varistor", "surge_protector": "varistor",
    "rectifier": "bridge", "diodes": "bridge", "diode": "bridge", "bridge_rectifier": "bridge",
    "x_capacitor": "film", "film_capacitor": "film", "foil": "film",
    "bleeder": "bleed", "bleed_resistor": "bleed", "discharge": "bleed", "discharge_resistor": "bleed",
    "capacitor": "reservoir", "cap": "reservoir", "electrolytic": "reservoir", "elko": "reservoir",
    "smoothing": "reservoir", "bulk": "reservoir", "reservoir_capacitor": "reservoir",
    "led": "string", "leds": "string", "led_string": "string",
    "driver": "sinks", "ic": "sinks", "regulator": "sinks", "sink": "sinks", "current_sink": "sinks",
    "thermal": "heat", "heatsink": "heat",
    "case": "housing", "enclosure": "housing", "earth": "housing",
    "label": "ratings", "rating": "ratings", "readings": "reading", "measurement": "reading",
    "measurements": "reading",
    "capacity": "capacitance", "value": "resistance", "ohms": "resistance", "wattage": "power",
    "watts": "power", "volts": "voltage", "rated_voltage": "voltage", "vf": "forward_voltage",
    "if": "forward_current", "rsense": "sense_resistor", "vref": "sense_voltage",
    "dynamic_resistance": "slope", "ideality": "emission", "freq": "frequency", "hz": "frequency",
    "mark": "marking", "code": "marking", "type": "marking",
    "source": "provenance", "earthing": "earthed", "grounded": "earthed",
    "test": "benches", "bench": "benches", "tests": "benches", "variants": "variant", "limit": "limits",
    "condition": "conditions",
}  # fmt: skip
"""Word of the trade to the key that a file has for it."""


def nearest_key(written: object, keys: Iterable[str]) -> str:
    """Find the key that a person may have meant: a word of the trade, or the nearest spelling.

    >>> nearest_key("fuse", ["mains", "line_fusing"]), nearest_key("reservior", ["reservoir", "string"])
    ('line_fusing', 'reservoir')
    """
    known = list(keys)
    meant = TRADE_WORDS.get(str(written).casefold().replace("-", "_").replace(" ", "_"), "")
    return meant if meant in known else one_nearest(written, known)
