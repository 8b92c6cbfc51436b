"""Readings held against each other: broken laws are named, possible readings are left alone."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.fit import meter, power_factor
from coldiron.fit.contradictions import Contradiction, contradictions
from coldiron.lamp.body import BenchReading
from laboratory import changed
from lamps import load_lamp, plain_lamp, reservoir

Taken = tuple[str, str, float]


def found(*taken: Taken, tolerance: float = 0.02, mains: float = 230.0, **lamp: Any) -> list[Contradiction]:
    readings = tuple(
        BenchReading(what=what, state=state, value=value, tolerance_ratio=tolerance, mains_voltage_v=mains)  # type: ignore[arg-type]
        for what, state, value in taken
    )
    return contradictions(plain_lamp(reading=readings, **lamp))


# --- meters ---------------------------------------------------------------------------------------


def test_tolerance_is_a_rectangle() -> None:
    # JCGM 100:2008, 4.3.7: limits of ±a and nothing else known give a standard uncertainty of a/√3.
    reading = BenchReading(
        what="input power", state="cold", value=50.0, tolerance_ratio=0.02, tolerance_digits=3
    )
    assert meter.tolerance(reading) == pytest.approx(0.02 * 50.0 + 3 * 0.1)
    assert meter.standard_uncertainty(reading) == pytest.approx(1.3 / math.sqrt(3.0))


# --- power factor in closed form ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "factor"), [(0.5, 0.9549), (0.75, 0.8779), (0.8, 0.8440), (0.9, 0.7324), (0.95, 0.6252)]
)
def test_power_factor_without_reservoir(ratio: float, factor: float) -> None:
    # Closed form, by quadrature of a constant current that flows while |sin| > r.
    steps = 200_000
    sines = [math.sin(math.pi * (n + 0.5) / steps) for n in range(steps)]
    flowing = [s for s in sines if s > ratio]
    power, square = sum(flowing) / steps, len(flowing) / steps
    assert power_factor.without_reservoir(ratio) == pytest.approx(power / math.sqrt(square / 2), abs=1e-4)
    assert power_factor.without_reservoir(ratio) == pytest.approx(factor, abs=5e-5)


@given(ratio=st.floats(0.01, 0.98))
def test_no_string_voltage_gives_a_higher_factor(ratio: float) -> None:
    assert power_factor.without_reservoir(ratio) <= power_factor.HIGHEST


@pytest.mark.parametrize(
    ("capacitance", "mains", "frequency", "factor"),
    [
        (4.7e-6, 230.0, 50.0, 0.577),
        (10e-6, 230.0, 50.0, 0.506),
        (47e-6, 230.0, 50.0, 0.360),
        (10e-6, 120.0, 60.0, 0.551),
    ],
)
def test_power_factor_with_reservoir(
    capacitance: float, mains: float, frequency: float, factor: float
) -> None:
    # Closed form of a bridge, a reservoir and 60 mA that never stop.
    load = 0.06 / (2 * math.pi * frequency * capacitance * math.sqrt(2.0) * mains)
    assert power_factor.with_reservoir(load) == pytest.approx(factor, abs=6e-4)


# --- figures of the trade -------------------------------------------------------------------------

# Common practice, no source: a lamp that took 95 W and 410 mA cold, 71 W and 370 mA warm, its dies near
# 160 °C in a room of 15 °C.
TRADE: tuple[Taken, ...] = (
    ("input power", "cold", 95.0),
    ("input current", "cold", 0.41),
    ("input power", "hot", 71.0),
    ("input current", "hot", 0.37),
    ("die temperature", "hot", 160.0),
)


@pytest.mark.parametrize("mains", [230.0, 240.0])
def test_two_powers_that_do_not_go_with_two_currents(mains: float) -> None:
    lines = found(*TRADE, mains=mains)
    both = [line for line in lines if len(line.involved) == 4]
    assert len(both) == 1
    factors = f"{95 / (mains * 0.41):.3f} cold and {71 / (mains * 0.37):.3f} hot cannot both be true"
    assert factors in str(both[0])
    # Of the four, the power cold is the cheapest to change: to about the factor the lamp has hot.
    assert both[0].suspects[0].place == 0
    assert both[0].suspects[0].would_be == pytest.approx(71.0 * 0.41 / 0.37, rel=0.04)
    # The current that falls is explained: foldback at these dies leaves half.
    assert not any("foldback" in str(line) for line in lines)


@pytest.mark.parametrize("mains", [230.0, 240.0])
def test_the_change_it_names_reconciles_the_rest(mains: float) -> None:
    [line] = found(*TRADE, mains=mains)
    assert line.suspects
    for place, would_be in line.suspects:
        mended = list(TRADE)
        mended[place] = (*TRADE[place][:2], would_be)
        assert found(*mended, mains=mains) == []


def test_close_meters_see_power_above_volts_times_amperes() -> None:
    # 95 W of 230 V and 410 mA, 94.3 VA: impossible, but for meters of 2 % not certain.
    assert not any("power above" in str(line) for line in found(*TRADE[:2], tolerance=0.02))
    [line] = found(*TRADE[:2], tolerance=0.005)
    assert "power above 230 V times the current (power factor 1.007)" in str(line)


# --- one law after the other ----------------------------------------------------------------------


def test_power_factor_read_is_held_to_power_and_current() -> None:
    lines = found(
        ("input power", "cold", 40.0), ("input current", "cold", 0.2), ("power factor", "cold", 0.6)
    )
    assert len(lines) == 1
    assert "power over volts times amperes is 0.870 at 230 V" in str(lines[0])
    # Power, current or power factor: any of them may be wrong, and each is named.
    assert {change.place for change in lines[0].suspects} == {0, 1, 2}
    assert all(
        name in str(lines[0])
        for name in ("input power cold, if", "input current cold, if", "power factor cold, if")
    )


def test_die_cooler_than_its_board() -> None:
    [line] = found(("die temperature", "hot", 70.0), ("board temperature", "hot", 90.0))
    assert "a die cooler than its board" in str(line)
    # Either may be the wrong one.
    assert dict(line.suspects) == pytest.approx({0: 90.0, 1: 70.0}, abs=0.5)
    assert all(f"{name} temperature hot, if it were" in str(line) for name in ("die", "board"))
    assert found(("die temperature", "hot", 89.0), ("board temperature", "hot", 90.0)) == []


def test_current_that_falls_with_no_foldback_to_explain_it() -> None:
    falls = ("input current", "cold", 0.2), ("input current", "hot", 0.15)
    [line] = found(*falls, ("die temperature", "hot", 80.0))
    assert "current falls by 25 % with no foldback to explain it" in str(line)
    assert line.suspects
    assert not line.held
    assert found(*falls, ("die temperature", "hot", 142.0)) == []
    # The knee of 125 °C is typical: one of 104 °C would do, and is suspected before a true reading is blamed.
    [line] = found(*falls, ("die temperature", "hot", 120.0))
    assert line.held == "sinks.foldback_knee"
    assert line.suspects == ()
    assert "sinks.foldback_knee is typical, and 105 °C would explain it" in str(line)
    sure = plain_lamp().sinks.model_copy(update={"provenances": {"foldback_knee": "measured"}})
    [line] = found(*falls, ("die temperature", "hot", 120.0), sinks=sure)
    assert not line.held
    assert line.suspects
    assert found(*falls) == []  # nobody read the dies
    never = changed(plain_lamp(), sinks={"foldback_slope_per_k": 0.0}).sinks
    [line] = found(*falls, sinks=never)
    assert "the sinks have no foldback" in str(line)


def test_temperature_below_the_room_and_voltage_above_the_peak() -> None:
    lines = found(("housing temperature", "hot", 10.0), ("string voltage", "cold", 400.0))
    assert [
        "cooler than its room of 25 °C" in str(lines[0]),
        "above the peak of the mains (325 V)" in str(lines[1]),
    ] == [
        True,
        True,
    ]
    # Each is alone: what mends the one does not wait for the other.
    assert all(str(line).endswith("would reconcile the rest") for line in lines)
    assert lines[0].suspects[0].would_be == pytest.approx(25.0, abs=0.3)
    assert lines[1].suspects[0].would_be == pytest.approx(math.sqrt(2) * 230.0, rel=0.002)


def test_the_same_reading_twice() -> None:
    assert found(("input power", "cold", 40.0), ("input power", "cold", 41.0)) == []
    [line] = found(("input power", "cold", 40.0), ("input power", "cold", 47.0))
    assert dict(line.suspects) == pytest.approx({0: 47.0, 1: 40.0}, rel=0.01)


def test_readings_on_different_mains_are_not_compared() -> None:
    def on(mains: float, what: str, state: str, value: float) -> BenchReading:
        return BenchReading(what=what, state=state, value=value, mains_voltage_v=mains)  # type: ignore[arg-type]

    readings = (on(230.0, "input power", "cold", 95.0), on(120.0, "input current", "cold", 0.2))
    assert contradictions(plain_lamp(reading=readings)) == []


def test_a_reservoir_may_lower_the_factor_hot_and_none_may_not() -> None:
    taken = (
        ("input power", "cold", 40.0),
        ("input current", "cold", 40.0 / 230 / 0.50),
        ("input power", "hot", 24.0),
        ("input current", "hot", 24.0 / 230 / 0.42),
    )
    assert found(*taken, reservoir=reservoir(47e-6)) == []
    [line] = found(*taken)
    assert "without reservoir" in str(line)


@pytest.mark.parametrize("name", ["corridor-panel", "kerbside-flood", "pantry-bulb", "stairwell-dome"])
def test_demo_lamps_do_not_contradict_themselves(name: str) -> None:
    assert contradictions(load_lamp(name)) == []


@given(
    ratio=st.floats(0.5, 0.9),
    current=st.floats(0.05, 1.0),
    held=st.floats(0.4, 1.0),
    warmer=st.floats(0.93, 1.0),
)
def test_readings_of_one_possible_lamp_never_contradict(
    ratio: float, current: float, held: float, warmer: float
) -> None:
    # Closed form of a lamp without reservoir: set current I while |v| > r Vpk; hot, foldback leaves a share
    # of it and the string has fallen a little.
    def taken(state: str, set_a: float, r: float) -> list[Taken]:
        share = 1.0 - 2.0 * math.asin(r) / math.pi
        amperes = set_a * math.sqrt(share)
        watts = 2.0 * math.sqrt(2.0) * 230.0 * set_a * math.cos(math.asin(r)) / math.pi
        return [("input power", state, watts), ("input current", state, amperes)]

    sinks = plain_lamp().sinks
    die = sinks.foldback_knee_c + (1.0 - held) / sinks.foldback_slope_per_k
    hot = ("die temperature", "hot", die)
    assert found(*taken("cold", current, ratio), *taken("hot", held * current, warmer * ratio), hot) == []
