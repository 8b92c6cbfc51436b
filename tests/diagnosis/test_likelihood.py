"""The statistic of a diagnosis alone, against closed forms and scipy's distributions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from coldiron.diagnosis import likelihood as of
from coldiron.diagnosis.likelihood import Readings, Severity, States


def severity(mean: list[float], slopes: list[list[float]], meter: list[float]) -> Severity:
    return Severity(np.array(mean), np.array(slopes), np.array(meter))


ONE = severity([10.0, 3.0, 0.5], [[1.0, 0.2], [0.3, 0.0], [0.0, 0.05]], [0.4, 0.1, 0.02])
OTHER = severity([12.0, 2.5, 0.6], [[0.5, 0.0], [0.0, 0.3], [0.1, 0.0]], [0.3, 0.2, 0.03])


def test_density_is_the_multivariate_t_of_scipy() -> None:
    values = np.array([[10.5, 3.1, 0.52], [14.0, 2.0, 0.4]])
    found = States([[ONE], [OTHER]], [0, 1, 2]).log_density(values)
    for column, one in enumerate((ONE, OTHER)):
        shape = of.covariance(one, [0, 1, 2]) * (of.FREEDOM - 2.0) / of.FREEDOM
        wanted = stats.multivariate_t(one.mean, shape, df=int(of.FREEDOM)).logpdf(values)
        assert found[:, column] == pytest.approx(wanted, rel=1e-12)


def test_draws_have_the_covariance_that_slopes_and_meters_give() -> None:
    drawn = States([[ONE]], [0, 1, 2]).drawn(0, 400_000, np.random.default_rng(5))
    # Evenly spread values have a third of the square of their half-width (GUM 4.3.7).
    assert np.cov(drawn.T) == pytest.approx(of.covariance(ONE, [0, 1, 2]), rel=0.05, abs=2e-3)
    assert of.covariance(ONE, [0])[0, 0] == pytest.approx((1.0**2 + 0.2**2) / 3.0 + 0.4**2)


def test_a_state_of_several_severities_is_their_mean() -> None:
    values = np.array([[11.0, 2.8, 0.55]])
    both = States([[ONE, OTHER]], [0, 1, 2])
    alone = States([[ONE], [OTHER]], [0, 1, 2])
    wanted = math.log(np.exp(alone.log_density(values)).mean())
    assert both.by_state(both.log_density(values))[0, 0] == pytest.approx(wanted, rel=1e-12)


@settings(max_examples=12)
@given(st.floats(0.0, 8.0), st.floats(0.3, 3.0))
def test_overlap_is_the_bhattacharyya_integral(apart: float, wide: float) -> None:
    states = [[severity([0.0], [[0.0]], [1.0])], [severity([apart], [[0.0]], [wide])]]
    found = of.overlaps(states, [0])[0, 1]
    scale = math.sqrt((of.FREEDOM - 2.0) / of.FREEDOM)
    p, q = stats.t(of.FREEDOM, 0.0, scale), stats.t(of.FREEDOM, apart, wide * scale)
    wanted = integrate.quad(lambda x: math.sqrt(p.pdf(x) * q.pdf(x)), -60.0, 60.0, points=[0.0, apart])[0]
    assert found == pytest.approx(wanted, abs=0.05)


def test_states_further_apart_than_twins_are_mixed_up_in_fewer_than_one_of_twenty() -> None:
    # The error of the best guess is at most half of the overlap (Bhattacharyya 1943, Kailath 1967).
    apart = next(
        apart
        for apart in np.arange(0.0, 12.0, 0.1)
        if of.distance(of.overlaps([[_at(0.0)], [_at(float(apart))]], [0])[0, 1]) > of.TWINS_DISTANCE
    )
    both = States([[_at(0.0)], [_at(float(apart))]], [0])
    values = both.drawn(0, 20_000, np.random.default_rng(1))
    logs = both.by_state(both.log_density(values))
    assert np.mean(logs[:, 1] > logs[:, 0]) < 0.05


def _at(volt: float) -> Severity:
    return severity([volt], [[0.0]], [1.0])


@pytest.mark.parametrize("n", [1, 2, 4, 9])
def test_what_lies_outside_is_outside_the_quantile_of_chi_squared(n: int) -> None:
    one = severity([0.0] * n, [[0.0]] * n, [1.0] * n)
    most = math.sqrt(stats.chi2.ppf(of.GOOD_SHARE, n) / n)

    def is_outside(share: float) -> bool:
        values = np.full(n, share * most)
        return of.outside([one], Readings(tuple(range(n)), values, np.ones(n)), 1.0)

    assert is_outside(1.02)
    assert not is_outside(0.98)


def test_one_odd_reading_does_not_kill_the_state_that_explains_the_rest() -> None:
    true, false = (
        severity([10.0, 5.0, 7.0], [[0.0]] * 3, [0.1] * 3),
        severity([13.0, 8.0, 11.0], [[0.0]] * 3, [0.1] * 3),
    )
    values = np.array([10.0, 5.0, 11.0])  # the third as the other state has it
    wrong = np.array([of.wrong_density(float(v), False, 0.1) for v in values])
    found = of.explained([[true], [false]], Readings((0, 1, 2), values, wrong))
    assert found.log_density[0] > found.log_density[1]
    assert found.wrong[0].argmax() == 2
    assert found.wrong[0, 2] > 0.99
    assert (found.wrong.sum(axis=1) <= 1.0).all()


def test_a_reading_that_fits_is_hardly_ever_the_wrong_one() -> None:
    wrong = np.array([of.wrong_density(v, False, 0.1) for v in (10.0, 3.0, 0.5)])
    found = of.explained([[ONE]], Readings((0, 1, 2), ONE.mean, wrong))
    assert found.wrong.max() < of.WRONG


def test_what_cannot_be_told_tells_nothing() -> None:
    blind = severity([0.0, 3.0], [[0.0], [0.0]], [1000.0, 0.1])
    seen = severity([400.0, 3.0], [[0.0], [0.0]], [1.0, 0.1])
    both = States([[blind], [seen]], [0, 1])
    at_400 = both.log_density(np.array([[400.0, 3.0]]))[0]
    at_0 = both.log_density(np.array([[0.0, 3.0]]))[0]
    assert at_400[0] == pytest.approx(at_0[0], abs=1.0)
