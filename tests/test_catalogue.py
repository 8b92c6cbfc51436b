"""The catalogue of readings: without contradictions, and what limits and columns speak of is in it."""

from __future__ import annotations

from coldiron.limits.rules import limits_of
from coldiron.readings.catalogue import CATALOGUE, COLUMNS, kind_of, spoken_kinds
from coldiron.study.load import load_study
from coldiron.study.model import KNOWN_BENCHES


def test_a_row_names_benches_there_are() -> None:
    assert {bench for kind in CATALOGUE.values() for bench in kind.benches} == {*KNOWN_BENCHES, "fault"}


def test_no_two_readings_of_a_bench_are_the_same_in_words() -> None:
    said = [(bench, kind.what, kind.unit) for kind in CATALOGUE.values() for bench in kind.benches]
    assert sorted(said) == sorted(set(said))


def test_what_is_worse_neither_way_is_not_spoken_of_as_better_or_worse() -> None:
    kinds = spoken_kinds()
    assert all(kind.worse in ("up", "down") for kind in kinds)
    assert [kind.spoken.rank for kind in kinds] == list(range(1, len(kinds) + 1))


def test_columns_and_what_is_held_in_place_of_another_are_readings() -> None:
    assert all(bench in kind_of(reading).benches for bench, reading in COLUMNS)
    held = {kind.held_by for kind in CATALOGUE.values()} - {""}
    assert held <= set(CATALOGUE)


def test_every_limit_is_on_a_reading_of_its_bench() -> None:
    limits = limits_of(load_study("kerbside-rework"))
    assert [limit.reading for limit in limits if limit.bench not in kind_of(limit.reading).benches] == []


def test_units_are_those_of_the_id() -> None:
    assert kind_of("inrush_i2t_A2s").unit == "A²s"
    assert kind_of("off_string_uA").unit == "µA"
    assert kind_of("power_factor").unit == ""
    assert kind_of("harmonic_3_pct").heading == "harmonic 3"
