"""Which values are free, what readings tell of them, and the new lamp file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.fit.doubt import DOUBTS, held_values
from coldiron.fit.free import default_keys, free_values, with_values
from coldiron.fit.identifiable import identifiable
from coldiron.fit.solve import FittedValue
from coldiron.fit.write import new_path, write_fitted
from coldiron.lamp.shapes import shapes
from coldiron.lamp.toml_file import find_file
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.resources import resource_dir
from lamps import load_lamp, plain_lamp

LAMP = find_file("kerbside-flood", "lamps")


def fitted(key: str, value: float, plus_minus: float) -> FittedValue:
    [free] = free_values(load_lamp(LAMP), [key])
    return FittedValue(free, value, plus_minus, (100.0,), at_limit=False)


# --- free values ----------------------------------------------------------------------------------


def test_each_wrong_key_gets_its_own_line() -> None:
    lamp = load_lamp(LAMP)
    keys = [
        "sinks.sense_resistr", "heet.board", "string.series", "reservoir.capacitance", "housing.earthed",
        "sinks.shut_off", "reading.value", "sinks.spread", "sinks.spread",
    ]  # fmt: skip
    with pytest.raises(FileProblems) as refused:
        free_values(lamp, keys)
    lines = [str(problem) for problem in refused.value.problems]
    assert [line.split(":")[0] for line in lines] == [
        "--free is sinks.sense_resistr", "--free is heet.board", "--free is string.series",
        "--free is reservoir.capacitance", "--free is housing.earthed", "--free is sinks.shut_off",
        "--free is reading.value", "--free is sinks.spread",
    ]  # fmt: skip
    assert lines[0].endswith("(did you mean sinks.sense_resistor?)")
    assert lines[1].endswith("(did you mean heat.board?)")
    assert "a part that this lamp has, and it has no reservoir" in lines[3]
    assert "a value to start from" in lines[5]
    assert "each value once" in lines[7]


def test_every_reading_pays_for_one_value_and_measured_ones_stay() -> None:
    lamp = load_lamp(LAMP)
    keys = default_keys(lamp)
    assert 0 < len(keys) <= len(lamp.reading)
    # Its sense resistor was measured, so the sense voltage is what is not known of the current.
    assert "sinks.sense_voltage" in keys
    assert "sinks.sense_resistor" not in keys
    assert default_keys(lamp.model_copy(update={"reading": lamp.reading[:1]})) == keys[:1]
    assert default_keys(plain_lamp()) == []
    known = lamp.sinks.model_copy(
        update={"provenances": {"sense_voltage": "measured", "sense_resistor": "measured"}}
    )
    assert default_keys(lamp.model_copy(update={"sinks": known})) == [k for k in keys if "sinks" not in k]


@given(factor=st.floats(0.2, 5.0))
def test_a_lamp_with_a_value_replaced_differs_in_it_alone(factor: float) -> None:
    lamp = load_lamp(LAMP)
    [free] = free_values(lamp, ["heat.die_to_board"])
    other = with_values(lamp, [(free, free.start * factor)])
    assert other.heat.die_to_board_k_per_w == lamp.heat.die_to_board_k_per_w * factor
    back = with_values(other, [(free, free.start)])
    assert back == lamp


def test_every_doubted_value_is_one_of_a_lamp() -> None:
    for key, doubt in DOUBTS.items():
        part, _, name = key.partition(".")
        model = shapes(Lamp)[part].model
        assert model is not None
        assert shapes(model)[name].kind is float
        assert (doubt.ratio > 0.0) != (doubt.amount > 0.0)


def test_held_values_are_sure_as_far_as_somebody_read_them() -> None:
    lamp = load_lamp(LAMP)
    held = {one.value.key: one for one in held_values(lamp, free_values(lamp, ["sinks.sense_voltage"]))}
    assert "sinks.sense_resistor" not in held  # measured
    assert "sinks.sense_voltage" not in held  # fitted
    assert held["string.forward_voltage"].uncertainty == pytest.approx(0.5 * 0.03)  # of a data sheet
    assert held["heat.board_to_housing"].uncertainty == pytest.approx(0.3)  # typical
    # However far one goes, it makes a lamp: the slope of an LED keeps what its junction has alone.
    slope = held["string.slope"]
    [(value, at)] = [(slope.value, slope.value.start * np.exp(slope.least))]
    assert list(with_values(lamp, [(value, at)]).string.inconsistencies()) == []


# --- what can be told -----------------------------------------------------------------------------


def test_a_ratio_is_named_and_the_firmer_value_held() -> None:
    # Readings that see two values only through their ratio: rows (s, -s).
    readings = np.array([[80.0, -80.0, 5.0], [60.0, -60.0, 40.0], [10.0, -10.0, 90.0]])
    kept, rest = identifiable(readings, ["a", "b", "c"], ["measured", "typical", "typical"])
    assert kept == [1, 2]
    assert [one.keys for one in rest] == [("a", "b")]
    assert rest[0].moves == pytest.approx((10.0, 10.0))
    assert rest[0].held == "a"
    _, firm_b = identifiable(readings, ["a", "b", "c"], ["typical", "data sheet", "typical"])
    assert firm_b[0].held == "b"
    assert str(rest[0]) == "a and b apart (a +10 %, b +10 % changes no reading); a left as it is"


def test_a_product_moves_in_opposite_ways() -> None:
    kept, rest = identifiable(np.array([[50.0, 50.0], [70.0, 70.0]]), ["a", "b"], ["typical", "typical"])
    assert len(kept) == 1
    assert rest[0].moves == pytest.approx((10.0, -10.0))


@given(
    rows=st.integers(1, 5),
    columns=st.integers(1, 4),
    seed=st.integers(0, 2**31),
    size=st.floats(0.1, 300.0),
)
def test_what_is_told_is_told_well_enough(rows: int, columns: int, seed: int, size: float) -> None:
    # Law: what is kept has a least singular value of at least 1/limit, so that each kept value's standard
    # uncertainty, the root of the diagonal of (JᵀJ)⁻¹, is at most the limit; nothing is lost or doubled.
    sensitivity = np.random.default_rng(seed).normal(0.0, size, (rows, columns))
    keys = [f"k{n}" for n in range(columns)]
    kept, rest = identifiable(sensitivity, keys, ["typical"] * columns, limit=0.2)
    assert sorted([keys[n] for n in kept] + [one.held for one in rest]) == keys
    if kept:
        covariance = np.linalg.inv(sensitivity[:, kept].T @ sensitivity[:, kept])
        assert np.sqrt(np.diag(covariance)).max() <= 0.2 * (1 + 1e-9)


# --- the new file ---------------------------------------------------------------------------------


def test_new_file_has_the_fitted_values_and_is_otherwise_the_old_one(tmp_path: Path) -> None:
    old = tmp_path / "lamp.toml"
    old.write_bytes(LAMP.read_bytes())
    path = new_path(old, None)
    assert path == tmp_path / "lamp.fitted.toml"
    write_fitted(
        old, [fitted("sinks.sense_voltage", 0.5885, 0.013), fitted("heat.die_to_board", 16.5, 1.2)], path
    )
    assert old.read_bytes() == LAMP.read_bytes()
    before, after = load_lamp(old), load_lamp(path)
    assert after.sinks.sense_voltage_v == 0.5885
    assert after.sinks.provenance("sense_voltage") == "fitted"
    assert after.heat.die_to_board_k_per_w == 16.5
    assert after.sinks.sense_resistor_ohm == before.sinks.sense_resistor_ohm
    assert after.sinks.provenance("sense_resistor") == "measured"
    assert after.reading == before.reading
    text = path.read_text()
    assert 'sense_voltage = {value = "588.5 mV", provenance = "fitted"} # ± 13 mV' in text
    # Comments of the old file stay.
    comments = [line for line in LAMP.read_text().splitlines() if line.startswith("#")]
    assert all(line in text for line in comments)


@pytest.mark.parametrize(
    "heat", ["", 'heat = { die_to_board = "14 K/W" }\n', 'heat.die_to_board = "14 K/W"\n']
)
def test_any_way_to_write_a_part_is_understood(tmp_path: Path, heat: str) -> None:
    text = LAMP.read_text()
    start, end = text.index("[heat]"), text.index("[housing]")
    old = tmp_path / "lamp.toml"
    first = text.index("[mains]")
    old.write_text(text[:first] + heat + text[first:start] + text[end:])
    write_fitted(old, [fitted("heat.die_to_board", 16.5, 1.2)], tmp_path / "new.toml")
    lamp = load_lamp(tmp_path / "new.toml")
    assert lamp.heat.die_to_board_k_per_w == 16.5
    assert lamp.heat.provenance("die_to_board") == "fitted"


def test_nothing_is_written_over(tmp_path: Path) -> None:
    old, other = tmp_path / "lamp.toml", tmp_path / "other.toml"
    old.write_bytes(LAMP.read_bytes())
    other.write_text("mine")
    (tmp_path / "link.toml").symlink_to(old)
    (tmp_path / "dangling.toml").symlink_to(tmp_path / "nowhere.toml")
    for name in ("lamp.toml", "other.toml", "link.toml", "dangling.toml"):
        with pytest.raises(FileProblems, match="a fit overwrites nothing"):
            new_path(old, tmp_path / name)
    with pytest.raises(FileProblems, match="a folder that exists"):
        new_path(old, tmp_path / "no" / "new.toml")
    # One that appears between the look and the write stays too.
    with pytest.raises(FileProblems, match="a new file"):
        write_fitted(old, [fitted("sinks.sense_voltage", 0.58, 0.01)], other)
    assert other.read_text() == "mine"
    assert old.read_bytes() == LAMP.read_bytes()


def test_a_file_that_would_be_no_lamp_is_not_kept(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    with pytest.raises(FileProblems, match=r"sinks\.sense_voltage"):
        write_fitted(LAMP, [fitted("sinks.sense_voltage", 50.0, 1.0)], path)
    assert not path.exists()


def test_a_shipped_lamp_is_fitted_into_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert new_path(LAMP, None) == Path("kerbside-flood.fitted.toml")
    assert LAMP.is_relative_to(resource_dir("variants"))
