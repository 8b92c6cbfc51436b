"""Study files: which variants come of them, and one line, word for word, for each thing that is wrong."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.lamp.shapes import shapes
from coldiron.lamp.toml_file import shipped_names
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.resources import resource_dir
from coldiron.study.apply import Workshop
from coldiron.study.change import changeable_parts
from coldiron.study.conditions import Conditions
from coldiron.study.load import StudyFile, load_study, study_from
from coldiron.study.model import KNOWN_BENCHES, Study, default_surge_level_v
from coldiron.study.variants import MOST_VARIANTS
from coldiron.wording import one_of
from lamps import linear, load_lamp, plain_lamp

HEAD = 'lamp = "kerbside-flood"\n'
PARTS = one_of(changeable_parts(Lamp))


def load(folder: Path, text: str) -> Study:
    """Load a study of this text."""
    path = folder / "trial.toml"
    path.write_text(text, encoding="utf-8")
    return load_study(path)


BELOW = "a lamp below the study's folder, or below the working folder or repository that the study lies in"


def complaints(folder: Path, text: str) -> list[str]:
    """Lines of what is wrong with a study of this text, without the folder."""
    with pytest.raises(FileProblems) as refusal:
        load(folder, text)
    return [line.removeprefix(f"{folder}/") for line in str(refusal.value).split("\n")]


def variant(change: str, name: str = '"trial"') -> str:
    """Text of one variant."""
    return f"[[variant]]\nname = {name}\nchange = {{ {change} }}\n"


def names(study: Study) -> list[str]:
    """Names of the variants."""
    return [v.name for v in study.variants]


def test_the_lamp_as_found_comes_first(tmp_path: Path) -> None:
    study = load(tmp_path, HEAD)
    assert study.name == "trial"  # the file's own name
    assert names(study) == ["as found"]
    assert study.variants[0].lamp == study.lamp == load_lamp("kerbside-flood")
    assert study.variants[0].changes == ()


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ('"reservoir.capacitance" = "22u"', "fit reservoir 22 µF"),
        ('reservoir = { capacitance = "22u", voltage = "450 V" }', "fit reservoir 22 µF, voltage 450 V"),
        ('reservoir.capacitance = "22u"', "fit reservoir 22 µF"),
        ('varistor = "none"', "remove varistor"),
        ('"varistor.ac_rating" = "none"', "remove varistor"),
        ('film = "none"', "remove film capacitor"),
        ('"line_fusing.resistance" = "10 Ω"', "line fusing 10 Ω"),
        ('"line_fusing.power" = "3 W"', "line fusing power 3 W"),
        ('"sinks.count" = 4', "sinks 4"),
        ('"sinks.sense_resistor" = "12R"', "sense resistor 12 Ω"),
        ('"sinks.drain_capacitor" = "none"', "remove drain capacitor"),
        ('"housing.earthed" = false', "housing earthed no"),
        ('"mains.resistance" = "1 Ω"', "resistance 1 Ω"),
        ('"heat.housing_to_ambient" = "0.8 K/W"', "heat housing to ambient 0.8 K/W"),
    ],
)
def test_changes_read_as_a_technician_says_them(tmp_path: Path, change: str, text: str) -> None:
    study = load(tmp_path, HEAD + variant(change))
    assert [str(c) for c in study.variants[1].changes] == [text]


def test_a_change_touches_nothing_else(tmp_path: Path) -> None:
    study = load(tmp_path, HEAD + variant('"line_fusing.resistance" = "10 Ω"'))
    found, changed = linear(study.lamp), linear(study.variants[1].lamp)
    assert found.line_fusing is not None
    assert changed.line_fusing is not None
    assert changed.line_fusing.resistance_ohm == 10.0
    assert changed.line_fusing.provenance("resistance") == "study"
    assert changed.line_fusing.power_w == found.line_fusing.power_w
    assert changed.line_fusing.provenance("power") == found.line_fusing.provenance("power")
    assert changed.model_copy(update={"line_fusing": found.line_fusing}) == found


def test_a_changed_lamp_equals_one_written_so(tmp_path: Path) -> None:
    # The way through a change and the way through a file must meet.
    text = (Path(__file__).parents[1] / "variants" / "lamps" / "kerbside-flood.toml").read_text("utf-8")
    old = 'sense_resistor = { value = "9R1", provenance = "measured" }'
    assert old in text
    (tmp_path / "lamp.toml").write_text(text.replace(old, 'sense_resistor = "11R"'), "utf-8")
    written = load_lamp(tmp_path / "lamp.toml").sinks
    changed = linear(load(tmp_path, HEAD + variant('"sinks.sense_resistor" = "11R"')).variants[1].lamp).sinks
    assert changed.model_copy(update={"provenances": {}}) == written.model_copy(update={"provenances": {}})


def test_none_unsets_an_optional_value_and_its_typical_one_stands_in(tmp_path: Path) -> None:
    text = 'lamp = "corridor-panel"\n' + variant('reservoir = { capacitance = "22 µF", esr = "none" }')
    reservoir = linear(load(tmp_path, text).variants[1].lamp).reservoir
    assert reservoir is not None
    assert reservoir.esr_ohm is None
    # Closed form: loss factor 0.15 at 120 Hz, 0.15 / (2π · 120 Hz · 22 µF) = 9.04 Ω.
    assert reservoir.series_ohm == pytest.approx(0.15 / (2 * math.pi * 120 * 22e-6))


def test_variants_without_a_name_are_named_by_their_changes(tmp_path: Path) -> None:
    study = load(tmp_path, HEAD + '[[variant]]\nchange = { "sinks.count" = 4, varistor = "none" }\n')
    assert names(study) == ["as found", "sinks 4, varistor none"]


@pytest.mark.parametrize("key", ['"reservoir.capacitance"', "reservoir.capacitance"])
def test_a_grid_makes_every_combination_once(tmp_path: Path, key: str) -> None:
    study = load(
        tmp_path, HEAD + f'[grid]\n{key} = ["as found", "10 µF", "22 µF"]\nvaristor = ["as found", "none"]\n'
    )
    assert names(study) == [
        "as found",
        "varistor none",
        "reservoir 10 µF",
        "reservoir 10 µF, varistor none",
        "reservoir 22 µF",
        "reservoir 22 µF, varistor none",
    ]
    assert [len(v.changes) for v in study.variants] == [0, 1, 1, 2, 1, 2]


def test_variants_one_by_one_come_before_the_grid(tmp_path: Path) -> None:
    study = load(tmp_path, HEAD + variant('film = "none"') + '[grid]\n"sinks.count" = [4, 5]\n')
    # Five sinks are what it was found with: that variant is there already.
    assert names(study) == ["as found", "trial", "sinks 4"]


def test_names_may_be_in_any_script(tmp_path: Path) -> None:
    assert names(load(tmp_path, HEAD + variant('"sinks.count" = 4', '"vier Senken für 灯"')))[1] == (
        "vier Senken für 灯"
    )


def test_conditions_of_supply(tmp_path: Path) -> None:
    study = load(
        tmp_path,
        HEAD + '[conditions]\nmains = ["nominal", "+10 %", "-10 %", "240 V", "127 V 60 Hz"]\n'
        'ambient = "40 °C"\nsurge_level = "2 kV"\nsurge_angle = [90, "270°"]\nsurge_polarity = "-"\n',
    )
    points = study.supplies(study.lamp)
    assert [p.label for p in points] == ["nominal", "+10 %", "-10 %", "240 V", "127 V 60 Hz"]
    assert [p.voltage_v for p in points] == pytest.approx([230.0, 253.0, 207.0, 240.0, 127.0])
    assert [p.frequency_hz for p in points] == [50.0, 50.0, 50.0, 50.0, 60.0]
    assert study.conditions.ambient_c == 40.0
    assert study.surge_level_v(study.lamp) == 2000.0
    assert study.conditions.surge_angle_deg == (90.0, 270.0)
    assert study.conditions.surge_polarity == (-1,)


@pytest.mark.parametrize(
    ("power_w", "kind", "level_v"),
    # IEC 61547:2009, surges line to line, from memory: self-ballasted lamps 0.5 kV; luminaires 0.5 kV up to
    # 25 W, 1 kV above.
    [
        (9.0, "self-ballasted lamp", 500.0),
        (40.0, "self-ballasted lamp", 500.0),
        (None, "self-ballasted lamp", 500.0),
        (25.0, "luminaire", 500.0),
        (25.1, "luminaire", 1000.0),
        (None, "luminaire", None),
    ],
)
def test_surge_level_by_power_and_kind(power_w: float | None, kind: str, level_v: float | None) -> None:
    lamp = plain_lamp()
    ratings = lamp.ratings.model_copy(update={"power_w": power_w, "kind": kind})
    assert default_surge_level_v(lamp.model_copy(update={"ratings": ratings})) == level_v


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (
            '"reservoir.capacitance" = "4k7"',
            'variant[1].reservoir.capacitance is "4k7": expected a capacitance, such as 47 µF',
        ),
        (
            '"reservor.capacitance" = "22u"',
            f"variant[1].reservor.capacitance is an unknown part: expected a part of the lamp ({PARTS}) "
            "(did you mean reservoir.capacitance?)",
        ),
        (
            '"film.capacitence" = "22n"',
            "variant[1].film.capacitence is an unknown key: expected capacitance, voltage or provenance "
            "(did you mean capacitance?)",
        ),
        (
            '"reservoir.esr" = "2 Ω"',
            "variant[1].reservoir.capacitance is missing: expected a capacitance, such as 47 µF",
        ),
        (
            '"ratings.power" = "5 W"',
            f"variant[1].ratings.power is an unknown part: expected a part of the lamp ({PARTS})",
        ),
        (
            'varistor = "nope"',
            'variant[1].varistor is "nope": expected "none", "as found" or a table of its values',
        ),
        ('bridge = "none"', 'variant[1].bridge is "none": expected a part that a lamp can be without'),
        (
            '"mains.voltage" = "none"',
            'variant[1].mains.voltage is "none": expected a voltage, such as 230 V',
        ),
        ('"sinks.count" = 1000000', "variant[1].sinks.count is 1000000: expected between 1 and 24"),
        (
            '"string.series" = 60',
            "variant[1].string.series is 60: expected at most 45 LEDs of 9.1 V, or the lamp never lights: "
            "the mains peak is 325.3 V",
        ),
        (
            '"string.slope" = "2 Ω"',
            'variant[1].string.slope is "2 Ω": expected at least 3.597 Ω, what the junction alone has at '
            "60 mA with an emission of 8.4",
        ),
        (
            'film = "none", "film.voltage" = "250 V"',
            'variant[1].film.voltage is "250 V": expected one change of film, not two',
        ),
        (
            'film = { capacitance = "220n", provenance = "measured" }',
            "variant[1].film.provenance: expected no provenance: what a study sets is marked as the study's",
        ),
        (
            '"film.capacitance" = { value = "220n", provenance = "measured" }',
            "variant[1].film.capacitance: expected no provenance: what a study sets is marked as the study's",
        ),
        ("", "variant[1].change is empty: expected at least one change"),
        ('"" = 5', f'variant[1]."" is an unknown part: expected a part of the lamp ({PARTS})'),
    ],
)
def test_one_wrong_change_is_one_line(tmp_path: Path, change: str, line: str) -> None:
    assert complaints(tmp_path, HEAD + variant(change)) == [f"trial.toml: {line}"]


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ('name = "trial"\n', ["lamp is missing: expected text in quotes"]),
        (
            'lamp = "kerbside-floods"\n',
            [
                f'lamp is "kerbside-floods": expected a shipped lamp ({one_of(shipped_names("lamps"))}) '
                "or a path beside the study (did you mean kerbside-flood?)"
            ],
        ),
        (
            'lamp = "../../../etc/passwd"\n',
            [f'lamp is "../../../etc/passwd": expected {BELOW}'],
        ),
        (
            'lamp = "/etc/passwd"\n',
            [f'lamp is "/etc/passwd": expected {BELOW}'],
        ),
        (
            'lamp = "a\\u0000/b.toml"\n',
            [f'lamp is "a\\u0000/b.toml": expected {BELOW}'],
        ),
        (
            HEAD + 'benches = ["steady", "surg"]\n',
            [f'benches[2] is "surg": expected {one_of(KNOWN_BENCHES)} (did you mean surge?)'],
        ),
        (HEAD + 'benches = ["steady", "steady"]\n', ["benches is a list: expected each entry once"]),
        (HEAD + "benches = []\n", ["benches is a list: expected at least 1 entry"]),
        (
            HEAD + 'name = "../trial"\n',
            ['name is "../trial": expected a name that a folder can have (results go to it)'],
        ),
        (
            HEAD + '[conditions]\nmains = ["nomnal", "+60 %", "24 V", "240 V 400 Hz"]\nambient = "25 V"\n'
            'surge_polarity = ["x"]\nsurge_angle = [400]\nspeed = 3\n',
            [
                'conditions.mains[1] is "nomnal": expected "nominal", a share such as "+10 %", or a supply '
                'such as "240 V" or "240 V 60 Hz"',
                'conditions.mains[2] is "+60 %": expected a share from -50 % to +50 %',
                'conditions.mains[3] is "24 V": expected a mains voltage from 50 V to 500 V',
                'conditions.mains[4] is "240 V 400 Hz": expected a frequency from 40 Hz to 70 Hz',
                'conditions.ambient is "25 V": expected a temperature, such as 85 °C',
                'conditions.surge_polarity[1] is "x": expected "+" or "-"',
                "conditions.surge_angle[1] is 400: expected between 0° and 360°",
                f"conditions.speed is an unknown key: expected {one_of(shapes(Conditions))}",
            ],
        ),
        (
            HEAD + variant('film = "none"') + variant('varistor = "none"'),
            ['variant[2].name is "trial": expected a name that no other variant has'],
        ),
        (
            HEAD + variant('film = "none"', '"as found"'),
            ['variant[1].name is "as found": expected a name that no other variant has'],
        ),
        (
            HEAD + variant('film = "none"', '"a\\nb"'),
            ['variant[1].name is "a\\u000ab": expected one line of printable characters'],
        ),
        (HEAD + '[[variant]]\nname = "a"\n', ["variant[1].change is missing: expected a table"]),
        (HEAD + "variant = 5\n", ["variant[1] is 5: expected a table [[variant]]"]),
        (HEAD + "grid = [1]\n", ["grid is a list: expected a table"]),
        (
            HEAD + '[grid]\nvaristor = ["none", "nne"]\nfoo = [1]\nbar = 5\n"sinks.count" = []\n'
            '"film.capacitance" = ["10 V"]\n',
            [
                "grid.bar is 5: expected a list of at least one value",
                "grid.sinks.count is a list: expected a list of at least one value",
                f"grid.foo is an unknown part: expected a part of the lamp ({PARTS})",
                'grid.film.capacitance is "10 V": expected a capacitance, such as 47 µF',
                'grid.varistor is "nne": expected "none", "as found" or a table of its values',
            ],
        ),
        (
            HEAD + '[grid]\n"film.capacitance" = ["220n", "0.22 µF"]\n',
            ['grid is "film capacitor 220 nF": expected a name that no other variant has'],
        ),
    ],
)
def test_mistakes_of_a_study(tmp_path: Path, text: str, lines: list[str]) -> None:
    assert complaints(tmp_path, text) == [f"trial.toml: {line}" for line in lines]


def test_mistakes_of_study_and_lamp_come_together(tmp_path: Path) -> None:
    (tmp_path / "lamp.toml").write_text('name = "x"\nmains = 5\n', "utf-8")
    assert complaints(tmp_path, 'lamp = "lamp.toml"\nbenchs = ["steady"]\n') == [
        f"trial.toml: benchs is an unknown key: expected {one_of(shapes(StudyFile))} (did you mean benches?)",
        "lamp.toml: mains is 5: expected a table [mains]",
        *(
            f"lamp.toml: {part} is missing: expected a table [{part}]"
            for part in ("housing", "bridge", "string", "sinks")
        ),
    ]


def test_a_lamp_below_the_study_is_read_and_a_link_out_of_it_is_not(tmp_path: Path) -> None:
    shipped = Path(__file__).parents[1] / "variants" / "lamps" / "pantry-bulb.toml"
    outside = tmp_path / "outside.toml"
    outside.write_bytes(shipped.read_bytes())
    own = tmp_path / "own"
    (own / "lamps").mkdir(parents=True)
    (own / "lamps" / "bulb.toml").write_bytes(shipped.read_bytes())
    (own / "link.toml").symlink_to(outside)
    assert load(own, 'lamp = "lamps/bulb.toml"\n').lamp.name == "Pantry bulb"
    assert load(own, 'lamp = "lamps/../lamps/bulb.toml"\n').lamp.name == "Pantry bulb"
    for way_out in ("../outside.toml", "link.toml"):
        assert complaints(own, f'lamp = "{way_out}"\n') == [
            f'trial.toml: lamp is "{way_out}": expected {BELOW}'
        ]


def a_team(folder: Path) -> Path:
    """A repository with lamps and studies in folders side by side, and a lamp outside of it."""
    shipped = Path(__file__).parents[1] / "variants" / "lamps" / "pantry-bulb.toml"
    team = folder / "team"
    for place in (team / "lamps", team / "studies", team / ".git"):
        place.mkdir(parents=True)
    for place in (team / "lamps", folder):
        (place / "bulb.toml").write_bytes(shipped.read_bytes())
    return team


@pytest.mark.parametrize("where", ["repository", "working folder"])
def test_a_lamp_in_a_folder_beside_that_of_the_studies_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    team = a_team(tmp_path)
    if where == "working folder":
        (team / ".git").rmdir()
        monkeypatch.chdir(team)
    assert load(team / "studies", 'lamp = "../lamps/bulb.toml"\n').lamp.name == "Pantry bulb"
    for way_out in ("../../bulb.toml", str(tmp_path / "bulb.toml")):
        [said] = complaints(team / "studies", f'lamp = "{way_out}"\n')
        assert said.endswith(f"expected {BELOW}")


def test_a_link_out_of_the_repository_is_not_followed(tmp_path: Path) -> None:
    team = a_team(tmp_path)
    (team / "lamps" / "link.toml").symlink_to(tmp_path / "bulb.toml")
    assert complaints(team / "studies", 'lamp = "../lamps/link.toml"\n')[0].endswith(f"expected {BELOW}")


def test_a_study_from_elsewhere_reads_nothing_of_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    team = a_team(tmp_path)
    (tmp_path / "downloads").mkdir()
    monkeypatch.chdir(team)
    way = 'lamp = "../team/lamps/bulb.toml"\n'
    assert complaints(tmp_path / "downloads", way)[0].endswith(f"expected {BELOW}")


def test_a_name_alone_suggests_the_lamp_in_the_folder_beside(tmp_path: Path) -> None:
    [said] = complaints(a_team(tmp_path) / "studies", 'lamp = "bulb"\n')
    assert said.endswith("(did you mean ../lamps/bulb.toml?)")


def test_a_billion_variants_are_refused_by_their_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: Any) -> Any:
        raise AssertionError("a variant was built")

    monkeypatch.setattr(Workshop, "apply", never)
    options = ", ".join(str(1 + n / 1000) for n in range(1000))
    grid = "".join(
        f'"{part}.resistance" = [{options}]\n' for part in ("line_fusing", "neutral_fusing", "bleed")
    )
    assert complaints(tmp_path, f"{HEAD}[grid]\n{grid}") == [
        "trial.toml: grid is 1 000 000 001 variants: expected at most 20 000"
    ]
    thousand_axes = "".join(f'"a.b{n}" = [{", ".join("1" * 20)}]\n' for n in range(1000))
    # Closed form: 20^1000 = 10^1301.03.
    assert complaints(tmp_path, f"{HEAD}[grid]\n{thousand_axes}") == [
        "trial.toml: grid is about 10^1301 variants: expected at most 20 000"
    ]


def test_as_many_variants_as_are_allowed_share_their_parts(tmp_path: Path) -> None:
    line = ", ".join(str(1 + n / 1000) for n in range(100))
    film = ", ".join(str((n + 1) * 1e-9) for n in range(199))
    study = load(
        tmp_path, f'{HEAD}[grid]\n"line_fusing.resistance" = [{line}]\n"film.capacitance" = [{film}]\n'
    )
    # Each combination is a variant of its own; the film capacitor of 100 nF is the one as found.
    assert len(study.variants) == 1 + 100 * 199 <= MOST_VARIANTS
    assert linear(study.variants[1].lamp).line_fusing is linear(study.variants[2].lamp).line_fusing
    assert len({id(linear(v.lamp).film) for v in study.variants}) == 199


changes = st.dictionaries(
    st.sampled_from(
        ["varistor", "film", "reservoir", "reservoir.capacitance", "sinks.count", "sinks.sense_resistor",
         "line_fusing.resistance", "bridge", "x", "", "a.b.c", "string.series", "mains.voltage"]
    ),
    st.recursive(
        st.one_of(
            st.sampled_from(["none", "as found", "22u", "10 Ω", "4k7", ""]), st.integers(), st.floats(),
            st.booleans(), st.text(max_size=5),
        ),
        lambda inner: st.one_of(
            st.lists(inner, max_size=2),
            st.dictionaries(st.sampled_from(["capacitance", "esr", "provenance"]), inner, max_size=3),
        ),
    ),
    max_size=4,
)  # fmt: skip


@given(
    entries=st.lists(
        st.fixed_dictionaries({"change": changes}, optional={"name": st.text(max_size=4)}), max_size=3
    ),
    grid=st.dictionaries(
        st.sampled_from(["varistor", "film.capacitance", "sinks", "x", ""]),
        st.one_of(st.integers(), st.lists(st.sampled_from(["none", "as found", "22n", 5, None]), max_size=3)),
        max_size=3,
    ),
)
@example(entries=[{"change": {"": {"": {"": {}}}}}], grid={})
def test_junk_changes_make_variants_or_are_refused(
    entries: list[dict[str, Any]], grid: dict[str, Any]
) -> None:
    table = {"lamp": "kerbside-flood", "variant": entries, "grid": grid}
    try:
        study = study_from(table, Path("junk.toml"))
    except FileProblems as refusal:
        assert all(str(problem).isprintable() for problem in refusal.problems)  # noqa: PT017
    else:
        found = names(study)
        assert found[0] == "as found"
        assert len(set(found)) == len(found)


def test_mistakes_in_conditions_do_not_hide_those_in_changes(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(
        'lamp = "kerbside-flood"\n[conditions]\nmains = ["%"]\n'
        '[[variant]]\nname = "x"\nchange = { "string.series" = 10000, "reservoir.capacitance" = "4k7" }\n'
    )
    with pytest.raises(FileProblems) as caught:
        load_study(tmp_path / "study.toml")
    keys = [problem.key for problem in caught.value.problems]
    assert [key.split(".")[0].split("[")[0] for key in keys] == ["conditions", "variant", "variant"]


BASE = '[base]\nchange = { "varistor.ac_rating" = "250 V" }\n'


def test_a_base_is_a_variant_and_under_every_other(tmp_path: Path) -> None:
    study = load(
        tmp_path,
        HEAD + BASE + variant('film = "none"', '"no film"') + '[[variant]]\nchange = { "sinks.count" = 4 }\n'
        '[grid]\n"line_fusing.resistance" = ["as found", "10 Ω"]\n',
    )
    # Names tell what a variant adds to the base.
    assert names(study) == ["as found", "varistor 250 V", "no film", "sinks 4", "line fusing 10 Ω"]
    found, *others = study.variants
    as_found = linear(found.lamp).varistor
    assert as_found is not None
    assert as_found.ac_rating_v != 250.0
    for each in others:
        other = linear(each.lamp).varistor
        assert other is not None
        assert other.ac_rating_v == 250.0
        assert each.changes[0].part == "varistor" or each.name == "no film"


def test_what_a_variant_says_goes_before_the_base(tmp_path: Path) -> None:
    base = '[base]\nname = "rebuilt"\nchange = { reservoir = { capacitance = "10 µF", voltage = "400 V" } }\n'
    study = load(
        tmp_path,
        HEAD + base + '[[variant]]\nchange = { reservoir = "none", varistor = "none" }\n'
        '[[variant]]\nchange = { "reservoir.capacitance" = "22 µF" }\n',
    )
    assert names(study) == [
        "as found",
        "rebuilt",
        "varistor none, reservoir as found",
        "reservoir 22 µF",
    ]
    larger = linear(study.variants[3].lamp).reservoir
    assert larger is not None
    assert (larger.capacitance_f, larger.voltage_v) == (22e-6, 400.0)


def test_keys_in_a_zip_step_together_and_meet_every_point_of_the_grid(tmp_path: Path) -> None:
    steps = '[zip]\n"reservoir.capacitance" = ["10 µF", "22 µF"]\n'
    steps += '"line_fusing.resistance" = ["4R7", "10 Ω"]\n'
    study = load(tmp_path, HEAD + steps + '[grid]\nvaristor = ["as found", "none"]\n')
    # 4.7 Ω is what was found.
    assert names(study) == [
        "as found",
        "reservoir 10 µF",
        "reservoir 10 µF, varistor none",
        "reservoir 22 µF, line fusing 10 Ω",
        "reservoir 22 µF, line fusing 10 Ω, varistor none",
    ]
    assert len(load(tmp_path, HEAD + steps).variants) == 3


def test_names_of_a_grid_say_only_what_varies(tmp_path: Path) -> None:
    fit = '{ capacitance = "%s", voltage = "400 V" }'
    study = load(
        tmp_path,
        HEAD
        + f'[grid]\nreservoir = [{fit % "10 µF"}, {fit % "22 µF"}]\n"line_fusing.resistance" = ["10 Ω"]\n',
    )
    assert names(study) == ["as found", "reservoir 10 µF", "reservoir 22 µF"]
    assert [change.part for change in study.variants[1].changes] == ["reservoir", "line_fusing"]


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (
            '[zip]\n"sinks.count" = [3, 4]\n"film.capacitance" = ["220n"]\n',
            ["zip.film.capacitance is a list of 1: expected 2, as many as zip.sinks.count has"],
        ),
        (
            '[zip]\n"sinks.count" = [3, 4]\n[grid]\n"sinks.count" = [2]\n',
            ["zip.sinks.count is in the grid too: expected a key of grid or of zip, not of both"],
        ),
        (
            '[base]\nchange = { varistr = "none" }\n',
            [
                f"base.varistr is an unknown part: expected a part of the lamp ({PARTS}) "
                "(did you mean varistor?)"
            ],
        ),
        ("[base]\nchange = {}\n", ["base.change is empty: expected at least one change"]),
    ],
)
def test_mistakes_of_a_base_and_a_zip(tmp_path: Path, text: str, lines: list[str]) -> None:
    assert complaints(tmp_path, HEAD + text) == [f"trial.toml: {line}" for line in lines]


@pytest.mark.parametrize("key", ["NTC1.r25", "part.NTC1.r25"])
def test_a_further_part_is_changed_by_either_path(tmp_path: Path, key: str) -> None:
    found = (resource_dir("variants") / "lamps" / "kerbside-flood.toml").read_text(encoding="utf-8")
    further = '[part.NTC1]\nkind = "thermistor"\nafter = "line_fusing"\nr25 = "22 Ω"\n'
    (tmp_path / "lamp.toml").write_text(f"{found}\n{further}", encoding="utf-8")
    study = load(tmp_path, 'lamp = "lamp.toml"\n' + variant(f'"{key}" = "10 Ω"'))
    lamp = study.variants[1].lamp
    assert lamp.circuit["NTC1"].values.r25_ohm == 10.0
