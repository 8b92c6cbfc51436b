"""Surge to earth: into a bare capacitance, over the insulation, through single LEDs, past arrestors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from coldiron.benches.generator import fired_later
from coldiron.benches.surge_earth import COUPLING_F, COUPLING_OHM, Blow
from coldiron.deck.deck import Deck, InitialConditions
from coldiron.lamp.further import FurtherPart
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import KINDS
from coldiron.sources.surge_generator import SurgeGenerator, WaveToEarthValues
from laboratory import Laboratory, changed
from lamps import load_lamp
from source_macros import source_text
from surge_earth_rig import surged

pytestmark = pytest.mark.ngspice
PEAK_V = math.sqrt(2.0) * 230.0
PLUS = Blow("line", 1, 90.0, 2000.0)
MINUS = Blow("line", -1, 90.0, 2000.0)


def flood(*further: FurtherPart, farad: float = 3e-9) -> Lamp:
    """The flood with a board of this capacitance, and further parts."""
    lamp = load_lamp("kerbside-flood")
    housing = lamp.housing.model_copy(update={"board_capacitance_f": farad})
    return changed(lamp, housing=housing).model_copy(update={"further": further})


def into_a_capacitance(farad: float) -> tuple[float, float]:
    """Peak current into a capacitance and its highest voltage: the network as five equations, by scipy."""
    g = SurgeGenerator()

    def rates(_: float, state: NDArray[np.float64]) -> list[float]:
        store_v, shape_a, coupling_v, board_v, decouple_a = state
        surge_v = (shape_a + (coupling_v + board_v) / COUPLING_OHM) / (1 / g.output_ohm + 1 / COUPLING_OHM)
        through_a = (surge_v - coupling_v - board_v) / COUPLING_OHM
        return [
            -(shape_a + store_v / g.storage_ohm) / g.storage_f,
            (store_v - shape_a * g.shape_ohm - surge_v) / g.shape_h,
            through_a / COUPLING_F,
            (through_a - board_v / g.damping_ohm - decouple_a) / farad,
            board_v / g.decoupling_h,
        ]

    first = [2000.0 / g.open_circuit_ratio, 0.0, 0.0, 0.0, 0.0]
    done = solve_ivp(rates, (0.0, 2e-5), first, method="Radau", rtol=1e-8, atol=1e-9, max_step=5e-8)
    board_a = farad * np.array([rates(0.0, state)[3] for state in done.y.T])
    return float(board_a.max()), float(done.y[3].max())


@pytest.mark.parametrize(
    ("farad", "peak_a"),
    # C times the steepest of 1.037 (exp(-t/68.2 us) - exp(-t/0.405 us)), the wave of IEC 61000-4-5 in closed
    # form; the slower beginning of a network and 12 ohm leave less.
    [(0.47e-9, 2.4), (1.27e-9, 6.5), (3.3e-9, 16.8)],
)
def test_into_a_bare_capacitance(laboratory: Laboratory, farad: float, peak_a: float) -> None:
    """The generator as it is printed, without mains: i = C·dv/dt, and the whole 2 kV stand."""
    values = fired_later(SurgeGenerator(), InitialConditions(), 2000.0, 1, 1e-6)
    wave = WaveToEarthValues(values, "feed", COUPLING_F, COUPLING_OHM, 0.0, 0.0)
    text = "\n".join(
        [
            "* bare",
            "Vground ground 0 0",
            source_text("surge_generator", "to_earth", wave),
            "Rsupply supply ground 1e-3",
            "Rorigin origin ground 1e-3",
            "Rcold cold ground 1e6",
            "Vboard feed board 0",
            f"Cboard board ground {farad:.6g}",
            ".options method=gear reltol=1e-5 abstol=1e-9 vntol=1e-6",
            ".tran 2e-8 2e-5 0 2e-8 uic",
            ".end",
            "",
        ]
    )
    waves = laboratory.run(Deck(text, "bare", ("all",), 2e-5))
    current_a = float(np.abs(waves["i(vboard)"]).max())
    highest_v = float((waves["v(board)"] - waves["v(ground)"]).max())
    expected_a, expected_v = into_a_capacitance(farad)
    assert current_a == pytest.approx(expected_a, rel=0.01)
    assert highest_v == pytest.approx(expected_v, rel=0.01)
    assert 0.6 * peak_a < current_a < peak_a
    assert highest_v == pytest.approx(2000.0, rel=0.06)


def test_the_board_sees_surge_and_crest_together(laboratory: Laboratory) -> None:
    """Level and crest of the mains add where their signs agree; what the 12 ohm lose is next to nothing."""
    plus, other = surged(laboratory, flood(), (PLUS, 8), (Blow("line", -1, 270.0, 2000.0), 8))
    assert plus.feed_v == pytest.approx(2000.0 + PEAK_V, rel=0.04)
    assert plus.board_v == pytest.approx(plus.feed_v)
    # The other crest and sign: then it is minus that sees all.
    assert other.minus_v == pytest.approx(2000.0 + PEAK_V, rel=0.04)


def test_a_positive_surge_goes_forward_through_the_feed_and_a_negative_one_takes_the_sinks(
    laboratory: Laboratory,
) -> None:
    eight, single, minus = surged(laboratory, flood(), (PLUS, 8), (PLUS, 27), (MINUS, 8))
    # All that flows to earth but half a pad's comes through the LED at the feed, less through each further.
    assert single.forward_a[0] == pytest.approx(single.earth_a, rel=0.10)
    assert single.forward_a[0] > 4 * single.forward_a[-1]
    assert all(a >= b - 0.05 for a, b in zip(single.forward_a, single.forward_a[1:], strict=False))
    # Eight sections give amps in earth within 3 %, volts over the board within 1 %.
    assert eight.earth_a == pytest.approx(single.earth_a, rel=0.03)
    assert eight.board_v == pytest.approx(single.board_v, rel=0.01)
    # A negative one finds the feed in reverse; the drain goes up to where the sinks break down.
    assert max(minus.reverse_v[0], 0.0) > 50.0
    assert minus.drain_v > 500.0
    assert minus.forward_a[-1] > minus.forward_a[0]


def test_the_earth_carries_the_charge_of_the_board(laboratory: Laboratory) -> None:
    """Charge is C times volts: in proportion to the capacitance, as far as 12 ohm let it."""
    small, large = (surged(laboratory, flood(farad=farad), (PLUS, 8))[0] for farad in (0.5e-9, 1e-9))
    assert large.earth_a == pytest.approx(2 * small.earth_a, rel=0.12)
    assert large.board_v == pytest.approx(small.board_v, rel=0.02)


def arrestor(name: str, kind: str, where: tuple[str, str], **values: float) -> FurtherPart:
    """A further part between two points."""
    model = KINDS[kind].model
    return FurtherPart(name=name, kind=kind, way="across", where=where, values=model.model_validate(values))


DISC = {
    "ac_rating_v": 300.0,
    "one_milliamp_voltage_v": 470.0,
    "clamping_voltage_v": 775.0,
    "clamping_current_a": 10.0,
}


def test_arrestors_to_earth(laboratory: Laboratory) -> None:
    """A disc holds its clamping voltage; a tube alone lets the mains follow, one with a disc does not."""
    disc = arrestor("RV9", "varistor", ("line", "earth"), **DISC)
    tube = arrestor("GT9", "gas discharge tube", ("line", "earth"))
    above = FurtherPart(name="RV8", kind="varistor", way="in_series_with", where="GT9", values=disc.values)
    bare, clamped, sparked, both = (
        surged(laboratory, lamp, (PLUS, 8))[0]
        for lamp in (flood(), flood(disc), flood(tube), flood(tube, above))
    )
    for one in (clamped, sparked, both):
        assert one.board_v < 0.6 * bare.board_v
    # 115 A through the disc: 775 V at 10 A and by its power law some tenth more.
    assert clamped.board_v == pytest.approx(900.0, rel=0.12)
    assert clamped.earth_a == pytest.approx((2000.0 + PEAK_V - clamped.board_v) / 12.0, rel=0.12)
    # The mains behind 3 mH and some 0.5 ohm for the rest of the half cycle.
    assert 50.0 < sparked.late_a < 350.0
    assert clamped.late_a < 1e-2
    assert both.late_a < 1e-2
