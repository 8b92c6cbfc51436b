"""Any kind of part in random places of the demo lamps of every topology."""

from __future__ import annotations

from functools import partial

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from coldiron.benches.settling import NotSettled, estimated_start
from coldiron.benches.steady import steady_deck
from coldiron.deck.guard import check_deck
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.parts import KINDS
from coldiron.parts.ladder import ladder
from laboratory import Laboratory, case_of
from random_places import ACROSS, IN_A_RAIL, LAMPS, deck_nodes, demo, judged, random_lamp, twice, words

SUPPLY_NODES = {"mains", "wiring", "feed"}
seeds = partial(st.integers, 0, 10_000)


def test_every_placeable_kind_takes_part() -> None:
    placeable = {word for word, kind in KINDS.items() if kind.placeable}
    assert placeable - {*ACROSS, *IN_A_RAIL} == {"bridge"}  # four ends


def printed(lamp: Lamp) -> str:
    case = case_of(lamp, "steady")
    state = case.conditions.operating_point()
    return steady_deck(case, state, estimated_start(lamp, state), 0.02).text


def held_to_its_deck(lamp: Lamp) -> None:
    """The deck passes the guard, names nothing twice, and has the nodes that a start is told of."""
    text = printed(lamp)
    check_deck(text)
    assert twice(text) == [], words(lamp)
    assert deck_nodes(text) - SUPPLY_NODES == set(lamp.circuit.nodes()), words(lamp)
    drawn = ladder(lamp.circuit)
    for part in lamp.further:
        assert part.name in drawn, words(lamp)


def test_the_demo_lamps_print_every_node_they_are_started_from() -> None:
    for name in LAMPS:
        held_to_its_deck(demo(name))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(seeds())
def test_a_part_anywhere_prints_a_deck_of_its_own_nodes(seed: int) -> None:
    lamp = random_lamp(seed)
    assume(lamp is not None)
    assert lamp is not None
    held_to_its_deck(lamp)


def settles_balances_and_restarts(laboratory: Laboratory, lamp: Lamp) -> None:
    """Where the watts go adds up to what the mains gives, and a start from a snapshot is no other run."""
    try:
        found = laboratory.call(judged, case_of(lamp, "steady"))
    except NotSettled:
        # Diodes and capacitors before the bridge may make a pump that creeps for minutes: it says so.
        assert any(part.kind == "diode" for part in lamp.further), words(lamp)
        return
    assert abs(found.balance_pct) < 0.5, words(lamp)
    assert found.moved_w < 1e-4 * max(found.input_w, 0.05), words(lamp)


@pytest.mark.ngspice
@settings(max_examples=25, deadline=None, derandomize=True)
@given(seed=seeds())
def test_a_part_anywhere_settles_balances_and_restarts(laboratory: Laboratory, seed: int) -> None:
    lamp = random_lamp(seed)
    assume(lamp is not None)
    assert lamp is not None
    settles_balances_and_restarts(laboratory, lamp)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("first", range(0, 1000, 50))
def test_parts_in_a_thousand_places(laboratory: Laboratory, first: int) -> None:
    for seed in range(first, first + 50):
        lamp = random_lamp(seed)
        if lamp is not None:
            settles_balances_and_restarts(laboratory, lamp)


def test_a_node_that_a_kind_forgets_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    lamp = load_lamp("shed-lantern")  # A lamp of its own: what was asked of one before is remembered.
    monkeypatch.setattr(type(lamp.circuit["rectifier"]), "inner_nodes", lambda self: ())
    assert deck_nodes(printed(lamp)) - SUPPLY_NODES != set(lamp.circuit.nodes())
