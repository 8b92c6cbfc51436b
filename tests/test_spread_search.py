"""What decides and what it takes to pass: searches against closed forms, and every value of a series."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coldiron.answer.use import Topic
from coldiron.benches.base import Case
from coldiron.engine.local_pool import LocalPool
from coldiron.preferred import E6, E12, E24, Bought
from coldiron.spread import passes
from coldiron.spread.decides import deciding
from coldiron.spread.passes import knobs, passing
from coldiron.spread.search import FOUND_RATIO, crossing, least_step, together
from coldiron.spread.subject import Subject
from coldiron.spread.values import value_of
from coldiron.spread.words import deciding_lines, passing_lines
from coldiron.study.load import make_study
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker
from toy_benches import Formula, toy

Number = Callable[[str], float]
WATTS = Topic("rating", "line fusing, watts")


def on(use: Callable[[float], float], search: Any) -> tuple[Any, int]:
    """What a search finds of a use that is a function, and its runs."""
    runs = [0]

    def look(wanted: Sequence[tuple[int, float]]) -> list[float]:
        runs[0] += len(wanted)
        return [use(value) for _, value in wanted]

    [found] = together([search], look)
    return found, runs[0]


@given(st.floats(0.02, 0.98), st.floats(0.2, 12.0), st.booleans(), st.floats(1.5, 100.0))
def test_a_crossing_is_found_to_a_percent(place: float, power: float, rises: bool, factor: float) -> None:
    """Closed form: a power of a value crosses one where it must, however steep; and few runs do."""
    low, high = 1.0, factor
    at = low * factor**place
    sign = 1.0 if rises else -1.0
    assume(power * math.log(factor) < 60)

    def use(value: float) -> float:
        return math.exp(sign * power * math.log(value / at))

    found, runs = on(use, crossing(low, high, use(low), use(high)))
    assert found == pytest.approx(at, rel=FOUND_RATIO)
    assert use(found) <= 1.0 + 1e-9  # on the side that keeps the limit
    assert runs <= 9


@given(st.floats(0.1, 0.9), st.booleans())
def test_a_crossing_of_what_is_bent_is_found_too(place: float, rises: bool) -> None:
    """Flat nearly all the way, then steep: false position alone keeps one end and creeps."""
    sign = 1.0 if rises else -1.0

    def use(value: float) -> float:
        off = math.log(value) - 3.0 * place
        return math.exp(sign * (0.02 * off + off**3 * (8.0 if off > 0 else 0.05)))

    found, runs = on(use, crossing(1.0, math.exp(3.0), use(1.0), use(math.exp(3.0))))
    assert found == pytest.approx(math.exp(3.0 * place), rel=1.01 * FOUND_RATIO)
    assert runs <= 14


def test_a_crossing_of_a_cliff_is_found_too() -> None:
    """Flicker falls off a cliff: 5.8, 2.6, 0.015 over three values; a secant alone would never get there."""
    found, runs = on(lambda value: 0.01 if value > 3.3 else 5.8, crossing(1.0, 10.0, 5.8, 0.01))
    assert found == pytest.approx(3.3, rel=FOUND_RATIO)
    assert runs <= 12


def test_a_run_that_fails_is_stepped_aside_from() -> None:
    failed: list[float] = []

    def use(value: float) -> float:
        if 2.9 < value < 3.4 and not failed:
            failed.append(value)
            return math.nan
        return value / 3.0

    found, _ = on(use, crossing(1.0, 9.0, use(1.0), use(9.0)))
    assert failed
    assert found == pytest.approx(3.0, rel=0.02)


@given(st.sampled_from([E6, E12, E24]), st.floats(0.5, 500.0), st.floats(0.05, 20.0), st.booleans())
def test_fewest_steps_are_those_of_the_whole_series(
    series: tuple[float, ...], value: float, factor: float, up: bool
) -> None:
    """Every value within eight steps, one by one, as the reference; a use that is monotone."""
    bought = Bought(series=series)
    turn = value * factor

    def use(steps: float) -> float:
        at = bought.beside(value, int(steps))
        assert at is not None
        return (turn / at if up else at / turn) * (1 - 1e-12)

    every = [n for n in range(1, 9) if use(n if up else -n) <= 1.0]
    found, runs = on(use, least_step(lambda n: bought.beside(value, n), up=up))
    assert found == ((every[0] if up else -every[0]) if every else None)
    assert runs <= 6


def test_a_list_that_ends_is_searched_to_its_end() -> None:
    bought = Bought(values=(0.5, 1.0, 2.0, 3.0, 5.0))
    seen: list[float] = []

    def use(steps: float) -> float:
        seen.append(steps)
        return 4.0 / (bought.beside(0.5, int(steps)) or math.nan)

    found, _ = on(use, least_step(lambda n: bought.beside(0.5, n), up=True))
    assert (found, max(seen)) == (4, 4)


def subject(
    formula: Formula, variants: Mapping[str, Mapping[str, Any]] | None = None, **tables: Any
) -> Subject:
    study = make_study("kerbside-flood", variants or {}, benches=["steady"], **tables)
    return Subject(study, study.variants[-1].name, study.benches, toy(formula))


def watts_of(power: float, *, key: str = "mains.resistance", assumed: float = 0.4) -> Formula:
    """Watts at 90 % of the rating as assumed, that go with a power of an assumed value."""

    def formula(number: Number, case: Case) -> Mapping[str, float]:
        # Held to 2 W less the tolerance of ±5 %.
        rated = number("line_fusing.power") / 1.05
        return {"line_fusing_W": 0.9 * 2.0 / 1.05 * (number(key) / assumed) ** power * rated / rated}

    return formula


@pytest.mark.parametrize("power", [0.3, 2.0, -1.0])
def test_a_verdict_turns_where_the_closed_form_has_it(power: float) -> None:
    """0.9 (R/0.4)^p = 1."""
    [one] = [each for each in deciding(subject(watts_of(power))) if each.held[1] == WATTS]
    [flip] = one.flips
    assert flip.key == "mains.resistance"
    assert list(flip.at) == pytest.approx([0.4 * (1 / 0.9) ** (1 / power)], rel=0.01)
    assert flip.over_above == (power > 0)
    assert (flip.assumed, flip.provenance) == (0.4, "typical")
    assert 0.0 < flip.reach < 1.0


def test_a_hump_inside_is_seen_and_told_twice() -> None:
    """The ends of a range keep the limit, and its middle does not: watts fall to either side of 0.55 Ω."""

    def hump(number: Number, case: Case) -> Mapping[str, float]:
        off = math.log(number("mains.resistance") / 0.6)
        return {"line_fusing_W": 2.0 / 1.05 * (1.06 - 1.0 * off**2)}

    [one] = [each for each in deciding(subject(hump)) if each.held[1] == WATTS]
    [flip] = one.flips
    edges = [0.6 * math.exp(sign * math.sqrt(0.06)) for sign in (-1, 1)]
    assert sorted(flip.at) == pytest.approx(edges, rel=0.011)


def test_a_measured_value_is_no_assumption() -> None:
    """The flood's data sheet has the slope of its LEDs: no verdict can lean on it, as it could if unset."""
    found = deciding(subject(watts_of(2.0, key="string.slope", assumed=8.0)))
    assert all(not one.flips for one in found)
    [line] = deciding_lines(subject(watts_of(2.0)).lamp, [one for one in found if one.held[1] == WATTS], ())
    assert line.startswith("So by construction, whatever is assumed: line fusing watts")


def test_a_reading_on_the_bench_narrows_what_is_looked_at() -> None:
    """It turns at 0.9^(-1/0.3) = 1.42 of 0.4 Ω; a reading that leaves no more than 0.5 Ω leaves no turn."""
    one = subject(watts_of(0.3))
    pinned = {"mains.resistance": (0.35, 0.5)}
    [free] = [each for each in deciding(one) if each.held[1] == WATTS]
    [held] = [each for each in deciding(one, pinned=pinned) if each.held[1] == WATTS]
    assert len(free.flips) == 1
    assert held.flips == ()


def test_what_a_spread_takes_over_is_asked_about_too() -> None:
    def low(number: Number, case: Case) -> Mapping[str, float]:
        return {"line_fusing_W": 0.7 * 2.0 / 1.05 * (number("mains.resistance") / 0.4)}

    one = subject(low)
    assert [each.held[1] for each in deciding(one)] == []
    [asked] = deciding(one, doubtful=[("steady", WATTS)])
    assert asked.flips[0].at[0] == pytest.approx(0.4 / 0.7, rel=0.01)
    [line] = deciding_lines(one.lamp, [asked], ("steady",))
    assert "over above 571 mΩ of mains resistance (400 mΩ assumed)" in line


def broken(number: Number, case: Case) -> Mapping[str, float]:
    """Watts of a fusing resistor that is too small by a third; light and flicker pay for less current."""
    light_a = 0.2 * 9.1 / number("sinks.sense_resistor") * number("sinks.count") / 5.0
    return {
        "line_fusing_W": 2.5 * (number("line_fusing.resistance") / 4.7) * (light_a / 0.2) ** 2,
        "sinks_W": 5.0,
        "sink_each_max_W": 8.0 / number("sinks.count"),
        "light_A": light_a,
    }


def test_what_it_takes_is_the_same_as_every_value_of_each_series() -> None:
    one = subject(broken)
    [found] = passing(one, [WATTS])
    singles = {way.steps[0].key: way.steps[0] for way in found.ways if len(way.steps) == 1}
    for knob in knobs(one):
        best = None
        for n in sorted((n for n in range(-8, 9) if n and knob.at(n) is not None), key=abs):
            [outcome] = one.outcomes([(knob.changes(n), ["steady"])])
            if outcome.uses[("steady", WATTS)] <= 1.0 and outcome.light_a > 0.01 * one.base.light_a:
                best = n
                break
        if best is None:
            assert knob.key not in singles
        else:
            assert abs(singles[knob.key].steps) == abs(best)
    # By hand: 3 W; or 2.5 · R/4.7 under 1.905 W: 3.3 Ω.
    assert singles["line_fusing.power"].after == 3.0
    assert singles["line_fusing.resistance"].after == 3.3
    [line] = passing_lines(one.lamp, [found])
    assert line.startswith("To keep line fusing watts (×1.31): line fusing power 2 W → 3 W")


def test_what_a_change_breaks_besides_counts_against_it() -> None:
    """Four sinks carry 2 W each, three 2.67: the rating is 2 W."""

    def fewer(number: Number, case: Case) -> Mapping[str, float]:
        return {
            "line_fusing_W": 2.2 * number("sinks.count") / 5.0,
            "sink_worst_W": 9.0 / number("sinks.count"),
            "light_A": 0.2,
        }

    [found] = passing(subject(fewer), [WATTS])
    by_key = {way.steps[0].key: way for way in found.ways}
    assert found.ways[0].harm == 0.0
    assert by_key["sinks.count"].harm > 0.0
    [(topic, before, after)] = by_key["sinks.count"].newly
    assert topic.name == "sinks, watts of one"
    assert [before, after] == pytest.approx([0.9, 1.125])
    assert found.ways[-1].steps[0].key == "sinks.count"


def test_less_than_half_the_light_counts_as_harm() -> None:
    """Watts that fall with the light: 18 Ω leaves half of it, and the dearer resistor is asked for first."""

    def dim(number: Number, case: Case) -> Mapping[str, float]:
        light = 9.1 / number("sinks.sense_resistor")
        return {"line_fusing_W": 3.9 * light, "light_A": 0.2 * light}

    [found] = passing(subject(dim), [WATTS])
    by_key = {way.steps[0].key: way for way in found.ways}
    assert by_key["line_fusing.power"].harm == 0.0
    half = by_key["sinks.sense_resistor"]
    assert half.light_ratio == pytest.approx(9.1 / half.steps[0].after)
    assert half.harm == pytest.approx(math.log(0.5 / half.light_ratio))
    assert found.ways[0].steps[0].key == "line_fusing.power"


def test_a_dark_lamp_passes_nothing() -> None:
    def dim(number: Number, case: Case) -> Mapping[str, float]:
        dark = number("sinks.sense_resistor") > 10.0
        return {"line_fusing_W": 0.0 if dark else 2.5, "light_A": 0.0 if dark else 0.2}

    [found] = passing(subject(dim), [WATTS])
    assert all(step.key != "sinks.sense_resistor" for way in found.ways for step in way.steps)


@pytest.mark.parametrize("needed", [7.5, 8.5, 9.5, 10.5])
def test_two_values_are_found_where_one_is_not_enough(needed: float) -> None:
    """Neither eight steps of one value nor of the other do; by hand every pair, the fewest steps of them."""

    def stiff(number: Number, case: Case) -> Mapping[str, float]:
        sense = math.log(number("sinks.sense_resistor") / 9.1) / math.log(10) * 24
        film = math.log(number("film.capacitance") / 1e-7) / math.log(10) * 6
        eased = min(max(sense, 0.0), 8.0) + min(max(film, 0.0), 4.0)
        # The rating grows with the watts bought, so that no power rating of its own helps.
        rated = number("line_fusing.power")
        return {"line_fusing_W": rated * (1.5 - 0.5 * eased / needed), "light_A": 0.2}

    one = subject(stiff)
    [found] = passing(one, [WATTS])
    assert all(len(way.steps) == 2 for way in found.ways)
    turned = {knob.key: knob for knob in knobs(one)}
    sense, film = turned["sinks.sense_resistor"], turned["film.capacitance"]
    every = []
    for a in range(1, 9):
        for b in range(1, 9):
            if sense.at(a) is None or film.at(b) is None:
                continue
            [outcome] = one.outcomes([(sense.changes(a) + film.changes(b), ["steady"])])
            if outcome.uses[("steady", WATTS)] <= 1.0:
                every.append(a + b)
    assert found.ways[0].size == min(every)


def test_nothing_is_said_to_be_found_where_nothing_is() -> None:
    def never(number: Number, case: Case) -> Mapping[str, float]:
        return {"line_fusing_W": 2.0 * number("line_fusing.power"), "light_A": 0.2}

    one = subject(never)
    [found] = passing(one, [WATTS])
    assert found.ways == ()
    assert "nothing that can be bought does" in passing_lines(one.lamp, [found])[0]


def test_a_failed_run_is_no_pass() -> None:
    def fails(number: Number, case: Case) -> Mapping[str, float] | None:
        return None if number("line_fusing.power") > 2.0 else {"line_fusing_W": 2.5, "light_A": 0.2}

    [found] = passing(subject(fails), [WATTS])
    assert found.ways == ()


def test_a_varistor_class_brings_its_voltages() -> None:
    one = subject(broken)
    [varistor] = [knob for knob in knobs(one) if knob.key == "varistor.ac_rating"]
    changes = dict(varistor.changes(-1))
    # The flood has the 300 V class; below it stands 275 V, with 430 V at 1 mA and 710 V (catalogues).
    assert changes == {
        "varistor.ac_rating": 275.0,
        "varistor.one_milliamp_voltage": 430.0,
        "varistor.clamping_voltage": 710.0,
    }


def test_the_drain_capacitor_is_never_proposed() -> None:
    """It would keep the drain in the surge, and break the string six times over: our measurement."""
    assert all("drain_capacitor" not in knob.key for knob in knobs(subject(broken)))


@pytest.mark.ngspice
def test_real_runs_find_the_same_as_the_whole_series() -> None:
    """22 µF and 10 Ω: the line fusing resistor burns too much; every ohm of E12 below it, one by one."""
    changes = {"reservoir.capacitance": "22 µF", "line_fusing.resistance": "10 Ω"}
    study = make_study("kerbside-flood", {"v": changes}, benches=["steady"])
    pool = LocalPool(1, start_worker)

    def run(cases: Sequence[Case]) -> Sequence[FinishedCase]:
        return run_cases(cases, pool, readings_only=True)

    try:
        one = Subject(study, "v", study.benches, run)
        [ohms] = [knob for knob in knobs(one) if knob.key == "line_fusing.resistance"]
        every = [(n, one.outcomes([(ohms.changes(n), ["steady"])])[0]) for n in range(-1, -6, -1)]
        exhaustive = next(n for n, outcome in every if outcome.uses["steady", WATTS] <= 1.0)

        def look(wanted: Sequence[tuple[int, float]]) -> list[float]:
            outcomes = one.outcomes([(ohms.changes(int(n)), ["steady"]) for _, n in wanted])
            return [outcome.uses["steady", WATTS] for outcome in outcomes]

        [found] = together([least_step(ohms.at, up=False)], look)
        assert found == exhaustive
        value = value_of(study.variants[1].lamp, "line_fusing.resistance")
        assert value is not None
        assert ohms.at(exhaustive) in (4.7, 5.6, 6.8)
    finally:
        pool.close()
    assert passes.MOST_STEPS == 8
