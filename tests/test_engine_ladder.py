"""When the engine gives up, the next rung is tried, gives the same readings, and is told."""

from __future__ import annotations

from typing import Any

import pytest

from coldiron.benches.base import GAVE_UP
from coldiron.errors import NoConvergence
from faulty_tasks import take_stubbornly
from laboratory import Laboratory, case_of
from lamps import load_lamp

pytestmark = pytest.mark.ngspice
PEAKS = (
    "surge_sink_peak_A",
    "surge_string_peak_A",
    "surge_drain_peak_V",
    "surge_bus_peak_V",
    "surge_bridge_peak_A",
)
FIRST, REST = (".tran 2e-06 0.0006 ",), (".tran 5e-06 0.0006 ", ".tran 1e-06 0.0006 ")


def take(
    laboratory: Laboratory, lamp: str, bench: str, *refused: str
) -> tuple[dict[str, Any], dict[str, str]]:
    found = laboratory.call(take_stubbornly, case_of(load_lamp(lamp), bench, surge_level_v=1000.0), refused)
    return dict(found.readings), dict(found.how_run)


@pytest.mark.parametrize("lamp", ["kerbside-flood", "corridor-panel", "pantry-bulb"])
@pytest.mark.parametrize(
    ("refused", "gave_up", "started"),
    [(FIRST, 1, "warm"), (FIRST + REST, 4, "within a run")],
    ids=["second rung", "within a run"],
)
def test_a_surge_comes_out_alike_on_every_rung(
    laboratory: Laboratory, lamp: str, refused: tuple[str, ...], gave_up: int, started: str
) -> None:
    warm, how_run = take(laboratory, lamp, "surge")
    assert not any(GAVE_UP in how for how in how_run.values())
    other, other_how = take(laboratory, lamp, "surge", *refused)
    surges = {label: how for label, how in other_how.items() if label != "before"}
    assert len(surges) >= 8
    assert all(how.count(GAVE_UP) == gave_up for how in surges.values())
    assert all(how.startswith(started) for how in surges.values())
    for name in PEAKS:
        # Steps of 5 us and a start a cycle earlier: the last rung is another way to the same surge.
        assert other[name] == pytest.approx(warm[name], rel=0.02), name


def test_a_lamp_settles_alike_on_every_rung(laboratory: Laboratory) -> None:
    usual, _ = take(laboratory, "kerbside-flood", "steady")
    other, how_run = take(laboratory, "kerbside-flood", "steady", ".tran 2.5e-05 ")
    assert GAVE_UP in how_run["steady"]
    for name in ("input_power_W", "string_W", "sinks_W", "led_current_A"):
        assert other[name] == pytest.approx(usual[name], rel=2e-3), name


def test_a_lamp_on_which_every_rung_gives_up_says_so(laboratory: Laboratory) -> None:
    with pytest.raises(NoConvergence, match="timestep too small"):
        take(laboratory, "kerbside-flood", "steady", ".tran ")
