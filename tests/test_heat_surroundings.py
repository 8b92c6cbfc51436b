"""Open air, a closed fitting, a hot room: how a study says it, and which cases come of it."""

from __future__ import annotations

import pytest

from coldiron.cli.select import selected_cases
from coldiron.quantities import NotUnderstood
from coldiron.study.conditions import Conditions
from coldiron.study.load import load_study
from coldiron.study.model import Study
from coldiron.study.surroundings import OPEN_AIR, Surroundings
from coldiron.sweep.cases import ROOMS_C, study_cases, tasks
from lamps import plain_lamp


@pytest.mark.parametrize(
    ("written", "label", "room", "resistance"),
    [
        ("open air", "open air", None, 0.0),
        ("closed fitting", "closed fitting", None, 25.0 / 30.0),  # 25 K at the rated 30 W
        ("closed fitting 1.5 K/W", "closed fitting 1.5 K/W", None, 1.5),
        ("hot  room", "hot room 45 °C", 45.0, 0.0),
        ("hot room 60 °C", "hot room 60 °C", 60.0, 0.0),
    ],
)
def test_surroundings_are_read(written: str, label: str, room: float | None, resistance: float) -> None:
    place = Surroundings.read(written)
    assert (place.label, place.ambient_c) == (label, room)
    assert place.fitting_k_per_w(plain_lamp()) == pytest.approx(resistance)


@pytest.mark.parametrize(
    "written", ["", "hot rom", "closed fitting 99 K/W", "closed fitting 2 W", "hot room 400 °C", 3]
)
def test_other_words_are_refused(written: object) -> None:
    with pytest.raises(NotUnderstood):
        Surroundings.read(written)


def test_only_the_bench_heat_is_run_in_each() -> None:
    study = load_study("kerbside-rework")
    places = (OPEN_AIR, Surroundings.read("hot room"), Surroundings.read("closed fitting"))
    study = study.model_copy(
        update={
            "benches": ("steady", "heat", "unplug"),
            "variants": study.variants[:2],
            "conditions": Conditions(surroundings=places),
        }
    )
    cases = list(study_cases(study))
    one = [(case.bench, case.conditions.surroundings) for case in cases if case.variant == "as found"]
    assert one == [
        ("steady", ""),
        ("heat", ""),
        ("unplug", ""),
        ("heat", "hot room 45 °C"),
        ("heat", "closed fitting"),
    ]
    assert [case.conditions.ambient_c for case in cases[:5]] == [25.0, 25.0, 25.0, 45.0, 25.0]
    assert study.lamp.ratings.power_w is not None
    assert cases[4].conditions.fitting_k_per_w == pytest.approx(25.0 / study.lamp.ratings.power_w)
    # In open air the lamp hot shares its cold run with the lamp cold: they travel together.
    assert [len(task) for task in tasks(cases)] == [3, 1, 1] * 2


def test_a_study_that_is_all_in_a_hot_room_keeps_its_cold_benches_cold() -> None:
    study = load_study("kerbside-rework")
    hot = Conditions(surroundings=(Surroundings.read("hot room"),))
    study = study.model_copy(update={"benches": ("steady", "heat"), "conditions": hot})
    steady, heat = list(study_cases(study))[:2]
    assert (steady.conditions.surroundings, steady.conditions.ambient_c) == ("", 25.0)
    assert (heat.conditions.surroundings, heat.conditions.ambient_c) == ("hot room 45 °C", 45.0)


def test_rooms_are_run_where_a_study_asks_and_for_a_variant_looked_at_alone() -> None:
    study = load_study("kerbside-rework")
    study = study.model_copy(update={"benches": ("steady", "heat"), "variants": study.variants[:2]})

    def rooms(study: Study, *alone: str) -> list[tuple[float, ...]]:
        return [case.conditions.rooms_c for case in study_cases(study, alone)]

    assert rooms(study) == [()] * 4
    assert rooms(study, study.variants[1].name) == [(), (), (), ROOMS_C]
    asked = study.model_copy(update={"conditions": Conditions(rooms_c=(40.0, -20.0))})
    assert rooms(asked) == [(), (-20.0, 40.0)] * 2
    assert [
        case.conditions.rooms_c for case in selected_cases(study, [study.variants[1].name], ["heat"])
    ] == [
        (),
        ROOMS_C,
    ]
