"""Strips: vectors by their names, thinned without losing a peak, the moments before a surge in front."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from coldiron.errors import NotApplicable
from coldiron.lamp.load import load_lamp
from coldiron.lamp.toml_file import shipped_names
from coldiron.live.work import Asked, answer
from coldiron.strips.spread import shown, strips
from coldiron.strips.thin import thinned
from coldiron.strips.vectors import part_and_quantity, unit_of
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory, case_of

pytestmark = pytest.mark.ngspice


@given(
    arrays(float, st.tuples(st.integers(1, 6), st.integers(2, 3000)), elements=st.floats(-1e3, 1e3)),
    st.integers(20, 700),
)
def test_no_row_loses_a_peak_and_all_keep_the_same_instants(rows: np.ndarray, most: int) -> None:
    kept = thinned(rows, most)
    assert len(kept) <= most
    assert (np.diff(kept) > 0).all()
    assert (kept[0], kept[-1]) == (0, rows.shape[1] - 1)
    np.testing.assert_array_equal(rows[:, kept].max(axis=1), rows.max(axis=1))
    np.testing.assert_array_equal(rows[:, kept].min(axis=1), rows.min(axis=1))


@pytest.fixture(scope="module")
def lab() -> Iterator[Laboratory]:
    with Laboratory() as laboratory:
        yield laboratory


@pytest.mark.parametrize("name", shipped_names("lamps"))
def test_every_lamp_has_strips_on_every_usual_bench(lab: Laboratory, name: str) -> None:
    lamp = load_lamp(name)
    for bench in ("steady", "surge", "unplug", "switch-on", "heat"):
        case = case_of(lamp, bench, surge_angles_deg=(90.0,), surge_polarities=(1,))
        found = lab.call(answer, Asked(case, one_surge=bench == "surge"))
        if found.result.not_applicable:
            continue
        assert found.strips is not None, (bench, found.result.failure)
        assert list(found.strips.rows) == shown(lamp, bench)
        assert len(found.strips.rows) >= 3
        assert 20 < len(found.strips.time_s) <= 600
        assert all(np.isfinite(row).all() for row in found.strips.rows.values())
        assert all(unit_of(row) in "VAW" for row in found.strips.rows)
        drawn = {part.name for part in lamp.circuit if part.shown}
        assert len(found.strips.parts) >= len(drawn) - 1


def test_peaks_of_the_strips_are_the_readings(lab: Laboratory) -> None:
    case = case_of(load_lamp("kerbside-flood"), "surge", surge_angles_deg=(90.0,), surge_polarities=(1,))
    found = lab.call(answer, Asked(case, one_surge=True))
    assert found.strips is not None
    for strip, reading in (
        ("bus voltage", "surge_bus_peak_V"),
        ("drain voltage", "surge_drain_peak_V"),
        ("sink current", "surge_sink_peak_A"),
        ("varistor current", "surge_varistor_peak_A"),
    ):
        assert found.strips.rows[strip].max() == pytest.approx(found.result.readings[reading], rel=1e-5)


def test_a_surge_has_the_settled_lamp_in_front_of_it(lab: Laboratory) -> None:
    """The mains at its crest, just before: 230 V times the root of two, less what the line drops."""
    case = case_of(load_lamp("kerbside-flood"), "surge", surge_angles_deg=(90.0,), surge_polarities=(1,))
    [result] = lab.take(case, keep_waves=True)
    assert result.waves is not None
    both = strips(case, result.waves, result.readings, ("lamp voltage", "bus voltage"))
    before = both.time_s < 0
    assert before.sum() >= 2
    assert both.time_s[0] == pytest.approx(-100e-6, rel=1e-3)
    just = np.interp([-90e-6, -1e-6], both.time_s, both.rows["lamp voltage"])
    assert just == pytest.approx(math.sqrt(2) * 230.0, rel=0.02)
    # Nothing jumps where the two runs meet: in the first 20 ns a wave of 1.2 µs has hardly begun.
    at = np.interp(0.0, both.time_s, both.rows["bus voltage"])
    assert at == pytest.approx(np.interp(-1e-6, both.time_s, both.rows["bus voltage"]), rel=5e-3)


def test_a_steady_strip_is_one_cycle_from_a_rising_zero(lab: Laboratory) -> None:
    case = case_of(load_lamp("kerbside-flood"), "steady")
    [result] = lab.take(case, keep_waves=True)
    assert result.waves is not None
    cycle = strips(case, result.waves, result.readings)
    assert (cycle.time_s[0], cycle.time_s[-1]) == pytest.approx((0.0, 0.02), abs=1e-9)
    mains = cycle.rows["mains voltage"]
    sine = math.sqrt(2) * 230.0 * np.sin(2 * np.pi * 50 * cycle.time_s)
    assert np.abs(mains - sine).max() < 3.0
    at_crest = cycle.at(5e-3)
    # Kirchhoff: the drop of both resistors, the bridge and the bus are the mains.
    around_v = at_crest["line_fusing"][0] + at_crest["neutral_fusing"][0]
    assert abs(around_v) < 5.0
    assert at_crest["string"][0] + at_crest["sinks"][0] == pytest.approx(at_crest["film"][0], rel=1e-3)


def test_a_name_that_the_lamp_has_not_is_told() -> None:
    with pytest.raises(NotApplicable, match="no reservoir voltage in this lamp"):
        part_and_quantity(load_lamp("kerbside-flood"), "reservoir voltage")


def test_what_a_worker_answers_is_what_the_bench_reads(lab: Laboratory) -> None:
    case = case_of(load_lamp("pantry-bulb"), "steady")
    [plain] = lab.call(run_work, Work((case,)))
    assert lab.call(answer, Asked(case)).result.readings == plain.readings
