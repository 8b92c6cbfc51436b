"""Advice against brute force: the same set, and never a good candidate thrown out."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from advising import by_brute_force, off_by, one_worker, parts_study, searched
from coldiron.advice.half_cycle import reduced
from coldiron.advice.runs import Bench, one_of_mirrors
from coldiron.advice.search import BROKEN_SAID
from coldiron.advice.space import Space
from coldiron.benches.base import Case
from coldiron.errors import FileProblems
from coldiron.lamp.load import load_lamp as any_lamp
from coldiron.lamp.parts import FusingResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from laboratory import Laboratory, case_of
from lamps import lamps, load_lamp, plain_lamp, reservoir


def share(case: Case, name: str, spread: float) -> float:
    """A factor that hangs on lamp and reading, and on nothing else."""
    text = f"{name} {case.lamp.model_dump_json(exclude={'name', 'note'})}"
    return 1.0 + spread * (int(hashlib.sha256(text.encode()).hexdigest()[:8], 16) / 2**31 - 1.0)


def fitted(lamp: Lamp) -> Lamp:
    """The lamp with parts that can bear something, so that limits part its candidates."""
    sinks = lamp.sinks.model_copy(update={"power_w": 4.0})
    string = lamp.string.model_copy(update={"continuous_current_a": 0.12})
    line = FusingResistor(resistance_ohm=10.0, power_w=3.0)
    return lamp.model_copy(update={"line_fusing": line, "sinks": sinks, "string": string})


@pytest.mark.ngspice
def test_the_set_of_a_demo_lamp_is_that_of_running_everything() -> None:
    few = {"least": "15 Ω", "most": "24 Ω", "series": "E6"}
    study = parts_study(load_lamp("kerbside-flood"), sense_resistor=few)
    pool = one_worker()
    try:
        kept, best = by_brute_force(study, pool)
        found = searched(study, pool, probes=16)
    finally:
        pool.close()
    assert set(found.best) == set(best)
    assert best, "the catalogue of this test must leave something to choose"
    assert not set(kept) & {n for n in range(len(found.space)) if found.fate[n] == BROKEN_SAID}
    assert found.bench.runs < 2 * len(found.space)


@pytest.mark.ngspice
@pytest.mark.slow
@settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck))
@given(lamps().map(fitted))
def test_the_set_of_any_lamp_is_that_of_running_everything(lamp: Lamp) -> None:
    study = parts_study(
        lamp, ("steady", "unplug"), sense_resistor={"series": "E6"}, reservoir={"least": "10 µF"}
    )
    pool = one_worker()
    try:
        kept, best = by_brute_force(study, pool)
        found = searched(study, pool, probes=24)
    finally:
        pool.close()
    assert set(found.best) == set(best)
    assert not set(kept) & {n for n in range(len(found.space)) if found.fate[n] == BROKEN_SAID}


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(lamps().map(fitted), st.floats(0.0, 0.06))
def test_no_error_of_the_model_changes_the_set(lamp: Lamp, spread: float) -> None:
    """Whatever factor real runs are off by, anew for each candidate and reading."""
    assume(reduced(lamp, 230.0, 50.0) is not None)
    study = parts_study(lamp, reservoir={"least": "33 µF", "voltage": ["200 V", "400 V"], "life": ["2000 h"]})
    pool = off_by(lambda case, name: share(case, name, spread))
    kept, best = by_brute_force(study, pool)
    found = searched(study, pool, probes=24)
    assert set(found.best) == set(best)
    assert not set(kept) & {n for n in range(len(found.space)) if found.fate[n] == BROKEN_SAID}


def test_a_corner_where_the_model_is_far_off_changes_nothing() -> None:
    """Few probes, and a model that reads a fifth of the truth in a part of the catalogue."""
    lamp = load_lamp("kerbside-flood")

    def error(case: Case, name: str) -> float:
        strange = case.lamp.line_fusing.resistance_ohm > 20.0  # type: ignore[attr-defined]
        return 0.2 if strange and name in ("line_fusing_W", "reservoir_ripple_A", "sink_worst_W") else 1.0

    study = parts_study(lamp, line_fusing={"least": "10 Ω", "most": "100 Ω", "power": ["0.5 W", "2 W"]})
    pool = off_by(error)
    _, best = by_brute_force(study, pool)
    found = searched(study, pool, probes=12)
    assert set(found.best) == set(best)


def test_without_a_model_everything_open_is_run() -> None:
    lamp = load_lamp("kerbside-flood")
    study = parts_study(lamp)
    pool = off_by(lambda case, name: 1.0)
    assert searched(study, pool, use_model=False).best == searched(study, pool).best


@pytest.mark.ngspice
def test_a_surge_and_its_mirror_image_are_one() -> None:
    lamp = plain_lamp(reservoir=reservoir(22e-6))
    whole = case_of(lamp, "surge")
    half = one_of_mirrors(whole)
    assert half.conditions.surge_angles_deg == (0.0, 90.0)
    with Laboratory() as lab:
        [one] = lab.take(whole)
        [other] = lab.take(half)
    assert other.runs < 0.8 * one.runs
    for name in ("surge_bus_peak_V", "surge_sink_peak_A", "surge_string_peak_A", "surge_reservoir_peak_V"):
        assert other.readings[name] == pytest.approx(one.readings[name], rel=2e-3)


def test_candidates_that_take_a_safety_part_away_or_break_together_lose() -> None:
    study = parts_study(load_lamp("kerbside-flood"))
    bench = Bench(Space(study), off_by(lambda case, name: 1.0))
    bench.run([0], "steady")
    assert bench.broken(0)  # without a reservoir it flickers


def test_a_part_that_the_topology_has_not_is_refused() -> None:
    lamp = any_lamp("gallery-strip")
    with pytest.raises(FileProblems, match=r"advise\.(reservoir|sense_resistor)"):
        Space(parts_study(lamp))


def test_room_keeps_out_what_does_not_fit() -> None:
    study = parts_study(load_lamp("kerbside-flood"), free_height="21 mm", reservoir={"life": ["2000 h"]})
    space = Space(study)
    [axis] = [axis for axis in space.axes if axis.name == "reservoir"]
    assert max(option.height_m for option in axis.options) <= 0.021
    assert space.left_out["no room"] > 0
    nothing = study.advise.model_copy(
        update={"free_height_m": 0.002, "line_fusing": None, "sense_resistor": None}
    )
    with pytest.raises(FileProblems, match="nothing to choose"):
        Space(study.model_copy(update={"advise": nothing}))
