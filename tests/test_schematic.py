"""The schematic against the deck: what one holds the other holds, with the same values."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from coldiron.benches.base import Case, Exposure
from coldiron.benches.settling import estimated_start
from coldiron.benches.steady import steady_deck
from coldiron.lamp.parts import FusingResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.pictures.ink import Picture
from coldiron.pictures.schematic import schematic
from coldiron.pictures.wiring import NOT_DRAWN, drawn_parts
from coldiron.quantities import FARAD, OHM
from lamps import lamps, plain_lamp, reservoir


def deck_devices(lamp: Lamp) -> dict[str, list[str]]:
    """Elements of the lamp's steady deck and their words."""
    exposure = Exposure(lamp.mains.voltage_v, lamp.mains.frequency_hz)
    case = Case("s", "as found", lamp, "steady", exposure)
    state = exposure.state()
    text = steady_deck(case, state, estimated_start(lamp, state), 0.04).text
    return {line.split()[0]: line.split() for line in text.splitlines() if line[:1].isalpha()}


def drawn_groups(picture: Picture) -> dict[str, ElementTree.Element]:
    """Groups of the drawing that are parts, by part."""
    root = ElementTree.fromstring(picture.svg)
    return {
        g.attrib["data-part"]: g
        for g in root.iter("{http://www.w3.org/2000/svg}g")
        if "data-part" in g.attrib
    }


def drawn_devices(picture: Picture) -> list[str]:
    return [
        device for group in drawn_groups(picture).values() for device in group.attrib["data-deck"].split()
    ]


@settings(max_examples=60, deadline=None)
@given(lamps())
def test_every_element_of_the_deck_is_drawn_once_and_the_reverse(lamp: Lamp) -> None:
    # The deck is the other description of the same lamp; NOT_DRAWN are its helpers that are no parts.
    picture = schematic(lamp)
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(lamp)) - set(NOT_DRAWN))
    for part, group in drawn_groups(picture).items():
        stands_for_itself = not part.startswith("sink") or part == "sink1"
        assert group.find("{http://www.w3.org/2000/svg}path") is not None or not stands_for_itself


def test_values_beside_the_parts_are_those_of_the_deck() -> None:
    lamp = plain_lamp(
        neutral_fusing=FusingResistor(resistance_ohm=4.7), reservoir=reservoir(22e-6, esr_ohm=9.0)
    )
    devices, groups = deck_devices(lamp), drawn_groups(schematic(lamp))
    shown = {
        part: " ".join(text.text or "" for text in group.iter("{http://www.w3.org/2000/svg}text"))
        for part, group in groups.items()
    }
    for part, device, unit in (
        ("line_fusing", "Rline", OHM),
        ("neutral_fusing", "Rneutral", OHM),
        ("film", "Cfilm", FARAD),
        ("bleed", "Rbleed", OHM),
        ("reservoir", "Creservoir", FARAD),
        ("sink1", "Rsense1", OHM),
    ):
        values = [unit.parse(text) for text in re.findall(rf"[\d.]+ [µnpkM]?{unit.symbol}", shown[part])]
        assert float(devices[device][3]) == pytest.approx(values[0], rel=1e-3), part
    assert "82 × 4 LEDs" in shown["string"]


def test_a_deck_element_without_a_symbol_would_be_noticed() -> None:
    lamp = plain_lamp()
    without_bleed = drawn_devices(schematic(lamp.model_copy(update={"bleed": None})))
    assert set(deck_devices(lamp)) - set(NOT_DRAWN) - set(without_bleed) == {"Rbleed"}


def test_changes_are_told_in_words_and_frames() -> None:
    found = plain_lamp()
    variant = found.model_copy(
        update={
            "varistor": None,
            "reservoir": reservoir(22e-6),
            "line_fusing": FusingResistor(resistance_ohm=22.0, power_w=2.0),
            "sinks": found.sinks.model_copy(update={"count": 4}),
        }
    )
    marks = {key: part.mark for key, part in drawn_parts(variant, found).items() if part.mark}
    assert marks == {
        "varistor": "removed",
        "reservoir": "fitted",
        "line_fusing": "changed",
        "sink4": "fitted",
    }
    picture = schematic(variant, found)
    for key, mark in marks.items():
        group = drawn_groups(picture)[key]
        words = [text.text for text in group.iter("{http://www.w3.org/2000/svg}text")]
        assert mark in words
        assert any(box.attrib.get("fill") == "none" for box in group.iter("{http://www.w3.org/2000/svg}rect"))
        assert f"({mark})" in picture.alt
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(variant)) - set(NOT_DRAWN))


def test_the_lamp_as_found_has_no_marks() -> None:
    lamp = plain_lamp()
    assert not any(part.mark for part in drawn_parts(lamp, lamp).values())
    assert schematic(lamp, lamp).svg == schematic(lamp).svg


@pytest.mark.parametrize("place", ["mains terminals", "behind line fusing", "behind both fusing"])
def test_a_varistor_is_drawn_wherever_it_sits(place: str) -> None:
    varistor = plain_lamp().varistor
    assert varistor is not None
    lamp = plain_lamp(
        varistor=varistor.model_copy(update={"place": place}),
        neutral_fusing=FusingResistor(resistance_ohm=10.0),
    )
    root = ElementTree.fromstring(schematic(lamp).svg)
    order = [
        group.attrib["data-part"]
        for group in root.iter("{http://www.w3.org/2000/svg}g")
        if group.attrib.get("data-part") in {"line_fusing", "varistor", "neutral_fusing"}
    ]
    expected = {"mains terminals": 0, "behind line fusing": 1, "behind both fusing": 2}[place]
    assert order.index("varistor") == expected


def test_many_sinks_are_drawn_as_first_between_and_last() -> None:
    lamp = plain_lamp(sinks=plain_lamp().sinks.model_copy(update={"count": 24}))
    picture = schematic(lamp)
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(lamp)) - set(NOT_DRAWN))
    assert "sinks 2–23" in picture.svg
