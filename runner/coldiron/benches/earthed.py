"""A lamp beside its housing on earthed mains: what flows to earth through a conductor or a hand.

Any bench or study of faults may ask it: `touched` for one point in one arrangement, `live_points` for all.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from coldiron.benches import steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.deck.circuit import circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.parts.against_housing import HOUSING, Insulation, Rule, against_housing, sectioned_start
from coldiron.parts.part import MINUS
from coldiron.readings.touch import NETWORK, HandCurrent, hand_current
from coldiron.sources.earthed import Contact, EarthedHousing, EarthedPoles, EarthValues

SOURCES = (EarthedPoles, EarthedHousing, Contact)
"""Kinds that this bench wires beside the mains."""
BOND_OHM = 0.2
"""Between the neutral of the supply and earth (from memory)."""
CLOSED_OHM = 1e-3
OPEN_F = 100e-12
"""Across the contacts of an open switch, with its cable (from memory)."""
PIERCED_OHM = 1.0
ALIKE_RATIO = 0.01
"""Two cycles whose currents differ by less than this are settled."""
ALIKE_A = 2e-7
FIRST_CYCLES = {"from the settled lamp": 3, "from rest": 5, "with a meter": 8}
MOST_CYCLES = 128


@dataclass(frozen=True)
class Arrangement:
    """How a lamp hangs on the mains, and what touches it.

    `earth` is whether the protective conductor is whole; `turned` a plug the other way round; `hand` the
    point that a person touches, `meter` that of a voltmeter of 10 MΩ to earth; `pierced` the point from
    which the insulation of the board is broken through to the housing.
    """

    earth: bool = True
    turned: bool = False
    line_closed: bool = True
    neutral_closed: bool = True
    hand: str = ""
    meter: str = ""
    pierced: str = ""

    @property
    def is_on(self) -> bool:
        """Whether both poles are closed."""
        return self.line_closed and self.neutral_closed

    def __str__(self) -> str:
        """Say it as the heading of a deck does."""
        poles = {
            (True, True): "on",
            (False, True): "off in the line",
            (True, False): "off in the neutral",
            (False, False): "off in both poles",
        }
        said = [poles[self.line_closed, self.neutral_closed], "earth whole" if self.earth else "earth open"]
        said += ["plug turned"] if self.turned else []
        said += [f"board pierced at {self.pierced}"] if self.pierced else []
        said += [f"hand on {self.hand}"] if self.hand else []
        said += [f"meter on {self.meter}"] if self.meter else []
        return ", ".join(said)


@dataclass(frozen=True)
class Touched:
    """One run of an arrangement: its last cycle, the deck, how it was run, and what a hand there carries."""

    lamp: Lamp
    deck: Deck
    waves: Waveforms
    how: str
    window: Window
    hand: HandCurrent | None

    @property
    def earth_rms_a(self) -> float:
        """Current in the protective conductor, r.m.s. [A]."""
        return self.window.rms(self.window.i("vearth"))

    def volts_rms(self, point: str) -> float:
        """Voltage between a point and earth, r.m.s. [V]."""
        return self.window.rms(to_earth_v(self.window, point))

    @property
    def string_a(self) -> float:
        """Mean current of the LEDs [A]: capacitors carry none, so it is the same in every section."""
        return self.window.mean(self.window.string_a)


def to_earth_v(window: Window, point: str) -> np.ndarray:
    """Voltage of a point to the earth of the installation [V]."""
    ground_v = window.v("ground")
    return -ground_v if point == MINUS else window.v(point) - ground_v


def beside_housing(lamp: Lamp, sections: int = 1, rule: Rule = "middle") -> Lamp:
    """Lamp with its string in sections and the insulation of its board, as decks with an earth print it."""
    housing = lamp.housing
    string_f = housing.to_hand_f(lamp.expected_power_w)
    insulation = Insulation(string_f, housing.minus_capacitance_f, housing.insulation_resistance_ohm)
    split = against_housing(lamp.circuit, insulation, sections=sections, rule=rule)
    return lamp.with_circuit(split)


def touched(case: Case, simulator: Simulator, lamp: Lamp, arrangement: Arrangement) -> Touched:
    """Run a lamp in an arrangement until two mains cycles are alike.

    A lamp that is on begins settled, one that is off at rest: as it has been for long.

    Parameters
    ----------
    case : Case
        Whose supply and heading count.
    simulator : Simulator
    lamp : Lamp
        The case's own, or a like one with a part broken; as it is without a housing.
    arrangement : Arrangement

    Raises
    ------
    NoConvergence
        If the engine does not get through, or the current to earth does not settle.
    """
    beside = beside_housing(lamp)
    start = _begins(case, simulator, lamp, beside, arrangement)
    began = "from the settled lamp" if start.nodes_v else "from rest"
    cycles = FIRST_CYCLES["with a meter" if arrangement.meter else began]
    while True:
        (deck, waves), how = first_solved(
            steady.ATTEMPTS,
            partial(_run, case, simulator, beside, arrangement, start, cycles),
        )
        last, before = _cycles(case, beside, deck, waves)
        if _alike(last, before, arrangement):
            break
        cycles *= 2
        if cycles > MOST_CYCLES:
            raise NoConvergence(f"the current to earth is not settled after {cycles // 2} mains cycles")
    hand = None
    if arrangement.hand:
        weighted_v, body_v = to_earth_v(last, "weighted"), to_earth_v(last, "body")
        hand = hand_current(last.time_s, weighted_v, body_v)
    return Touched(beside, deck, waves, f"{cycles} cycles {began}, {how}", last, hand)


def live_points(
    case: Case, simulator: Simulator, lamp: Lamp, arrangement: Arrangement, points: Iterable[str] = ()
) -> dict[str, HandCurrent]:
    """Current through a hand on each point of a lamp, one point at a time; `is_live` tells which are live.

    Parameters
    ----------
    case, simulator, lamp, arrangement
        As `touched` takes them; its `hand` is not used.
    points : iterable of str
        Of the lamp's circuit, "housing" among them; all of its own when empty.
    """
    chosen = tuple(points) or (*lamp.circuit.points, HOUSING)
    found: dict[str, HandCurrent] = {}
    for point in dict.fromkeys(chosen):
        hand = touched(case, simulator, lamp, replace(arrangement, hand=point)).hand
        assert hand is not None
        found[point] = hand
    return found


def earth_values(lamp: Lamp, arrangement: Arrangement) -> EarthValues:
    """Values of the earthed supply for a lamp."""

    def node(point: str) -> str | None:
        return ("0" if point == MINUS else point) if point else None

    return EarthValues(
        bond_ohm=BOND_OHM,
        closed_ohm=CLOSED_OHM,
        open_f=OPEN_F,
        line_closed=arrangement.line_closed,
        neutral_closed=arrangement.neutral_closed,
        turned=arrangement.turned,
        earth_ohm=lamp.housing.earth_resistance_ohm if arrangement.earth else None,
        room_f=lamp.housing.room_capacitance_f,
        pierced=node(arrangement.pierced),
        pierced_ohm=PIERCED_OHM,
        hand=node(arrangement.hand),
        meter=node(arrangement.meter),
    )


def touch_deck(
    case: Case,
    beside: Lamp,
    arrangement: Arrangement,
    start: InitialConditions,
    cycles: int,
    fineness: SolverSettings,
) -> Deck:
    """Deck of some mains cycles of a lamp beside its housing; the last two are kept."""
    # A plug that is turned shows the lamp the other half of the sine.
    state = case.conditions.operating_point(180.0 if arrangement.turned else 0.0)
    values = earth_values(beside, arrangement)
    point = arrangement.hand or arrangement.meter
    contact = (Contact("contact", (point, "ground"), values),) if point else ()
    extra = ["v(ground)", "v(housing)", "v(earth)", "i(vearth)", "i(vpole)"]
    extra += ["v(weighted)", "v(body)"] if arrangement.hand else []
    return render(
        "touch",
        case.heading(str(arrangement)),
        circuit(
            beside,
            state,
            back="origin",
            inductor_a=start.inductor_a("lmains"),
            terminals=(EarthedPoles("poles", ("feed", "origin", "line", "neutral"), values),),
            beyond=(EarthedHousing("housing", (HOUSING, "ground"), values), *contact),
        ),
        keep=tuple(dict.fromkeys((*beside.circuit.vectors(), *extra))),
        stop_s=cycles * state.cycle_s,
        keep_from_s=(cycles - 2.05) * state.cycle_s,
        fineness=fineness,
        start=start,
    )


def _run(
    case: Case,
    simulator: Simulator,
    beside: Lamp,
    arrangement: Arrangement,
    start: InitialConditions,
    cycles: int,
    fineness: SolverSettings,
) -> tuple[Deck, Waveforms]:
    deck = touch_deck(case, beside, arrangement, start, cycles, fineness)
    return deck, simulator.run(deck)


def _begins(
    case: Case, simulator: Simulator, lamp: Lamp, beside: Lamp, arrangement: Arrangement
) -> InitialConditions:
    """State in which a run begins: settled where it is on, with housing and earth at the neutral."""
    if not arrangement.is_on or arrangement.pierced:
        return InitialConditions()
    settled_lamp = replace(case, lamp=lamp)
    quiet = steady.settled(settled_lamp, simulator, case.conditions.operating_point()).next_cycle(lamp)
    nodes = dict(quiet.nodes_v)
    ground_v = nodes["line" if arrangement.turned else "neutral"]
    live_v = nodes["neutral" if arrangement.turned else "line"]
    found = sectioned_start(nodes, beside.circuit)
    found |= dict.fromkeys(("origin", "ground", "conductor", "pole_n", HOUSING, "earth"), ground_v)
    found |= dict.fromkeys(("mains", "wiring", "feed", "pole_l"), live_v)
    found |= dict.fromkeys(("weighted", "body"), ground_v) if arrangement.hand else {}
    sign = -1.0 if arrangement.turned else 1.0
    currents = {name: sign * ampere if name == "lmains" else ampere for name, ampere in quiet.inductors_a}
    return InitialConditions(tuple(found.items()), tuple(currents.items()))


def _cycles(case: Case, beside: Lamp, deck: Deck, waves: Waveforms) -> tuple[Window, Window]:
    cycle_s = case.conditions.operating_point().cycle_s
    stop_s = deck.stop_s
    return (
        Window(beside, waves, stop_s - cycle_s, stop_s),
        Window(beside, waves, stop_s - 2 * cycle_s, stop_s - cycle_s),
    )


def _alike(last: Window, before: Window, arrangement: Arrangement) -> bool:
    """Whether what is read is the same in both cycles."""

    def seen(window: Window) -> list[tuple[float, float]]:
        """What is read, and the least of it that counts."""
        found = [(window.rms(window.i("vearth")), ALIKE_A)]
        if arrangement.hand:
            found.append((window.rms(to_earth_v(window, "weighted")), NETWORK.body_ohm * ALIKE_A))
        if arrangement.meter:
            found.append((window.rms(to_earth_v(window, arrangement.meter)), 0.1))
        return found

    pairs = zip(seen(last), seen(before), strict=True)
    return all(abs(now - then) <= max(ALIKE_RATIO * now, least) for (now, least), (then, _) in pairs)
