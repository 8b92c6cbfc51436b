"""The thermal network, convection and life, held to closed forms, a handbook and scipy's linear systems."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from ht import Nu_vertical_plate_Churchill, q_rad
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal
from scipy.optimize import bisect

from coldiron.heat import life
from coldiron.heat.balance import balance
from coldiron.heat.convection import convection_w_per_m2_k, housing_loss_w
from coldiron.heat.network import HeatFlows, Network
from coldiron.heat.warm_up import settle_s, warm_up
from coldiron.lamp.body import HeatPath
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from heat_rig import FakeCircuit, averages
from laboratory import changed
from lamps import plain_lamp

POWERS = st.floats(0.0, 60.0)


def lamp_of(heat: dict[str, Any], sinks: dict[str, Any] | None = None) -> Lamp:
    lamp = plain_lamp(heat=HeatPath(**heat))
    return changed(lamp, string={"radiant_ratio": 0.0}, sinks=sinks or {})


# --- the ladder -----------------------------------------------------------------------------------


def test_ladder_warms_as_scipys_linear_system() -> None:
    # The same network written once more as dx/dt = A x + B u and stepped by scipy.signal: closed form by
    # matrix exponential, no integrator of ours.
    heat = {
        "die_to_board_k_per_w": 18.0, "string_to_board_k_per_w": 0.7, "board_to_housing_k_per_w": 0.9,
        "housing_to_ambient_k_per_w": 1.6, "die_j_per_k": 0.08, "string_j_per_k": 3.0, "board_j_per_k": 50.0,
        "housing_j_per_k": 300.0,
    }  # fmt: skip
    lamp = lamp_of(heat, {"count": 3})
    way = warm_up(
        Network(lamp, 20.0), lambda die_c, string_c: averages(sinks_w=4.0, string_w=25.0, others_w=1.5)
    )
    die, string, board, housing = 3 * 0.08, 3.0, 50.0, 300.0
    g_die, g_string, g_board, g_out = 3 / 18.0, 1 / 0.7, 1 / 0.9, 1 / 1.6
    a = np.array(
        [
            [-g_die / die, 0, g_die / die, 0],
            [0, -g_string / string, g_string / string, 0],
            [g_die / board, g_string / board, -(g_die + g_string + g_board) / board, g_board / board],
            [0, 0, g_board / housing, -(g_board + g_out) / housing],
        ]
    )
    b = np.array([[4.0 / die], [25.0 / string], [1.5 / board], [0.0]])
    ladder: Any = signal.StateSpace(a, b, np.eye(4), np.zeros((4, 1)))
    for span in (5.0, 3000.0):  # the dies' own second, then the housing's hour
        times, rise = signal.step(ladder, T=np.linspace(0.0, span, 20001))
        inside = (way.time_s > span / 100) & (way.time_s < span)
        exact = np.array([np.interp(way.time_s[inside], times, row) for row in rise.T])
        assert inside.sum() > 10
        assert np.abs(way.nodes_c[:, inside] - 20.0 - exact).max() < 0.005
    assert way.course == "settled"


@given(die=POWERS, string=POWERS, board=POWERS, ambient=st.floats(-40.0, 60.0), fitting=st.floats(0.0, 3.0))
def test_balance_is_ohms_law(die: float, string: float, board: float, ambient: float, fitting: float) -> None:
    # Closed form: temperatures are sums of resistance times heat flow.
    lamp = lamp_of({}, {"count": 4})
    heat = lamp.heat
    at = Network(lamp, ambient, fitting).balanced(HeatFlows(die, string, board))
    total = die + string + board
    housing = ambient + (heat.housing_to_ambient_k_per_w + fitting) * total
    assert at.housing_c == pytest.approx(housing, abs=1e-6)
    assert at.board_c == pytest.approx(housing + heat.board_to_housing_k_per_w * total, abs=1e-6)
    assert at.die_c - at.board_c == pytest.approx(heat.die_to_board_k_per_w / 4 * die, abs=1e-6)
    assert at.string_c - at.board_c == pytest.approx(heat.string_to_board_k_per_w * string, abs=1e-6)


@given(
    die=POWERS,
    string=POWERS,
    board=st.floats(0.1, 20.0),
    area=st.floats(0.01, 0.5),
    fitting=st.floats(0.0, 2.0),
)
def test_balanced_nodes_do_not_move(
    die: float, string: float, board: float, area: float, fitting: float
) -> None:
    # Law: where all heat put in also leaves, no node warms, with geometry or without, and with a fitting.
    for geometry in ({"housing_area_m2": area, "housing_height_m": 0.2}, {}):
        network, flows = Network(lamp_of(geometry), 25.0, fitting), HeatFlows(die, string, board)
        at = network.balanced(flows)
        assert np.abs(network.slopes_k_per_s(np.array(at), flows) * network.capacities_j_per_k).max() < 1e-4
        assert network.loss_w(at.housing_c) == pytest.approx(sum(flows), abs=1e-4)


def test_a_closed_fitting_adds_its_own_rise() -> None:
    # Closed form: air in the fitting stands R·P above the room, and the housing as far above that air as
    # it would stand above the room in open air at that temperature.
    lamp, flows = lamp_of({"housing_area_m2": 0.08}), HeatFlows(5.0, 20.0, 1.0)
    closed = Network(lamp, 25.0, 0.8).balanced(flows)
    warm_room = Network(lamp, 25.0 + 0.8 * 26.0, 0.0).balanced(flows)
    assert closed.housing_c == pytest.approx(warm_room.housing_c, abs=1e-3)


# --- convection -----------------------------------------------------------------------------------


def test_convection_meets_the_handbooks_example() -> None:
    # Incropera, DeWitt, Bergman, Lavine, Introduction to Heat Transfer 6E, example 9.2: a glass 0.71 m high
    # and 1.02 m wide at 232 °C in a room of 23 °C: h = 7.0 W/(m² K), q = 1060 W.
    assert convection_w_per_m2_k(232.0, 23.0, 0.71) == pytest.approx(7.0, rel=0.01)
    assert housing_loss_w(232.0, 23.0, 0.71 * 1.02, 0.71, 0.0) == pytest.approx(1060.0, rel=0.01)


@given(st.floats(-40.0, 200.0), st.floats(-40.0, 60.0), st.floats(0.01, 1.0))
def test_convection_is_that_of_two_other_libraries(surface_c: float, air_c: float, height_m: float) -> None:
    # Churchill and Chu as ht has it, air as fluids has the U.S. Standard Atmosphere 1976.
    film_k = 0.5 * (surface_c + air_c) + 273.15
    conductivity = ATMOSPHERE_1976.thermal_conductivity(film_k)
    viscosity = ATMOSPHERE_1976.viscosity(film_k)
    density = ATMOSPHERE_1976.density(film_k, 101325.0)
    difference_k = max(abs(surface_c - air_c), 1e-3)
    grashof = 9.80665 * difference_k / film_k * height_m**3 * (density / viscosity) ** 2
    nusselt = float(Nu_vertical_plate_Churchill(viscosity * 1007.0 / conductivity, grashof))
    expected = nusselt * conductivity / height_m
    assert convection_w_per_m2_k(surface_c, air_c, height_m) == pytest.approx(expected, rel=1e-5)


def test_radiation_is_the_librarys() -> None:
    # ht.q_rad, with its own worked value: emissivity 0.85, 400 K to 305 K, 816.78 W/m².
    bare = housing_loss_w(400.0 - 273.15, 305.0 - 273.15, 1.0, 0.1, 0.0)
    both = housing_loss_w(400.0 - 273.15, 305.0 - 273.15, 1.0, 0.1, 0.85)
    assert both - bare == pytest.approx(816.7821722650002, rel=1e-5)
    assert both - bare == pytest.approx(float(q_rad(0.85, 400, 305)), rel=1e-5)


@given(warm=st.floats(-10.0, 150.0), air=st.floats(-10.0, 60.0), height=st.floats(0.02, 1.0))
def test_heat_flows_from_warm_to_cold(warm: float, air: float, height: float) -> None:
    loss = housing_loss_w(warm, air, 0.1, height, 0.85)
    assert loss * (warm - air) >= 0.0
    # Film temperature and fourth powers do not care which of the two is the surface.
    assert housing_loss_w(air, warm, 0.1, height, 0.85) == pytest.approx(-loss, rel=1e-9, abs=1e-9)


# --- where it settles -----------------------------------------------------------------------------


@pytest.mark.parametrize(("ambient", "die"), [(25.0, 121.27), (45.0, 131.39), (65.0, 141.52)])
def test_foldback_settles_at_its_closed_form(ambient: float, die: float) -> None:
    # Closed form: P = P0 (1 - k (T - Tk)) behind Rth gives T = (Ta + Rth P0 (1 + k Tk)) / (1 + Rth P0 k);
    # P0 1.5 W, Rth 65 K/W, Tk 120 °C, k 1 %/K.
    lamp = lamp_of(
        {"die_to_board_k_per_w": 64.0, "board_to_housing_k_per_w": 0.5, "housing_to_ambient_k_per_w": 0.5},
        {"count": 1, "foldback_knee_c": 120.0, "foldback_slope_per_k": 0.01},
    )
    assert die == pytest.approx((ambient + 65 * 1.5 * (1 + 0.01 * 120)) / (1 + 65 * 1.5 * 0.01), abs=0.005)
    circuit = FakeCircuit(
        lamp, lambda die_c, string_c: averages(sinks_w=1.5 * lamp.sinks.foldback_ratio(die_c))
    )
    found = balance(Network(lamp, ambient), circuit.at)
    assert found.outcome == "settled"
    assert found.temperatures.die_c == pytest.approx(die, abs=0.05)
    assert found.warm_up.end.die_c == pytest.approx(found.temperatures.die_c, abs=0.2)
    assert found.runs == circuit.runs <= 5


def test_a_circuit_that_no_sketch_foresees_stands_still_too() -> None:
    # The root of T = Ta + R P(T), found by bisection without any of our own code.
    lamp = lamp_of({}, {"foldback_slope_per_k": 0.0})
    resistance = 0.5 + 0.6 + 1.5

    def power(string_c: float) -> float:
        return float(25.0 - 9.0 * np.sin(string_c / 45.0) / (1.0 + string_c / 300.0))

    root = float(bisect(lambda c: 25.0 + resistance * power(c) - c, 25.0, 120.0))
    circuit = FakeCircuit(lamp, lambda die_c, string_c: averages(string_w=power(string_c)))
    found = balance(Network(lamp, 25.0), circuit.at)
    last = found.records[-1]
    assert found.temperatures.string_c == pytest.approx(root, abs=0.05)
    # Power and temperatures of the last run belong together within 0.05 K.
    assert abs(found.temperatures.string_c - last.string_c) < 0.05
    assert abs(found.temperatures.die_c - last.die_c) < 0.05
    assert 3 < found.runs <= 12


def test_floor_of_the_foldback_is_named() -> None:
    # Closed form: at the floor power is constant, T = Ta + Rth · 0.2 · P0.
    lamp = lamp_of(
        {"die_to_board_k_per_w": 64.0, "board_to_housing_k_per_w": 0.5, "housing_to_ambient_k_per_w": 0.5},
        {"count": 1, "foldback_slope_per_k": 0.1, "foldback_floor_ratio": 0.2, "foldback_knee_c": 100.0},
    )
    circuit = FakeCircuit(
        lamp, lambda die_c, string_c: averages(sinks_w=8.0 * lamp.sinks.foldback_ratio(die_c))
    )
    found = balance(Network(lamp, 25.0), circuit.at)
    assert found.outcome == "the sinks hold at the floor of their foldback"
    assert found.temperatures.die_c == pytest.approx(25.0 + 65.0 * 0.2 * 8.0, abs=0.05)
    assert found.stands


def test_power_that_grows_faster_than_the_loss_runs_away() -> None:
    # Closed form: P = P0 + g (T - Ta) behind R has no balance when g R > 1; here 0.5 W/K · 2.6 K/W = 1.3.
    lamp = lamp_of({}, {"foldback_slope_per_k": 0.0})
    circuit = FakeCircuit(
        lamp, lambda die_c, string_c: averages(string_w=10.0 + 0.5 * max(0.0, string_c - 25.0))
    )
    found = balance(Network(lamp, 25.0), circuit.at)
    assert found.outcome == "thermal runaway"
    assert not found.stands
    assert found.warm_up.nodes_c.max() >= 299.0


def test_a_slow_loop_of_high_gain_swings() -> None:
    # Routh: three equal lags in a loop swing when its gain passes 8; here it is 18. Hot dies cut the string's
    # 300 W by 20 % a kelvin, three lags of about 100 s and 0.3 K/W away.
    lamp = lamp_of(
        {
            "die_to_board_k_per_w": 40.0, "string_to_board_k_per_w": 0.3, "board_to_housing_k_per_w": 0.05,
            "housing_to_ambient_k_per_w": 0.25, "die_j_per_k": 2.5, "string_j_per_k": 333.0,
            "board_j_per_k": 300.0, "housing_j_per_k": 40.0,
        },
        {"count": 1, "foldback_floor_ratio": 0.01, "foldback_slope_per_k": 0.2, "foldback_knee_c": 60.0},
    )  # fmt: skip
    circuit = FakeCircuit(
        lamp,
        lambda die_c, string_c: averages(sinks_w=0.001, string_w=300.0 * lamp.sinks.foldback_ratio(die_c)),
    )
    found = balance(Network(lamp, 25.0), circuit.at)
    assert found.outcome == "thermal oscillation"


@given(
    ends=st.lists(st.floats(20.0, 90.0), min_size=2, max_size=4),
    tau=st.floats(10.0, 1e3),
)
def test_settling_time_of_exponentials_is_a_logarithm(ends: list[float], tau: float) -> None:
    # Closed form: an exponential rise by D is within 1 K of its end after tau ln D.
    time = np.linspace(0.0, 20.0 * tau, 40001)
    nodes = np.array([20.0 + (end - 20.0) * -np.expm1(-time / tau) for end in ends])
    largest = max(ends) - 20.0
    expected = tau * np.log(largest) if largest > 1.0 else 0.0
    assert settle_s(time, nodes) == pytest.approx(expected, abs=2e-3 * tau)


# --- life -----------------------------------------------------------------------------------------


def test_life_halves_for_each_ten_kelvin() -> None:
    # Makers' guides to aluminium electrolytics: 2000 h at 105 °C are 32 000 h at 65 °C.
    assert life.electrolytic_life_h(105.0 + life.CORE_RISE_K, 2000.0, 105.0) == 2000.0
    assert life.electrolytic_life_h(65.0 + life.CORE_RISE_K, 2000.0, 105.0) == 32000.0
    # Below the range that the rule is stated for, cold earns nothing more.
    assert life.electrolytic_life_h(20.0, 2000.0, 105.0) == life.electrolytic_life_h(60.0, 2000.0, 105.0)


def test_core_heats_with_the_square_of_the_ripple() -> None:
    # Common practice, no source: 5 K at rated ripple current.
    assert life.core_c(70.0, 0.1, 0.1) == 75.0
    assert life.core_c(70.0, 0.0, 0.1) == 70.0
    assert life.core_c(70.0, 0.3, 0.1) == pytest.approx(115.0)
