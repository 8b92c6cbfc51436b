"""Every bench on the demo lamp of every topology, and every way to break each part of one lamp."""

from __future__ import annotations

import math

import pytest

from coldiron.benches import BENCHES
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import circuit_problems
from coldiron.study.disturbances import Burst, Leakage, Sag
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory, case_of
from random_places import LAMPS, demo

pytestmark = pytest.mark.ngspice
SHORT_CUT = {
    "burst": Burst(pulses=3),
    "sag": Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02),
    "leakage": Leakage(cable_length_m=5.0),
    "surge_angles_deg": (90.0,),
    "surge_polarities": (1,),
}
EACH = tuple(bench for bench in BENCHES if bench != "live")
"""Bench live asks what touch does of every point in turn, in thirty runs a lamp."""
WITHOUT_EARTH = tuple(
    bench for bench in EACH if bench not in ("touch", "surge-earth", "insulation", "shared-circuit")
)
NO_BALANCE = "no thermal balance"
"""What heat says of a broken lamp that burns: it has no settled heat, and that is its answer."""


def answers(
    laboratory: Laboratory, lamp: Lamp, benches: tuple[str, ...], **supply: float
) -> dict[str, object]:
    """Steady readings, after every bench has answered or has said in one line why it does not apply."""
    cases = tuple(case_of(lamp, bench, **SHORT_CUT, **supply) for bench in benches)
    results = laboratory.call(run_work, Work(cases))
    assert len(results) == len(cases)
    for case, result in zip(cases, results, strict=True):
        if result.failure:
            assert case.bench == "heat", f"{case.bench}: {result.failure.why}"
            assert result.failure.why.startswith(NO_BALANCE)
        elif not result.readings:
            assert result.not_applicable
            assert "\n" not in result.not_applicable
        words = [k for k, v in result.readings.items() if isinstance(v, float) and math.isinf(v)]
        assert not [reading for reading in words if not reading.endswith(("_s", "_ms"))]
    return dict(results[benches.index("steady")].readings)


@pytest.mark.parametrize("supply", [(230.0, 50.0), (120.0, 60.0)])
@pytest.mark.parametrize("name", LAMPS[1:])
def test_every_bench_answers_on_every_topology(
    laboratory: Laboratory, name: str, supply: tuple[float, float]
) -> None:
    benches = EACH if supply[0] > 200.0 else WITHOUT_EARTH
    got = answers(laboratory, demo(name), benches, voltage_v=supply[0], frequency_hz=supply[1])
    assert abs(got["power_balance_pct"]) < 0.1  # type: ignore[arg-type]


FLOOD = demo("kerbside-flood")
BROKEN = [
    (part.name, state)
    for part in FLOOD.circuit
    if not part.hidden
    for state in ("open", "short", "removed", "wired across")
]


def broken_answers(laboratory: Laboratory, part: str, state: str, benches: tuple[str, ...]) -> None:
    """A broken lamp runs and its balance closes, or it is refused in one line each."""
    lamp = FLOOD.with_state(part, state)  # type: ignore[arg-type]
    problems = circuit_problems(lamp, "study.toml", "change")
    assert [problem for problem in problems if "\n" in str(problem)] == []
    if not problems:
        got = answers(laboratory, lamp, benches)
        assert abs(got["power_balance_pct"]) < 0.1  # type: ignore[arg-type]


@pytest.mark.parametrize(("part", "state"), [one for one in BROKEN if one[1] in ("open", "short")])
def test_a_flood_with_a_broken_part_settles(laboratory: Laboratory, part: str, state: str) -> None:
    broken_answers(laboratory, part, state, ("steady",))


@pytest.mark.slow
@pytest.mark.parametrize(("part", "state"), BROKEN)
def test_a_broken_flood_answers_on_every_bench(laboratory: Laboratory, part: str, state: str) -> None:
    broken_answers(laboratory, part, state, EACH)
