"""Heat: the lamp where it settles, hot; how it gets there, and what it does in other rooms.

Electrical runs and temperatures are brought together by `coldiron.heat.balance`. Each run begins in the
state in which the run before it ended, a moment before the cycle that is read, so that little more than one
mains cycle is enough for most.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from coldiron.benches import steady
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.settling import LEAD_DEG, NotSettled, Settled
from coldiron.benches.steady_readings import steady_readings
from coldiron.benches.switch_on import peak_inrush_a
from coldiron.deck.circuit import OperatingPoint
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence, NotApplicable
from coldiron.heat import life
from coldiron.heat.averages import NOTHING, Averages, HeatRecord, heat_flows, light_ratio
from coldiron.heat.balance import Balance, balance
from coldiron.heat.network import Network
from coldiron.heat.own_seats import STILL_K, moved_k, own_temperatures_c
from coldiron.heat.rooms import rooms
from coldiron.heat.shut_off import Blink, HeatSwitch, blink, heat_switches
from coldiron.heat.warm_up import WarmUp
from coldiron.lamp.lamp import Lamp
from coldiron.parts.electrolytic import ripple_share
from coldiron.parts.roles import Ages, WarmsItself

SETTLED_RATIO = 5e-5
"""Largest change from one half cycle to the next: 0.05 K of a die are not to drown in what is left of it. The
halves of a settled cycle differ by up to 2.3e-5: the engine sets its steps differently in them (measured)."""
MOST_OWN_RUNS = 10
"""Runs in which a part of its own temperature has to find it; three are common."""
GAP_S = 1.0
"""How long a lamp is off before it is struck again: a flick of the switch (our choice)."""
SAMPLES = 400
"""Even samples of a cycle that a record keeps."""
AVERAGE_NAMES = {"input_W": "input_w", "input_A": "input_a", "light_A": "light_a", "sinks_W": "sinks_w"}
"""Vectors of a warm-up over electrical averages: name to field."""


@dataclass
class SettledRuns:
    """Settled runs of one case, each begun where the one before ended."""

    case: Case
    lab: Simulator
    last: Settled | None = None
    state: OperatingPoint | None = None
    shut: Settled | None = None
    own_c: dict[str, float] | None = None

    def at(self, die_c: float, string_c: float) -> HeatRecord:
        """Settle the circuit at a die and a string temperature, parts of their own temperature with it.

        Raises
        ------
        NoConvergence
            If such a part finds no temperature of its own.
        """
        if self.own_c is None:
            around_c = self.case.conditions.ambient_c
            self.own_c = {part.name: around_c for part in self.case.lamp.circuit.having(WarmsItself)}
        for _ in range(MOST_OWN_RUNS):
            found = self._at(die_c, string_c)
            then_c = own_temperatures_c(self.case.lamp.circuit, self.window(), self._board_c(found))
            if moved_k(self.own_c, then_c) < STILL_K:
                return found
            self.own_c = then_c
        stand = ", ".join(f"{name} at {at_c:.1f} °C" for name, at_c in self.own_c.items())
        raise NoConvergence(f"no balance of its own after {MOST_OWN_RUNS} electrical runs: {stand}")

    def window(self) -> Window:
        """Settled cycle of the last run."""
        assert self.last is not None
        assert self.state is not None
        run = self.last
        return Window(self.case.lamp, run.waves, run.start_s, run.stop_s, self.state.part_conditions())

    def _board_c(self, found: HeatRecord) -> float:
        """Board under a string of that temperature, never colder than its room [°C]."""
        [string, *_] = self.case.lamp.circuit.lights
        kept_w = heat_flows(string, found.averages).string_w
        board_c = found.string_c - self.case.lamp.heat.string_to_board_k_per_w * kept_w
        return max(self.case.conditions.ambient_c, board_c)

    def _at(self, die_c: float, string_c: float) -> HeatRecord:
        # A deck prints its temperatures; digits that mean nothing would only make decks differ.
        # The reservoir sits on the board, which the string keeps a few kelvin cooler than itself.
        die_c, string_c = round(die_c, 4), round(string_c, 4)
        state = replace(
            self.case.conditions.operating_point(),
            die_c=die_c,
            string_c=string_c,
            reservoir_c=string_c,
            own_c=self._own(),
        )
        first = self.last.next_cycle(self.case.lamp, LEAD_DEG) if self.last else None
        try:
            self.last = steady.settled(self.case, self.lab, state, first, SETTLED_RATIO)
        except NotSettled:
            # Still moving a little more than that: as settled as a cold lamp has to be will do.
            self.last = steady.settled(self.case, self.lab, state, first)
        self.state = state
        return record(self.case.lamp, state, self.last)

    def _own(self) -> tuple[tuple[str, float], ...]:
        return tuple((name, round(at_c, 4)) for name, at_c in (self.own_c or {}).items())

    def dark(self, switch: HeatSwitch, string_c: float) -> Averages:
        """Settle the circuit with its sinks shut off; behind an open contact nothing flows (5 mW)."""
        if not switch.at_the_dies:
            return NOTHING
        state = replace(
            self.case.conditions.operating_point(), string_c=round(string_c, 4), own_c=self._own(), shut=True
        )
        self.shut = steady.settled(self.case, self.lab, state)
        return record(self.case.lamp, state, self.shut).averages


def record(lamp: Lamp, state: OperatingPoint, run: Settled) -> HeatRecord:
    """What a settled run tells about heat."""
    cycle = Window(lamp, run.waves, run.start_s, run.stop_s, state.part_conditions())
    string_w = sum(string.dissipated_w(cycle) for string in cycle.strings)
    each_w = [watts for sink in cycle.regulators for watts in sink.each_w(cycle)]
    input_w = cycle.watts(cycle.mains_v, cycle.input_a)
    sinks_w = float(sum(each_w))
    return HeatRecord(
        die_c=state.die_c,
        string_c=state.string_c,
        averages=Averages(
            sinks_w=sinks_w,
            sink_worst_w=max(each_w, default=0.0),
            string_w=string_w,
            others_w=max(0.0, input_w - sinks_w - string_w),
            input_w=input_w,
            input_a=cycle.rms(cycle.input_a),
            light_a=cycle.mean(np.maximum(cycle.string_a, 0.0))
            * light_ratio(cycle.strings[0], state.string_c),
        ),
        bus_v=np.interp(
            np.linspace(run.start_s, run.stop_s, SAMPLES, endpoint=False), cycle.time_s, cycle.v("bus")
        ),
    )


def network(case: Case) -> Network:
    """Thermal network of a case in its room."""
    return Network(case.lamp, case.conditions.ambient_c, case.conditions.fitting_k_per_w)


def take(case: Case, lab: Simulator) -> BenchResult:
    """Readings of the lamp where it settles, and what it does if it does not."""
    if not case.lamp.circuit.lights:
        raise NotApplicable("no string that works: nothing makes light, and nothing is there to warm")
    runs = SettledRuns(case, lab)
    room = network(case)
    known: tuple[HeatRecord, ...] = ()
    if heat_switches(case.lamp):
        known = (runs.at(room.ambient_c, room.ambient_c),)
        blinks = first_blink(room, runs, known)
        if blinks is not None:
            return blinking(room, runs, blinks)
    found = balance(room, runs.at, known)
    if shuts_off(case.lamp, found.warm_up.nodes_c.max(axis=1)):
        # Foreseen from the cold run alone it stayed below.
        blinks = first_blink(room, runs, found.records)
        if blinks is not None:
            return blinking(room, runs, blinks)
    waves = {"warm-up": warm_up_waves(found.warm_up)}
    settled, state = runs.last, runs.state
    assert settled is not None
    assert state is not None
    if not found.stands:
        return BenchResult(astray_readings(found), {"heat": settled.deck}, waves, {"heat": settled.how})
    readings: dict[str, float | str] = {
        **steady_readings(case.lamp, state, settled),
        **heat_readings(room, found),
        **capacitor_readings(case, found, settled),
        **own_readings(case, lab, runs, found.temperatures.board_c),
    }
    waves["heat"] = settled.waves
    if case.conditions.rooms_c:
        waves["ambient sweep"] = sweep = ambient_sweep(case, found, runs.at)
        readings |= across_rooms(sweep)
    return BenchResult(readings, {"heat": settled.deck}, waves, {"heat": settled.how})


def heat_readings(room: Network, found: Balance) -> dict[str, float | str]:
    """Temperatures, foldback and margins of a lamp that has settled."""
    lamp, at = room.lamp, found.temperatures
    cold_light_a = float(found.warm_up.of("light_a")[0])
    return {
        "heat_outcome": found.outcome,
        **_dies(lamp, found),
        "string_C": at.string_c,
        "board_C": at.board_c,
        "housing_C": at.housing_c,
        "light_hot_pct": 100 * found.averages.light_a / cold_light_a if cold_light_a > 0 else 0.0,
        "settle_min": found.warm_up.settle_s / 60.0,
        "string_margin_K": min(string.maximum_junction_c for string in lamp.circuit.lights) - at.string_c,
        "heat_runs": float(len(found.records)),
    }


def _dies(lamp: Lamp, found: Balance) -> dict[str, float | str]:
    """Temperatures and margins of the dies; nothing where nothing regulates."""
    sinks = lamp.circuit.regulators
    if not sinks:
        return {}
    at, worst_w = found.temperatures, found.averages.sink_worst_w
    worst_c = at.board_c + lamp.heat.die_to_board_k_per_w * worst_w
    return {
        "sink_die_C": at.die_c,
        "sink_die_worst_C": worst_c,
        "foldback_pct": 100 * (1.0 - lamp.circuit.foldback_ratio(at.die_c)),
        "sink_die_margin_K": min(sink.maximum_die_c for sink in sinks) - worst_c,
        "sink_power_margin_pct": 100 * (1.0 - worst_w / min(sink.each_power_w for sink in sinks)),
    }


def capacitor_readings(case: Case, found: Balance, run: Settled) -> dict[str, float | str]:
    """Core temperature and estimated life of each electrolytic, which sits on the board."""
    cycle = Window(case.lamp, run.waves, run.start_s, run.stop_s)
    readings: dict[str, float | str] = {}
    for part in case.lamp.circuit.having(Ages):
        rated_a = part.rated_ripple_a or life.typical_ripple_a(part.stored_f)
        rated_a *= ripple_share(case.conditions.frequency_hz)
        core_c = life.core_c(found.temperatures.board_c, cycle.rms(part.current_a(cycle)), rated_a)
        readings[f"{part.name}_core_C"] = core_c
        readings[f"{part.name}_life_h"] = life.electrolytic_life_h(
            core_c, part.rated_life_h, part.rated_temperature_c
        )
    return readings


def own_readings(case: Case, lab: Simulator, runs: SettledRuns, board_c: float) -> dict[str, float | str]:
    """Temperature of each part that warms itself, and the inrush that it lets through while it is warm.

    Warm is the moment at which the lamp is switched off; re-struck it is `GAP_S` later, each with its
    capacitors empty, which is the worst.
    """
    own_c = runs.own_c or {}
    if not own_c:
        return {}
    cooled_c = {
        part.name: board_c + (own_c[part.name] - board_c) * math.exp(-GAP_S / part.cools_s)
        for part in case.lamp.circuit.having(WarmsItself)
    }
    return {
        **{f"{name}_C": at_c for name, at_c in own_c.items()},
        "inrush_warm_A": peak_inrush_a(case, lab, own_c),
        "inrush_restruck_A": peak_inrush_a(case, lab, cooled_c),
    }


def shuts_off(lamp: Lamp, nodes_c: Sequence[float] | Array) -> bool:
    """Whether a lamp is switched off by heat where its nodes stand so [°C], as in `Temperatures`."""
    return any(nodes_c[switch.node] >= switch.opens_c for switch in heat_switches(lamp))


def first_blink(room: Network, runs: SettledRuns, known: Sequence[HeatRecord]) -> Blink | None:
    """Blink of what switches a lamp off first; None where nothing does."""
    blinks = [
        found
        for switch in heat_switches(room.lamp)
        if (found := blink(room, runs.at, partial(runs.dark, switch), known, switch)) is not None
    ]
    return min(blinks, key=lambda found: found.way[0].length_s, default=None)


def blinking(room: Network, runs: SettledRuns, found: Blink) -> BenchResult:
    """Readings of a lamp whose sinks shut off: its rhythm, and no settled state."""
    assert runs.last is not None
    settled = {"shut off": runs.shut, "heat": runs.last} if runs.shut else {"heat": runs.last}
    first, rhythm = found.way[0], found.rhythm
    readings: dict[str, float | str] = {
        "heat_outcome": found.outcome,
        "sink_die_worst_C": float(first.end_c[0]),
        "string_C": rhythm.hottest.string_c if rhythm else float(first.end_c[1]),
        "board_C": max(
            float(row.nodes_c[2].max()) for row in (*found.way, *((rhythm.lit,) if rhythm else ()))
        ),
        "first_shut_off_min": first.length_s / 60.0,
        "heat_runs": float(len(found.records)),
    }
    if rhythm:
        lit_a = np.array([found.lit(die, string).light_a for die, string in rhythm.lit.nodes_c[:2].T])
        cold_a = found.lit(room.ambient_c, room.ambient_c).light_a
        readings |= {
            "blink_period_s": rhythm.period_s,
            "blink_lit_pct": 100 * rhythm.lit_ratio,
            "light_hot_pct": 100 * rhythm.lit_ratio * rhythm.lit.mean(lit_a) / cold_a if cold_a > 0 else 0.0,
            "die_swing_K": float(np.ptp(rhythm.lit.nodes_c[0])),
        }
    return BenchResult(
        readings,
        {name: run.deck for name, run in settled.items()},
        {"warm-up": blink_waves(found)},
        {name: run.how for name, run in settled.items()},
    )


def blink_waves(found: Blink) -> Waveforms:
    """From cold to the first shut-off and some stretches on, with the vectors of a warm-up."""
    times, nodes, averages = [], [], []
    begin_s = 0.0
    for row in found.way:
        times.append(begin_s + row.time_s)
        nodes.append(row.nodes_c)
        averages += [found.lit(*at_c) if row.lit else found.dark for at_c in row.nodes_c[:2].T.tolist()]
        begin_s += row.length_s
    nodes_c = np.hstack(nodes)
    vectors = {f"{node}_C": nodes_c[n] for n, node in enumerate(("die", "string", "board", "housing"))}
    for name, field in AVERAGE_NAMES.items():
        vectors[name] = np.array([getattr(average, field) for average in averages])
    return Waveforms(np.concatenate(times), vectors)


def astray_readings(found: Balance) -> dict[str, float | str]:
    """What can be said of a lamp without a balance: what it does, and when it passes its limit."""
    readings: dict[str, float | str] = {
        "heat_outcome": found.outcome,
        # As far as it was followed: a runaway is cut off above the limit of the dies, so it counts as over.
        "sink_die_worst_C": float(found.warm_up.of("die_c").max()),
        "heat_runs": float(found.runs),
    }
    if found.outcome == "thermal runaway":
        readings["runaway_min"] = float(found.warm_up.time_s[-1]) / 60.0
        return readings
    late = found.warm_up.time_s >= 0.75 * found.warm_up.time_s[-1]
    readings["die_swing_K"] = float(np.ptp(found.warm_up.of("die_c")[late]))
    return readings


def warm_up_waves(way: WarmUp) -> Waveforms:
    """Course of a warm-up as vectors over time, their names with the unit as the last word."""
    names = {f"{node}_C": f"{node}_c" for node in ("die", "string", "board", "housing")} | AVERAGE_NAMES
    return Waveforms(way.time_s, {name: way.of(field) for name, field in names.items()})


def ambient_sweep(case: Case, found: Balance, run_at: Callable[[float, float], HeatRecord]) -> Waveforms:
    """Where the lamp settles in the rooms of a case.

    The coldest and the hottest room are brought to balance with electrical runs of their own; the rooms
    between follow from all runs together.

    Returns
    -------
    Waveforms
        Die, string and housing temperature and light over the temperatures of the rooms, which stand in the
        place of time; NaN in a room where there is no balance.
    """
    rooms_c = case.conditions.rooms_c
    networks = [Network(case.lamp, c, case.conditions.fitting_k_per_w) for c in rooms_c]
    rows = [
        [float("nan")] * 4
        if room is None or shuts_off(case.lamp, room[0])
        else [room[0].die_c, room[0].string_c, room[0].housing_c, room[1].light_a]
        for room in rooms(networks, run_at, found.records, found.temperatures)
    ]
    columns: Array = np.array(rows).T
    names = ("die_C", "string_C", "housing_C", "light_A")
    return Waveforms(np.array(rooms_c), dict(zip(names, columns, strict=True)))


def across_rooms(sweep: Waveforms) -> dict[str, float | str]:
    """Light in the hottest room, of that in the coldest [%]; nothing where one of them has no balance."""
    light_a = sweep["light_A"]
    if not light_a[0] > 0 or np.isnan(light_a[-1]):
        return {}
    return {"light_across_rooms_pct": 100 * float(light_a[-1] / light_a[0])}
