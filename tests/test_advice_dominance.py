"""The set that nothing beats, against its definition, and what is shown of a large one."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from coldiron.advice.dominance import GRAINS, READABLE, beats, in_grains, non_dominated, thinned

rows = st.integers(1, 4).flatmap(
    lambda aims: st.integers(1, 40).flatmap(
        lambda count: arrays(np.float64, (count, aims), elements=st.integers(0, 30).map(float))
    )
)


@given(rows)
def test_nothing_beats_the_set_and_something_beats_the_rest(grains: np.ndarray) -> None:
    kept = non_dominated(grains)
    assert kept
    for row in range(len(grains)):
        is_beaten = any(beats(other, grains[row]) for other in grains)
        assert (row in kept) is not is_beaten


@given(rows, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_decides_nothing(grains: np.ndarray, random: object) -> None:
    order = list(range(len(grains)))
    random.shuffle(order)  # type: ignore[attr-defined]
    assert sorted(order[row] for row in non_dominated(grains[order])) == non_dominated(grains)


@given(rows)
def test_few_are_shown_each_of_a_box_of_its_own(grains: np.ndarray) -> None:
    best = grains[non_dominated(grains)]
    shown, steps = thinned(best)
    assert 1 <= len(shown) <= READABLE
    boxes = [tuple(np.floor(best[row] / (GRAINS * steps))) for row in shown]
    assert len(set(boxes)) == len(boxes)


@given(rows)
def test_a_small_set_apart_is_shown_whole(grains: np.ndarray) -> None:
    best = np.unique(grains[non_dominated(grains)], axis=0)[:READABLE] * GRAINS
    shown, steps = thinned(best)
    if steps == 1:
        assert len(shown) == len(best)


def test_what_has_no_value_is_the_worst() -> None:
    grains = in_grains(np.array([[1.0, np.nan], [1.0, 5.0]]), [1.0, 1.0])
    assert non_dominated(grains) == [1]
