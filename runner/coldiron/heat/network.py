"""Thermal network of a lamp: dies and string on one board, the board in the housing, the housing in the room.

    sinks ──▶ die ──R/N──┐
    LEDs ──▶ string ──R──┼─ board ──R── housing ──(convection, radiation or R)──▶ fitting ──R──▶ ambient
    rest ─────────────────┘

Each node but the fitting has a heat capacity. A closed fitting is one more resistance between the air
around the housing and the room.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from coldiron.heat.convection import housing_loss_w
from coldiron.lamp.lamp import Lamp

Array = NDArray[np.float64]

HOTTEST_C = 300.0
"""Solder, board and chips are gone long before; a lamp that passes this has no balance worth a number."""
_NOTHING_W = 1e-12


class HeatFlows(NamedTuple):
    """Heat put into the network [W]: into all dies, the string, and straight into the board."""

    die_w: float
    string_w: float
    board_w: float


class Temperatures(NamedTuple):
    """Temperatures of the four nodes [°C]; `die_c` is that of the average sink."""

    die_c: float
    string_c: float
    board_c: float
    housing_c: float


@dataclass(frozen=True)
class Network:
    """The network of one lamp in one room.

    Parameters
    ----------
    lamp : Lamp
        Its `heat` holds resistances and capacities; dies are in parallel.
    ambient_c : float
        Temperature of the room [°C].
    fitting_k_per_w : float
        Resistance of a closed fitting around the lamp [K/W]; 0 in open air.
    """

    lamp: Lamp
    ambient_c: float
    fitting_k_per_w: float = 0.0

    @cached_property
    def dies(self) -> int:
        """Dies side by side; one where nothing regulates, with no heat of its own."""
        return max(1, sum(sink.count for sink in self.lamp.circuit.regulators))

    @cached_property
    def die_k_per_w(self) -> float:
        """All dies to the board, in parallel [K/W]."""
        return self.lamp.heat.die_to_board_k_per_w / self.dies

    @cached_property
    def capacities_j_per_k(self) -> Array:
        """Heat capacities of die (all), string, board, housing [J/K]."""
        heat = self.lamp.heat
        return np.array(
            [
                heat.die_j_per_k * self.dies,
                heat.string_j_per_k,
                heat.board_j_per_k,
                heat.housing_j_per_k,
            ]
        )

    @cached_property
    def _each_j_per_k(self) -> list[float]:
        return [float(capacity) for capacity in self.capacities_j_per_k]

    def loss_w(self, housing_c: float) -> float:
        """Heat that leaves the housing for the room [W]."""
        heat = self.lamp.heat
        if heat.housing_area_m2 is None:
            return (housing_c - self.ambient_c) / (heat.housing_to_ambient_k_per_w + self.fitting_k_per_w)
        area_m2, height_m, emissivity = (
            heat.housing_area_m2, heat.housing_height_m, heat.housing_emissivity_ratio,
        )  # fmt: skip

        def loss_to(air_c: float) -> float:
            return housing_loss_w(housing_c, air_c, area_m2, height_m, emissivity)

        if self.fitting_k_per_w == 0.0 or housing_c == self.ambient_c:
            return loss_to(self.ambient_c)
        # The air in the fitting stands where what it takes from the housing is what the fitting lets through.
        air_c = brentq(
            lambda air: self.ambient_c + self.fitting_k_per_w * loss_to(air) - air,
            min(self.ambient_c, housing_c),
            max(self.ambient_c, housing_c),
            xtol=1e-7,
        )
        return loss_to(float(air_c))

    def balanced(self, flows: HeatFlows) -> Temperatures:
        """Temperatures at which all heat put in also leaves.

        Examples
        --------
        >>> from coldiron.lamp.load import load_lamp
        >>> Network(load_lamp("kerbside-flood"), 25.0).balanced(HeatFlows(0.0, 0.0, 0.0))
        Temperatures(die_c=25.0, string_c=25.0, board_c=25.0, housing_c=25.0)
        """
        heat = self.lamp.heat
        total_w = sum(flows)
        housing_c = self._housing_c(total_w)
        board_c = housing_c + heat.board_to_housing_k_per_w * total_w
        return Temperatures(
            die_c=board_c + self.die_k_per_w * flows.die_w,
            string_c=board_c + heat.string_to_board_k_per_w * flows.string_w,
            board_c=board_c,
            housing_c=housing_c,
        )

    def _housing_c(self, total_w: float) -> float:
        if abs(total_w) < _NOTHING_W:
            return self.ambient_c
        if self.lamp.heat.housing_area_m2 is None:
            return self.ambient_c + total_w * (
                self.lamp.heat.housing_to_ambient_k_per_w + self.fitting_k_per_w
            )
        rise_k = 1.0
        while self.loss_w(self.ambient_c + rise_k) < total_w:
            rise_k *= 2.0
        return float(
            brentq(lambda c: self.loss_w(c) - total_w, self.ambient_c, self.ambient_c + rise_k, xtol=1e-7)
        )

    def slopes_k_per_s(self, nodes_c: Array, flows: HeatFlows) -> Array:
        """How fast the four nodes warm [K/s] at their temperatures, in the order of `Temperatures`."""
        die_c, string_c, board_c, housing_c = nodes_c.tolist()
        heat = self.lamp.heat
        from_die_w = (die_c - board_c) / self.die_k_per_w
        from_string_w = (string_c - board_c) / heat.string_to_board_k_per_w
        from_board_w = (board_c - housing_c) / heat.board_to_housing_k_per_w
        die, string, board, housing = self._each_j_per_k
        # A warm-up asks some hundred times: four numbers are quicker without arrays.
        return np.array(
            [
                (flows.die_w - from_die_w) / die,
                (flows.string_w - from_string_w) / string,
                (flows.board_w + from_die_w + from_string_w - from_board_w) / board,
                (from_board_w - self.loss_w(housing_c)) / housing,
            ]
        )

    def slowest_s(self) -> float:
        """Longest time constant of the network with constant powers, its housing some 40 K warm [s]."""
        warm_c = self.ambient_c + 40.0
        base = self.slopes_k_per_s(np.full(4, warm_c), HeatFlows(0.0, 0.0, 0.0))
        columns = [
            self.slopes_k_per_s(np.full(4, warm_c) + step, HeatFlows(0.0, 0.0, 0.0)) - base
            for step in np.eye(4)
        ]
        return float(-1.0 / np.linalg.eigvals(np.column_stack(columns)).real.max())
