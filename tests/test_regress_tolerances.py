"""How far a reading may move: defaults, a study's own, and the laws of a distance."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.readings.catalogue import kind_of
from coldiron.regress.moves import distance
from coldiron.regress.tolerances import Allowed, allowed_for, check_patterns, default_for
from coldiron.study.load import study_from
from coldiron.study.tolerance import Tolerance

NUMBERS = st.floats(-1e6, 1e6)
ALLOWED = st.builds(Allowed, st.floats(0, 1), st.floats(0, 1e3))


def test_a_surge_peak_may_move_more_than_a_dissipation() -> None:
    assert default_for("surge_sink_peak_A").relative_ratio > default_for("sinks_W").relative_ratio


@pytest.mark.parametrize(
    ("reading", "value", "noise"),
    [
        # Readings of one deck on ngspice 39.3 and 46, or with finer steps: measured, regression only.
        ("sink_headroom_V", 0.9692, 0.9295),
        ("conduction_peak_deg", 54.45, 53.2),
        ("discharge_pins_34V_s", 0.03721, 0.03687),
        ("surge_varistor_peak_A", 11.83, 11.72),
        ("surge_sink_energy_mJ", 4.504, 4.748),
        ("inrush_sink_energy_mJ", 3.136, 2.886),
        ("first_light_ms", 0.915, 0.8921),
        ("harmonic_20_pct", 5.6e-8, 4.4e-5),
    ],
)
def test_what_another_engine_gives_is_within(reading: str, value: float, noise: float) -> None:
    assert distance(value, noise, default_for(reading)) <= 1.0


@pytest.mark.parametrize(
    ("reading", "was", "now"),
    [
        # Changes that a person would want to be told of, each a few per cent: common practice, no source.
        ("input_power_W", 45.8, 46.5),
        ("power_factor", 0.897, 0.885),
        ("flicker_pct", 12.0, 12.3),
        ("surge_bus_peak_V", 851.0, 890.0),
        ("inrush_peak_A", 19.4, 20.0),
        ("inrush_i2t_A2s", 6.5e-4, 6.8e-4),
        ("discharge_60V_s", 12.5, 12.8),
        ("harmonic_3_pct", 39.6, 40.2),
    ],
)
def test_what_a_person_would_want_to_know_is_told(reading: str, was: float, now: float) -> None:
    assert distance(was, now, default_for(reading)) > 1.0


@given(NUMBERS, ALLOWED)
def test_nothing_is_far_from_itself(value: float, allowed: Allowed) -> None:
    assert distance(value, value, allowed) == 0.0


@given(NUMBERS, NUMBERS, ALLOWED, st.floats(0, 1), st.floats(0, 1e3))
def test_a_wider_tolerance_never_lets_more_be_told(
    was: float, now: float, allowed: Allowed, more_ratio: float, more: float
) -> None:
    wider = Allowed(allowed.relative_ratio + more_ratio, allowed.absolute + more)
    assert distance(was, now, wider) <= distance(was, now, allowed)


@given(st.floats(1e-3, 1e6), st.floats(0, 10), st.floats(1e-3, 0.5))
def test_a_move_by_so_many_shares_is_that_far(was: float, times: float, ratio: float) -> None:
    # Closed form: a move by times the share of the value is that many tolerances.
    assert distance(was, was * (1 + times * ratio), Allowed(ratio, 0.0)) == pytest.approx(times, abs=1e-6)


def test_never_and_not_a_number() -> None:
    allowed = Allowed(0.01, 1.0)
    assert distance(math.inf, math.inf, allowed) == 0.0
    assert distance(math.nan, math.nan, allowed) == 0.0
    assert distance(math.inf, 3.0, allowed) == math.inf
    assert distance(3.0, math.nan, allowed) == math.inf
    assert distance("bridge", "string", allowed) == math.inf
    assert distance("yes", 1.0, allowed) == math.inf


def test_every_reading_has_a_default() -> None:
    assert default_for("something_new") == Allowed(0.01, 0.0)


@pytest.mark.parametrize(
    ("reading", "held"),
    [
        ("surge_worst_deg", "surge_sink_peak_A"),
        ("surge_worst_polarity", "surge_sink_peak_A"),
        ("inrush_phase_deg", "inrush_peak_A"),
        ("weakest_part", "weakest_margin_pct"),
        ("conduction_start_deg", ""),
        ("glows", ""),
    ],
)
def test_where_the_worst_was_follows_how_bad_it_is(reading: str, held: str) -> None:
    assert kind_of(reading).held_by == held


def test_the_studys_own_comes_first_and_the_longest_pattern_counts() -> None:
    own = {"surge_*": Tolerance(0.2), "surge_bus_*": Tolerance(0.3, 7.0), "svm": Tolerance(absolute=0.5)}
    assert allowed_for("surge_bus_peak_V", own) == Allowed(0.3, 7.0)
    assert allowed_for("surge_sink_peak_A", own).relative_ratio == 0.2
    # An amount stands in place of the default share: 1 % of a large value would let more pass than was asked.
    assert allowed_for("svm", own) == Allowed(0.0, 0.5)
    assert allowed_for("sinks_W", own) == default_for("sinks_W")


def test_a_tolerance_of_no_reading_is_refused_with_the_nearest() -> None:
    with pytest.raises(FileProblems) as caught:
        check_patterns("s.toml", {"surge_sink_peek_A": Tolerance(0.1)}, ["surge_sink_peak_A", "sinks_W"])
    assert str(caught.value) == (
        "s.toml: tolerance.surge_sink_peek_A is an unknown reading: expected the id of a reading of this "
        'study, or a pattern such as "surge_*" (did you mean surge_sink_peak_A?)'
    )


@pytest.mark.parametrize(
    ("key", "nearest"),
    [
        ("banana", ""), ("surge_banana*", ""), ("surge_sink_peek_A", " (did you mean surge_sink_peak_A?)"),
    ],
)  # fmt: skip
def test_a_study_file_with_a_tolerance_of_no_reading_is_refused_in_one_line(key: str, nearest: str) -> None:
    with pytest.raises(FileProblems) as caught:
        study_with({key: "5 %", "surge_*": "5 %", "harmonic_3_pct": 1})
    [line] = str(caught.value).splitlines()
    assert line.startswith("s.toml: tolerance.")
    assert line.endswith(
        f'{key} is an unknown key: expected the id of a reading, or a pattern such as "surge_*" that fits one'
        f"{nearest}"
    )


def study_with(tolerance: Any) -> Any:
    return study_from({"lamp": "pantry-bulb", "tolerance": tolerance}, Path("s.toml")).tolerance


def test_a_study_file_sets_tolerances() -> None:
    written = {"surge_*": "5 %", "svm": 0.1, "sinks_W": {"relative": "2 %", "absolute": 1}}
    assert study_with(written) == {
        "surge_*": Tolerance(0.05),
        "svm": Tolerance(absolute=0.1),
        "sinks_W": Tolerance(0.02, 1.0),
    }


@pytest.mark.parametrize(
    "wrong", ["5 V", "-1 %", "150 %", True, -1, math.nan, 10**400, {}, {"rel": "1 %"}, {"absolute": "1"}, [1]]
)
def test_a_wrong_tolerance_gets_one_line(wrong: Any) -> None:
    with pytest.raises(FileProblems) as caught:
        study_with({"svm": wrong})
    [problem] = caught.value.problems
    assert problem.key.startswith("tolerance.svm")
    assert "\n" not in str(problem)
