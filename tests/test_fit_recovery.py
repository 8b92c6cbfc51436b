"""A lamp with known hidden values, read with meter noise: the fit finds them as surely as it says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from coldiron.engine.local_pool import shared_pool
from coldiron.fit import meter
from coldiron.fit.free import FreeValue, free_values
from coldiron.fit.simulate import as_read
from coldiron.fit.solve import Fit, FitWork, run_fit
from coldiron.lamp.body import BenchReading, HeatPath
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.sweep.worker import start_worker
from fit_rig import read_true
from laboratory import Laboratory
from lamps import plain_lamp

pytestmark = pytest.mark.ngspice

KEYS = ("sinks.sense_resistor", "string.forward_voltage", "heat.housing_to_ambient", "heat.die_to_board")
HIDDEN = (13.1, 3.12, 1.9, 26.0)
"""What the lamp of the tests really has; its file starts from 15 Ω, 3.0 V, 1.5 K/W and 20 K/W."""


def reading(what: str, state: str, tolerance: float, **more: Any) -> BenchReading:
    """A reading whose value is still to be taken."""
    return BenchReading(what=what, state=state, value=1.0, tolerance_ratio=tolerance, **more)  # type: ignore[arg-type]


def file_lamp() -> Lamp:
    """The lamp as its file describes it, with readings yet to be taken."""
    return plain_lamp(
        heat=HeatPath(),
        reading=(
            reading("input current", "cold", 0.02),
            reading("input power", "cold", 0.02),
            reading("string voltage", "cold", 0.01),
            reading("input power", "hot", 0.02, ambient_c=22.0),
            reading("housing temperature", "hot", 0.03, ambient_c=22.0),
            reading("die temperature", "hot", 0.04, ambient_c=22.0),
        ),
    )


def free() -> list[FreeValue]:
    """The values to be found."""
    return free_values(file_lamp(), KEYS)


def noisy_work(true: np.ndarray, seed: int) -> FitWork:
    """A fit to readings with meter noise: any error within the tolerance is as likely as any other."""
    lamp = as_read(file_lamp(), true)
    reach = np.array([meter.tolerance(one) for one in lamp.reading])
    noise = np.random.default_rng(seed).uniform(-1.0, 1.0, len(reach)) * reach
    return FitWork(as_read(lamp, true + noise), tuple(free()))


def truth(laboratory: Laboratory) -> np.ndarray:
    """Readings of the lamp with its hidden values."""
    return laboratory.call(read_true, file_lamp(), list(zip(free(), HIDDEN, strict=True)))


HELD = ("string.forward_voltage", "sinks.foldback_knee")
"""What the file has wrong and the fit does not free in the hard draws."""
HELD_HIDDEN = (1.028 * 3.0, 100.0)
HARD_KEYS = ("sinks.sense_resistor", "heat.housing_to_ambient", "heat.die_to_board")
HARD_HIDDEN = (13.1, 1.9, 24.5)


def within(found: Fit, keys: Sequence[str] = KEYS, hidden: Sequence[float] = HIDDEN) -> list[bool]:
    assert [one.free.key for one in found.fitted] == list(keys)
    return [abs(one.value - at) <= one.plus_minus for one, at in zip(found.fitted, hidden, strict=True)]


def hard_draws(laboratory: Laboratory, count: int) -> float:
    """The same with a held forward voltage 2.8 % off and a held foldback knee 25 K off."""
    lamp = file_lamp()
    hidden = [
        *zip(free_values(lamp, HARD_KEYS), HARD_HIDDEN, strict=True),
        *zip(free_values(lamp, HELD), HELD_HIDDEN, strict=True),
    ]
    true = laboratory.call(read_true, lamp, hidden)
    works = [
        replace(noisy_work(true, seed), free=tuple(free_values(lamp, HARD_KEYS))) for seed in range(count)
    ]
    fits = []
    for outcome in shared_pool(None, start_worker).run_all(run_fit, works, lambda work: 300.0):
        assert isinstance(outcome.result, Fit), outcome.result
        fits.append(outcome.result)
    # A true reading that is blamed would be off by more than its tolerance.
    blamed = sum(suspect.place is not None for fit in fits for suspect in fit.suspects[:1])
    assert blamed <= 0.05 * count
    return sum(all(within(fit, HARD_KEYS, HARD_HIDDEN)) for fit in fits) / count


def draws(laboratory: Laboratory, count: int) -> float:
    """Share of draws in which every hidden value is within the fit's own plus-minus."""
    true = truth(laboratory)
    works = [noisy_work(true, seed) for seed in range(count)]
    kept = 0
    for outcome in shared_pool(None, start_worker).run_all(run_fit, works, lambda work: 300.0):
        assert isinstance(outcome.result, Fit), outcome.result
        kept += all(within(outcome.result))
    return kept / count


def test_readings_without_noise_give_the_values_back(laboratory: Laboratory) -> None:
    lamp = file_lamp()
    true = truth(laboratory)
    found = laboratory.call(run_fit, FitWork(as_read(lamp, true), tuple(free_values(lamp, KEYS))))
    for one, hidden in zip(found.fitted, HIDDEN, strict=True):
        assert one.value == pytest.approx(hidden, rel=0.01)
        assert 0.0 < one.plus_minus < 0.5 * hidden
        assert sum(one.shares) + sum(share for _, share in one.held_shares) == pytest.approx(100.0)
        assert not one.at_limit
    assert np.abs(found.residuals).max() < 0.05
    assert found.not_identifiable == ()
    assert found.suspects == ()
    # What is held lies as in the hidden lamp, so that nothing had to move.
    assert found.moved == ()


def test_hidden_values_are_within_plus_minus_although_what_is_held_is_off(laboratory: Laboratory) -> None:
    # One draw of those below; seeds are fixed, so that it gives the same on every machine.
    assert hard_draws(laboratory, 1) == 1.0


@pytest.mark.slow
def test_hidden_values_are_within_plus_minus_in_95_of_100_draws(laboratory: Laboratory) -> None:
    assert draws(laboratory, 100) >= 0.95


@pytest.mark.slow
def test_they_are_in_95_of_100_draws_although_what_is_held_is_off(laboratory: Laboratory) -> None:
    assert hard_draws(laboratory, 100) >= 0.95


def test_values_that_only_act_together_are_named(laboratory: Laboratory) -> None:
    # Ohm's law: the set current is sense voltage over sense resistor, and nothing else shows either.
    whole = file_lamp()
    lamp, true = whole.model_copy(update={"reading": whole.reading[:3]}), truth(laboratory)[:3]
    keys = ["sinks.sense_voltage", "sinks.sense_resistor", "film.capacitance"]
    found = laboratory.call(run_fit, FitWork(as_read(lamp, true), tuple(free_values(lamp, keys))))
    named = {one.keys: one for one in found.not_identifiable}
    assert set(named) == {("film.capacitance",), ("sinks.sense_voltage", "sinks.sense_resistor")}
    together = named["sinks.sense_voltage", "sinks.sense_resistor"]
    assert together.moves == pytest.approx((10.0, 10.0), abs=1.0)
    assert len(found.fitted) == 1
    one = found.fitted[0].value
    ratio = one / 15.0 if found.fitted[0].free.key.endswith("voltage") else 0.6 / one
    # Only the ratio is known: 0.6 V over the hidden 13.1 Ω. The string's voltage, which is wrong in the file
    # and not free here, pulls it a little.
    assert ratio == pytest.approx(0.6 / 13.1, rel=0.03)
