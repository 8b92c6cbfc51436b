"""The schematic against the deck and the circuit: what one holds the other holds, joined the same way."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from coldiron.benches.base import Case, TestConditions
from coldiron.benches.settling import estimated_start
from coldiron.benches.steady import steady_deck
from coldiron.lamp.lamp import Lamp as AnyLamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.parts import FusingResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import KINDS
from coldiron.parts.placing import placed
from coldiron.pictures.ink import Picture
from coldiron.pictures.layout.fold import MOST_WIDE
from coldiron.pictures.layout.plan import Plan
from coldiron.pictures.layout.whole import laid_out
from coldiron.pictures.schematic import schematic
from coldiron.pictures.sheet import UNIT_PT
from coldiron.pictures.wiring import NOT_DRAWN, aliases, drawn_parts
from coldiron.quantities import FARAD, OHM
from drawn_circuits import (
    DEMOS,
    any_circuit,
    as_lamp,
    by_hand,
    differences,
    drawn_names,
    kinds_to_place,
    overlaps,
    values_of,
    without_some,
)
from lamps import lamps, plain_lamp, reservoir

SVG = "{http://www.w3.org/2000/svg}"


def deck_devices(lamp: AnyLamp) -> dict[str, list[str]]:
    """Elements of the lamp's steady deck and their words."""
    conditions = TestConditions(lamp.mains.voltage_v, lamp.mains.frequency_hz)
    case = Case("s", "as found", lamp, "steady", conditions)
    state = conditions.operating_point()
    text = steady_deck(case, state, estimated_start(lamp, state), 0.04).text
    return {line.split()[0]: line.split() for line in text.splitlines() if line[:1].isalpha()}


def drawn_groups(picture: Picture) -> dict[str, ElementTree.Element]:
    """Groups of the drawing that are parts, by part."""
    root = ElementTree.fromstring(picture.svg)
    return {g.attrib["data-part"]: g for g in root.iter(f"{SVG}g") if "data-part" in g.attrib}


def drawn_devices(picture: Picture) -> list[str]:
    return [
        device for group in drawn_groups(picture).values() for device in group.attrib["data-deck"].split()
    ]


def plan_of(circuit: Circuit, found: Circuit | None = None) -> Plan:
    """Drawing of a circuit."""
    parts = drawn_parts(as_lamp(circuit), None if found is None else as_lamp(found))
    return laid_out(tuple(parts.values()), aliases(circuit))


def drawn_well(circuit: Circuit, found: Circuit | None = None) -> None:
    """The drawing read back is the circuit, nothing lies over anything, every part is there and no other."""
    plan = plan_of(circuit, found)
    assert differences(circuit, plan) == []
    assert list(overlaps(plan)) == []
    expected = {part.name for part in [*circuit, *(found or circuit)] if part.shown}
    assert drawn_names(plan.symbols) == expected | {"mains"}


@settings(max_examples=60, deadline=None)
@given(lamps())
def test_every_element_of_the_deck_is_drawn_once_and_the_reverse(lamp: Lamp) -> None:
    # The deck is the other description of the same lamp; NOT_DRAWN are its helpers that are no parts.
    picture = schematic(lamp)
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(lamp)) - set(NOT_DRAWN))
    for part, group in drawn_groups(picture).items():
        assert group.find(f"{SVG}path") is not None, part


@pytest.mark.parametrize("name", DEMOS)
def test_every_element_of_a_demo_lamps_deck_is_drawn_once_and_the_reverse(name: str) -> None:
    lamp = load_lamp(name)
    wires = {part.e("V") for part in lamp.circuit if part.symbol == "wire"}
    expected = sorted(set(deck_devices(lamp)) - {*NOT_DRAWN, *wires})
    assert sorted(drawn_devices(schematic(lamp))) == expected


@pytest.mark.parametrize("name", list(by_hand()))
def test_the_drawing_read_back_is_the_circuit(name: str) -> None:
    drawn_well(by_hand()[name])


@pytest.mark.parametrize("seed", range(60))
def test_parts_of_any_kind_in_any_place_are_drawn_and_read_back(seed: int) -> None:
    # Odd seeds lose some parts again, so that gone, bridged and broken ones are marked.
    circuit = any_circuit(seed)
    if seed % 2:
        drawn_well(without_some(circuit, seed), circuit)
    else:
        drawn_well(circuit)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_a_thousand_circuits_are_drawn_and_read_back(block: int) -> None:
    for seed in range(1000 + 100 * block, 1100 + 100 * block):
        circuit = any_circuit(seed)
        drawn_well(circuit)
        drawn_well(without_some(circuit, seed), circuit)


@pytest.mark.parametrize("kind", kinds_to_place())
def test_every_kind_is_drawn_in_a_rail_in_a_leg_and_across(kind: str) -> None:
    new = KINDS[kind]("P1", (), values_of(kind))
    base = plain_lamp().circuit
    for way, where in (("after", "line_fusing"), ("in_series_with", "film"), ("across", "string")):
        drawn_well(placed(base, new, way, where))


def test_a_drawing_that_joins_or_parts_points_would_be_noticed() -> None:
    circuit = plain_lamp().circuit
    plan = plan_of(circuit)
    whole = list(plan.wires)
    # Without any one of its longer wires, or with one wire more, it is another circuit.
    noticed = 0
    for wire in whole:
        if wire.level and wire.b[0] - wire.a[0] > 0.5:
            plan.wires = [one for one in whole if one is not wire]
            noticed += bool(differences(circuit, plan))
    assert noticed >= 5
    plan.wires = whole
    varistor = next(one for one in plan.symbols if one.owner and one.owner.key == "varistor")
    plan.wire(varistor.a, varistor.b)
    assert "line_f and neutral are joined" in differences(circuit, plan)
    assert list(overlaps(plan))


def test_the_sheet_has_every_wire_dot_and_word_of_the_plan() -> None:
    lamp = plain_lamp(reservoir=reservoir(22e-6))
    plan, root = plan_of(lamp.circuit), ElementTree.fromstring(schematic(lamp).svg)
    paths = " ".join(path.attrib["d"] for path in root.iter(f"{SVG}path"))
    for wire in plan.wires:
        (x0, y0), (x1, y1) = wire.a, wire.b
        drawn = f"M{x0 * UNIT_PT:.1f} {-y0 * UNIT_PT:.1f}L{x1 * UNIT_PT:.1f} {-y1 * UNIT_PT:.1f}"
        assert drawn in paths
    wires = next(group for group in root.iter(f"{SVG}g") if group.attrib.get("class") == "wires")
    assert len(list(wires.iter(f"{SVG}circle"))) == len(plan.dots)
    said = [text.text for text in root.iter(f"{SVG}text")]
    assert sorted(map(str, said)) == sorted(word.text for word in plan.words)


def test_a_wide_lamp_goes_on_in_further_rows() -> None:
    circuit = by_hand()["many parts"]
    for number in range(6):
        new = KINDS["RC snubber"](f"SN{number + 2}", (), values_of("RC snubber"))
        circuit = placed(circuit, new, "across", ("line", "neutral"))
    plan = plan_of(circuit)
    assert plan.box.x1 - plan.box.x0 <= MOST_WIDE + 1.0
    drawn_well(circuit)


def test_it_tells_those_who_cannot_see_it() -> None:
    picture = schematic(load_lamp("kerbside-flood"), title="as found")
    root = ElementTree.fromstring(picture.svg)
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == "as found"
    assert root[1].tag == f"{SVG}desc"
    assert root[1].text == picture.alt
    assert "line fusing 4.7 Ω" in picture.alt
    assert "neutral fusing 4.7 Ω" in picture.alt


def test_values_beside_the_parts_are_those_of_the_deck() -> None:
    lamp = plain_lamp(
        neutral_fusing=FusingResistor(resistance_ohm=4.7), reservoir=reservoir(22e-6, esr_ohm=9.0)
    )
    devices, groups = deck_devices(lamp), drawn_groups(schematic(lamp))
    shown = {
        part: " ".join(text.text or "" for text in group.iter(f"{SVG}text")) for part, group in groups.items()
    }
    for part, device, unit in (
        ("line_fusing", "Rline", OHM),
        ("neutral_fusing", "Rneutral", OHM),
        ("film", "Cfilm", FARAD),
        ("bleed", "Rbleed", OHM),
        ("reservoir", "Creservoir", FARAD),
        ("sinks", "Rsense1", OHM),
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
    ).with_state("bleed", "open")
    marks = {key: part.mark for key, part in drawn_parts(variant, found).items() if part.mark}
    assert marks == {
        "varistor": "removed",
        "reservoir": "fitted",
        "line_fusing": "changed",
        "sinks": "changed",
        "bleed": "open",
    }
    picture = schematic(variant, found)
    for key, mark in marks.items():
        group = drawn_groups(picture)[key]
        words = [text.text for text in group.iter(f"{SVG}text")]
        assert mark in words
        assert any(box.attrib.get("fill") == "none" for box in group.iter(f"{SVG}rect"))
        assert f"({mark})" in picture.alt
    assert "22 Ω was 10 Ω" in picture.svg
    assert "4 × 40 mA was 3 × 40 mA" in picture.svg
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(variant)) - set(NOT_DRAWN))
    drawn_well(variant.circuit, found.circuit)


def test_a_value_that_is_not_written_beside_the_part_is_told_when_it_changes() -> None:
    found = plain_lamp(reservoir=reservoir(22e-6, esr_ohm=9.0))
    variant = plain_lamp(reservoir=reservoir(22e-6, esr_ohm=3.0))
    assert "ESR was 9 Ω" in drawn_parts(variant, found)["reservoir"].value


def test_a_resistor_that_is_wired_across_stands_beside_a_wire() -> None:
    found = plain_lamp(neutral_fusing=FusingResistor(resistance_ohm=10.0))
    variant = found.model_copy(update={"line_fusing": None}).with_state("neutral_fusing", "wired across")
    parts = drawn_parts(variant, found)
    assert {key: part.mark for key, part in parts.items() if part.mark} == {
        "line_fusing": "wired across",
        "neutral_fusing": "wired across",
    }
    drawn_well(variant.circuit, found.circuit)


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
    across = {symbol.owner.key: symbol.a[0] for symbol in plan_of(lamp.circuit).symbols if symbol.owner}
    order = sorted(("line_fusing", "varistor", "neutral_fusing"), key=lambda key: across[key])
    expected = {"mains terminals": 0, "behind line fusing": 1, "behind both fusing": 2}[place]
    assert order.index("varistor") == expected
    drawn_well(lamp.circuit)


def test_many_sinks_are_one_symbol_that_says_how_many() -> None:
    lamp = plain_lamp(sinks=plain_lamp().sinks.model_copy(update={"count": 24}))
    picture = schematic(lamp)
    assert sorted(drawn_devices(picture)) == sorted(set(deck_devices(lamp)) - set(NOT_DRAWN))
    assert "24 × 40 mA" in picture.svg
