"""Ideal waves with known answers, at uneven points like a simulator's."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_EDGE = 1e-13  # of a cycle: a jump as two points that nearly coincide


def uneven(stop_s: float, count: int = 4000, seed: int = 1) -> Floats:
    """Points from 0 to `stop_s` with steps from next to nothing to several times the mean."""
    rng = np.random.default_rng(seed)
    inner = np.concatenate((rng.uniform(0.0, 1.0, count // 2), np.linspace(0.0, 1.0, count // 2)))
    close = rng.choice(inner[inner < 0.999], 20) + 1e-14
    return np.asarray(stop_s * np.unique(np.concatenate((inner, close))))


def turns(edges: Floats, count: int = 8000) -> Floats:
    """One turn in uneven points, 0 to 1, each edge between two points that nearly coincide."""
    points = np.concatenate((uneven(1.0, count), edges - _EDGE, edges + _EDGE))
    return np.unique(points[(points >= 0.0) & (points <= 1.0)])


def no_reservoir(ratio: float) -> tuple[Floats, Floats, Floats]:
    """Turn, mains voltage (peak 1) and current (1 while |v| > `ratio`) of a lamp without reservoir."""
    on = np.arcsin(ratio) / (2.0 * np.pi)
    turn = turns(np.array([on, 0.5 - on, 0.5 + on, 1.0 - on]))
    voltage = np.sin(2.0 * np.pi * turn)
    half = np.mod(turn, 0.5)
    current = np.sign(voltage) * ((half > on) & (half < 0.5 - on))
    return turn, voltage, current


def rectangle(duty: float) -> tuple[Floats, Floats]:
    """Turn and a light that is 1 for `duty` of it (to 0.97) and else 0."""
    turn = turns(np.array([0.02, 0.02 + duty]))
    return turn, np.where((turn > 0.02) & (turn < 0.02 + duty), 1.0, 0.0)


@st.composite
def records(draw: st.DrawFn, signals: int = 1) -> tuple[Floats, ...]:
    """Time and signals of a short random record; steps span fifteen decades, some are jumps."""
    steps = draw(
        st.lists(
            st.one_of(st.just(0.0), st.floats(1e-15, 1e-9), st.floats(1e-3, 1.0)), min_size=1, max_size=30
        ).filter(lambda steps: sum(steps) > 1e-3)
    )
    time_s = np.concatenate(([0.0], np.cumsum(steps)))
    values = st.lists(st.floats(-1e3, 1e3), min_size=time_s.size, max_size=time_s.size)
    return time_s, *(np.array(draw(values)) for _ in range(signals))
