"""Linear sinks: a bridge, a bus, and a string whose low end hangs on constant-current regulators.

line --[line fusing]-- line_f --+--bridge-- bus --+-- film, bleed, reservoir --+
varistor             string                       |
neutral --[neutral fusing]------+                 drain -- sinks -- minus -----+
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from coldiron.parts.bleed_resistor import BleedResistor
from coldiron.parts.bridge import Bridge
from coldiron.parts.circuit import Circuit
from coldiron.parts.electrolytic import Electrolytic
from coldiron.parts.film_capacitor import FilmCapacitor
from coldiron.parts.fusing_resistor import FusingResistor
from coldiron.parts.led_string import LedString
from coldiron.parts.linear_sink import LinearSink
from coldiron.parts.part import Part
from coldiron.parts.stray_capacitance import StrayCapacitance, StrayValues
from coldiron.parts.varistor import Varistor

if TYPE_CHECKING:
    from coldiron.lamp.lamp import Lamp

ANCHORS = {"bus": "string", "drain": "sinks"}


def expanded(lamp: Lamp) -> Circuit:
    """Circuit that the short keys of a lamp stand for."""
    return Circuit(tuple(_parts(lamp)), ANCHORS)


def _parts(lamp: Lamp) -> Iterator[Part]:
    line_f = "line_f" if lamp.line_fusing else "line"
    neutral_f = "neutral_f" if lamp.neutral_fusing else "neutral"
    if lamp.line_fusing:
        yield FusingResistor("line_fusing", ("line", "line_f"), lamp.line_fusing, "line", seat="series")
    if lamp.neutral_fusing:
        at = ("neutral", "neutral_f")
        yield FusingResistor("neutral_fusing", at, lamp.neutral_fusing, "neutral", seat="series")
    if lamp.varistor:
        at = {
            "mains terminals": ("line", "neutral"),
            "behind line fusing": (line_f, "neutral"),
            "behind both fusing": (line_f, neutral_f),
        }[lamp.varistor.place]
        yield Varistor("varistor", at, lamp.varistor)
    yield Bridge("bridge", (line_f, neutral_f, "bus", "minus"), lamp.bridge)
    if lamp.film:
        yield FilmCapacitor("film", ("bus", "minus"), lamp.film)
    if lamp.bleed:
        yield BleedResistor("bleed", ("bus", "minus"), lamp.bleed)
    if lamp.reservoir:
        yield Electrolytic("reservoir", ("bus", "minus"), lamp.reservoir)
    yield StrayCapacitance(
        "stray", ("bus", "minus"), StrayValues(capacitance_f=lamp.bridge.stray_capacitance_f)
    )
    yield LedString("string", ("bus", "drain"), lamp.string)
    if lamp.sinks.drain_capacitor_f is not None:
        stray = StrayValues(capacitance_f=lamp.sinks.drain_capacitor_f)
        yield StrayCapacitance("drain_capacitor", ("drain", "minus"), stray, "drain")
    yield LinearSink("sinks", ("drain", "minus"), lamp.sinks)
