"""The other topologies with nearly ideal parts against closed forms. Sources stand beside the checks."""

from __future__ import annotations

import math

import pytest

from ideal_lamps import ideal_dropper, ideal_taps
from laboratory import Laboratory
from staircase import Staircase

pytestmark = pytest.mark.ngspice


def dropper_forms(c: float, held_v: float, volt: float, hertz: float) -> tuple[float, float, float]:
    """Mean current, r.m.s. current and power factor of an ideal dropper.

    Charge 2 C (Vpk - Vo) moves each half cycle; the bridge conducts from the falling crossing of Vpk - 2 Vo
    to the negative peak, with ω C Vpk sin: circuit theory, worked out by hand.
    """
    peak_v, omega = math.sqrt(2.0) * volt, 2 * math.pi * hertz
    mean_a = 4 * hertz * c * (peak_v - held_v)
    start = math.acos((peak_v - 2 * held_v) / peak_v)
    area = (math.pi - start) / 2 - (math.sin(2 * math.pi) - math.sin(2 * start)) / 4
    rms_a = omega * c * peak_v * math.sqrt(area / math.pi)
    return mean_a, rms_a, mean_a * held_v / (volt * rms_a)


# Nearly ideal: a reservoir that smooths, a string that holds its voltage, bridge 0.4 V, mains 1 mΩ.
@pytest.mark.parametrize(
    ("c", "held_v", "volt", "hertz", "mean_a", "rms_a", "factor"),
    [
        (1e-6, 37.0, 230.0, 50.0, 57.65e-3, 69.95e-3, 0.133),
        (1e-6, 72.0, 230.0, 50.0, 50.65e-3, 66.04e-3, 0.240),
        (1e-6, 167.0, 230.0, 50.0, 31.65e-3, 50.21e-3, 0.458),
        (1e-6, 232.0, 230.0, 50.0, 18.65e-3, 35.17e-3, 0.535),
        (0.33e-6, 72.0, 230.0, 50.0, 16.7e-3, 21.8e-3, 0.240),
        (2.2e-6, 72.0, 230.0, 50.0, 111.4e-3, 145.3e-3, 0.240),
        (1e-6, 37.0, 120.0, 60.0, 31.85e-3, 41.4e-3, None),
        (2.2e-6, 72.0, 120.0, 60.0, 51.6e-3, 76.8e-3, None),
    ],
)
def test_a_dropper_gives_4fc_of_peak_less_output(
    laboratory: Laboratory,
    c: float, held_v: float, volt: float, hertz: float, mean_a: float, rms_a: float, factor: float | None,
) -> None:  # fmt: skip
    forms = dropper_forms(c, held_v, volt, hertz)
    # The forms against figures that were worked out from them elsewhere and rounded.
    assert forms[:2] == pytest.approx((mean_a, rms_a), rel=4e-3)
    assert factor is None or forms[2] == pytest.approx(factor, abs=6e-4)
    got = laboratory.readings(ideal_dropper(c, held_v, mean_a, volt, hertz), "steady")
    read = got["led_current_A"], got["input_current_A"], got["power_factor"]
    assert read == pytest.approx(forms, rel=0.005)
    assert abs(got["power_balance_pct"]) < 0.1
    # The current leads: displacement is what the factor is lost by.
    assert got["displacement_factor"] < 0.75


# Figures of ideal staircases, taps over the peak of the mains and currents over the last: worked out from the
# closed forms elsewhere and rounded. PF, efficiency, THD, h3, h5, h7 [%].
TAPPED = [
    ((0.3, 0.6, 0.9), (1.0, 1.0, 1.0), (0.9566, 0.8316, 30.5, 21.3, 1.0, 8.0)),
    ((0.225, 0.45, 0.675, 0.9), (1.0, 1.0, 1.0, 1.0), (0.9484, 0.8610, 33.4, 26.6, 8.7, 0.3)),
    ((0.425, 0.85), (0.691, 1.0), (0.9761, 0.8132, 22.3, 5.6, 7.4, 8.7)),
    ((0.2125, 0.425, 0.6375, 0.85), (0.334, 0.557, 0.784, 1.0), (0.9953, 0.8686, 9.8, 0.1, 2.7, 0.4)),
]


@pytest.mark.parametrize(("taps", "currents", "figures"), TAPPED)
def test_the_closed_form_of_a_staircase_gives_the_figures(
    taps: tuple[float, ...], currents: tuple[float, ...], figures: tuple[float, ...]
) -> None:
    ideal = Staircase(taps, currents, [1.0] * len(taps))
    assert (ideal.power_factor, ideal.efficiency) == pytest.approx(figures[:2], abs=6e-5)
    got = (ideal.thd_pct(), *(ideal.harmonic_pct(n) for n in (3, 5, 7)))
    assert got == pytest.approx(figures[2:], abs=0.07)


@pytest.mark.parametrize(
    ("taps", "top", "step", "volt", "hertz"),
    [
        (3, 0.9, 0.005, 230.0, 50.0),
        (3, 0.9, 0.06, 230.0, 50.0),
        (4, 0.9, 0.005, 120.0, 60.0),
        (2, 0.85, 0.309, 230.0, 50.0),
        (4, 0.85, 0.222, 230.0, 50.0),
    ],
)
def test_a_tapped_string_is_the_staircase_of_its_own_taps(
    laboratory: Laboratory, taps: int, top: float, step: float, volt: float, hertz: float
) -> None:
    # Nearly ideal: steep segments, bridge 0.4 V, sinks of 0.1 Ω. The form takes what the sinks need so that
    # one takes over from the other: currents that rise by the step, and 0.6 V on the shared resistor.
    lamp, volts, lit = ideal_taps(taps, top * math.sqrt(2.0) * volt, volt, hertz, step)
    peak_v = math.sqrt(2.0) * volt
    ratios = [1.0 - step * (taps - 1 - k) for k in range(taps)]
    form = Staircase(
        [v / peak_v for v in volts], ratios, [led / v for led, v in zip(lit, volts, strict=True)]
    )
    got = laboratory.readings(lamp, "steady")
    efficiency = sum(got[f"string{k + 1}_W"] for k in range(taps)) / got["input_power_W"]
    assert (got["power_factor"], efficiency) == pytest.approx((form.power_factor, form.efficiency), rel=0.005)
    assert got["current_thd_pct"] == pytest.approx(form.thd_pct(39), rel=0.01)
    for order in (3, 5, 7):
        expected = form.harmonic_pct(order)
        assert got[f"harmonic_{order}_pct"] == pytest.approx(expected, rel=0.01, abs=0.15), order
    assert got["flicker_pct"] == pytest.approx(100.0, abs=0.1)
    assert abs(got["power_balance_pct"]) < 0.1
