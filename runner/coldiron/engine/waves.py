"""What one run returned: time points and named vectors."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Waveforms:
    """Vectors of one finished run, by the names that the deck saved ("v(bus)", "i(vinput)").

    `time_s` rises, its points are uneven; every vector has its length.
    """

    time_s: Array
    vectors: Mapping[str, Array]

    def __getitem__(self, name: str) -> Array:
        """Vector by its saved name."""
        return self.vectors[name]

    def v(self, plus: str, minus: str = "0") -> Array:
        """Voltage between two nodes [V]; node "0" is the bus minus."""
        high = self.vectors[f"v({plus})"] if plus != "0" else np.zeros_like(self.time_s)
        return high - self.vectors[f"v({minus})"] if minus != "0" else high

    def i(self, ammeter: str) -> Array:
        """Current through a voltage source or inductor [A]."""
        return self.vectors[f"i({ammeter})"]

    def since(self, start_s: float) -> Waveforms:
        """The run from a moment on, which becomes its time 0; values there lie on straight lines."""
        later = self.time_s > start_s
        first = {name: np.interp(start_s, self.time_s, values) for name, values in self.vectors.items()}
        return Waveforms(
            np.concatenate(([0.0], self.time_s[later] - start_s)),
            {name: np.concatenate(([first[name]], values[later])) for name, values in self.vectors.items()},
        )

    def then(self, later: Waveforms) -> Waveforms:
        """Join a run that began where this one ended; what both have kept is kept."""
        return Waveforms(
            np.concatenate((self.time_s, self.time_s[-1] + later.time_s[1:])),
            {
                name: np.concatenate((values, later.vectors[name][1:]))
                for name, values in self.vectors.items()
                if name in later.vectors
            },
        )

    def from_zero(self) -> Waveforms:
        """Let a run begin at 0: from given conditions, the engine keeps no point before its first step."""
        if self.time_s[0] <= 0:
            return self
        return Waveforms(
            np.concatenate(([0.0], self.time_s)),
            {name: np.concatenate((values[:1], values)) for name, values in self.vectors.items()},
        )

    def at(self, moment_s: float, names: Iterable[str]) -> dict[str, float]:
        """Values at a moment of those vectors that there are, between time points by straight lines."""
        kept = [name for name in names if name in self.vectors]
        return dict(zip(kept, self.values_at(moment_s, kept), strict=True))

    def values_at(self, moment_s: float, names: Iterable[str]) -> list[float]:
        """Values of some vectors at a moment, between time points by straight lines."""
        behind = int(np.searchsorted(self.time_s, moment_s, side="right"))
        if behind in (0, self.time_s.size):
            nearest = max(behind - 1, 0)
            return [self.vectors[name].item(nearest) for name in names]
        before_s, behind_s = self.time_s.item(behind - 1), self.time_s.item(behind)
        step_s, since_s = behind_s - before_s, moment_s - before_s
        rows = [self.vectors[name] for name in names]
        pairs = [(row.item(behind - 1), row.item(behind)) for row in rows]
        return [(after - before) / step_s * since_s + before for before, after in pairs]

    def begun(self, first: Mapping[str, float]) -> Waveforms:
        """The same run with its first point as it was in the moment before, where `first` tells it.

        From given conditions the engine keeps no point before its first step, which may already be far from
        where it began.
        """
        rows = np.array(list(self.vectors.values()))
        rows[:, 0] = [first.get(name, before) for name, before in zip(self.vectors, rows[:, 0], strict=True)]
        return Waveforms(self.time_s, dict(zip(self.vectors, rows, strict=True)))
