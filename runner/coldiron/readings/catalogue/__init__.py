"""The catalogue of readings: one row each, and the only place that knows what a reading is.

Tables, report, sentences, files, regress and the API ask `kind_of`. Rows that are alike for every
disturbance, or for every harmonic, are written once and stand here for each.

Tolerances were measured on the demo studies, between ngspice 39.3 and 46, and between the decks' steps and
Newton tolerances and finer ones: dissipations and currents of a running lamp move by 0.002 %, peaks at
switch-on by 0.3 %, peaks of a surge by 1 %, its energies by 5 %. What switch-on gives after the charging
pulse is computed more coarsely: first light moves by 2.5 %, energies by 15 %. The width of a pulse can change
by two thirds, when a ripple on it comes to lie across the level at which it is taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final

from coldiron.readings.catalogue.disturbed import disturbances, switched_off
from coldiron.readings.catalogue.earthed import insulation, live, shared_circuit, surge_to_earth, touch
from coldiron.readings.catalogue.faulty import faulty
from coldiron.readings.catalogue.kind import UNITS, Kind
from coldiron.readings.catalogue.settled import COLD, WARM, electrical, heat, light

__all__ = ["CATALOGUE", "COLD", "COLUMNS", "WARM", "Kind", "kind_of", "place_of", "spoken_kinds"]

CATALOGUE: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        kind.reading: kind
        for rows in (
            electrical(),
            light(),
            heat(),
            disturbances(),
            switched_off(),
            touch(),
            live(),
            surge_to_earth(),
            insulation(),
            shared_circuit(),
            faulty(),
        )
        for kind in rows
    }
)
"""Every reading there is, by its id."""

_PLACES = {reading: place for place, reading in enumerate(CATALOGUE)}

COLUMNS: Final = (
    ("switch-on", "inrush_peak_A"),
    (WARM, "light_pct"),
    (WARM, "flicker_pct"),
    (WARM, "svm"),
    (WARM, "input_power_W"),
    (WARM, "sinks_W"),
    (WARM, "sink_die_worst_C"),
    ("surge", "surge_sink_peak_A"),
    ("surge", "surge_drain_peak_V"),
    ("burst", "burst_sink_peak_A"),
    ("dip", "dip_light_gap_ms"),
    ("off-glow", "off_string_uA"),
    ("unplug", "discharge_60V_s"),
)
"""Readings worth a column of the table of variants; what was not run warm stands there cold."""


@cache
def kind_of(reading: str) -> Kind:
    """Return the row of a reading.

    An id that the catalogue has not is a reading of a bench in the making: it has its unit and its own words,
    and is worse neither way. A test holds every bench to the catalogue.

    Examples
    --------
    >>> kind_of("surge_sink_peak_A").what, kind_of("surge_sink_peak_A").unit
    ('peak current of one sink in the surge', 'A')
    >>> kind_of("glare_W").what, kind_of("glare_W").worse
    ('glare', 'none')
    """
    known = CATALOGUE.get(reading)
    if known is not None:
        return known
    words = reading.split("_")
    return Kind(reading, " ".join(words[:-1] if len(words) > 1 and words[-1] in UNITS else words))


@cache
def place_of(reading: str) -> tuple[int, str]:
    """Place of a reading in the order of the catalogue; what is not in it comes last, by its name."""
    return _PLACES.get(reading, len(_PLACES)), reading


@cache
def spoken_kinds() -> tuple[Kind, ...]:
    """Readings that sentences speak of, the most telling first."""
    return tuple(
        sorted((kind for kind in CATALOGUE.values() if kind.spoken.rank), key=lambda kind: kind.spoken.rank)
    )
