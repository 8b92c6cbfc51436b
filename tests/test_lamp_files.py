"""Lamp files: what is understood, and one line, word for word, for each thing that is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldiron.errors import FileProblems
from coldiron.lamp.shapes import shapes
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.trade_words import TRADE_WORDS
from coldiron.study.load import StudyFile, load_study
from coldiron.wording import one_of
from lamps import load_lamp
from small_lamp import SMALL, complaints, write


def test_values_arrive_in_si_with_their_provenance(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        ('name = "Bench lamp"', 'name = "Bench lamp"\nprovenance = "data sheet"'),
        ('resistance = "10 Ω"', 'resistance = { value = "10 Ω", provenance = "measured" }'),
        ("[string]\n", '[string]\nprovenance = "fitted"\n'),
    )
    lamp = load_lamp(path)
    assert lamp.line_fusing is not None
    assert lamp.line_fusing.resistance_ohm == 10.0
    assert lamp.line_fusing.provenance("resistance") == "measured"
    assert lamp.line_fusing.provenance("power") == "typical"  # a default
    assert lamp.string.forward_current_a == pytest.approx(0.06)
    assert lamp.string.provenance("forward_current") == "fitted"
    assert lamp.sinks.provenance("sense_resistor") == "data sheet"
    assert lamp.neutral_fusing is None
    assert lamp.reservoir is None


def test_a_value_without_a_provenance_is_given(tmp_path: Path) -> None:
    assert load_lamp(write(tmp_path)).sinks.provenance("sense_resistor") == "given"


def test_a_changed_lamp_has_a_circuit_of_its_own(tmp_path: Path) -> None:
    lamp = load_lamp(write(tmp_path))
    assert any(part.name == "film" for part in lamp.circuit.parts)
    without = lamp.model_copy(update={"film": None})
    assert not any(part.name == "film" for part in without.circuit.parts)


def test_none_takes_a_part_out(tmp_path: Path) -> None:
    path = write(tmp_path, ('name = "Bench lamp"', 'name = "Bench lamp"\nreservoir = "none"'))
    assert load_lamp(path).reservoir is None


RESISTANCE = 'resistance = "10 Ω"'
KEYS_OF_FUSING = "resistance, power, pulse_energy, tolerance, element or provenance"


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            RESISTANCE,
            'resistence = "10 Ω"',
            f"line_fusing.resistence is an unknown key: expected {KEYS_OF_FUSING} (did you mean resistance?)",
        ),
        (
            RESISTANCE,
            'resistance_ohm = "10 Ω"',
            f"line_fusing.resistance_ohm is an unknown key: expected {KEYS_OF_FUSING} "
            "(did you mean resistance?)",
        ),
        (
            "[varistor]",
            "[varister]",
            f"varister is an unknown key: expected {one_of([*shapes(Lamp), 'provenance'])} "
            "(did you mean varistor?)",
        ),
        (
            RESISTANCE,
            'resistance = "10 V"',
            'line_fusing.resistance is "10 V": expected a resistance, such as 4k7 or 10 Ω',
        ),
        (
            'capacitance = "100 nF"',
            'capacitance = "4k7"',
            'film.capacitance is "4k7": expected a capacitance, such as 47 µF',
        ),
        (
            RESISTANCE,
            'resistance = "4,7"',
            'line_fusing.resistance is "4,7": expected a resistance, such as 4k7 or 10 Ω (did you mean 4.7?)',
        ),
        (
            RESISTANCE,
            'resistance = "-10 Ω"',
            'line_fusing.resistance is "-10 Ω": expected between 10 mΩ and 10 kΩ',
        ),
        (RESISTANCE, "resistance = 0", "line_fusing.resistance is 0: expected between 10 mΩ and 10 kΩ"),
        (
            RESISTANCE,
            "resistance = nan",
            "line_fusing.resistance is nan: expected a finite number, such as 4k7 or 10 Ω",
        ),
        (
            RESISTANCE,
            "resistance = inf",
            "line_fusing.resistance is inf: expected a finite number, such as 4k7 or 10 Ω",
        ),
        (
            RESISTANCE,
            "resistance = 1e300",
            "line_fusing.resistance is 1e+300: expected between 10 mΩ and 10 kΩ",
        ),
        (
            RESISTANCE,
            "resistance = 0x" + "f" * 400,
            "line_fusing.resistance is a number of 1600 bits: expected a finite number, such as 4k7 or 10 Ω",
        ),
        (
            RESISTANCE,
            "resistance = true",
            "line_fusing.resistance is true: expected a resistance, such as 4k7 or 10 Ω",
        ),
        (
            RESISTANCE,
            'resistance = { value = "10 Ω", provenance = "guessed" }',
            'line_fusing.resistance.provenance is "guessed": expected '
            "measured, data sheet, fitted, given or typical",
        ),
        (
            RESISTANCE,
            'resistance = { value = "10 Ω", provenance = "mesured" }',
            'line_fusing.resistance.provenance is "mesured": expected '
            "measured, data sheet, fitted, given or typical (did you mean measured?)",
        ),
        (
            RESISTANCE,
            'resistance = { provenance = "measured" }',
            "line_fusing.resistance.value is missing: expected a resistance, such as 4k7 or 10 Ω",
        ),
        (RESISTANCE, "", "line_fusing.resistance is missing: expected a resistance, such as 4k7 or 10 Ω"),
        ("series = 80", "series = 10000", "string.series is 10000: expected between 1 and 500"),
        ("count = 2", "count = 1000000", "sinks.count is 1000000: expected between 1 and 24"),
        ("count = 2", "count = 2.0", "sinks.count is 2.0: expected a whole number"),
        ("earthed = true", 'earthed = "yes"', 'housing.earthed is "yes": expected true or false'),
        (
            "earthed = true",
            'earthed = true\nconnection = "screwcap"',
            'housing.connection is "screwcap": expected fixed wiring, plug or screw cap '
            "(did you mean screw cap?)",
        ),
        (
            'power = "15 W"',
            'power = "15 W"\nkind = "luminair"',
            'ratings.kind is "luminair": expected luminaire or self-ballasted lamp (did you mean luminaire?)',
        ),
        ("[bridge]\n", "", "bridge is missing: expected a table [bridge]"),
        ("[bridge]\n", "[[bridge]]\n", "bridge is a list: expected a table [bridge]"),
        ('"Bench lamp"', '"a\\nb"', 'name is "a\\u000ab": expected one line of printable characters'),
        ('"Bench lamp"', '"a\\u202eb"', 'name is "a\\u202eb": expected one line of printable characters'),
        ('"Bench lamp"', '" "', 'name is " ": expected a name, not an empty text'),
        ('"Bench lamp"', "7", "name is 7: expected text in quotes"),
        (
            'name = "Bench lamp"',
            'name = "Bench lamp"\nnote = "a\\u0007b"',
            'note is "a\\u0007b": expected one line of printable characters',
        ),
    ],
)
def test_one_mistake_is_one_line(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert complaints(write(tmp_path, (old, new))) == [f"lamp.toml: {line}"]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        # Closed form: a junction alone has N·kT/(q·I) = 2.57 · 25.69 mV / 60 mA = 1.10 Ω at 25 °C.
        (
            'slope = "3 Ω"',
            'slope = "1 Ω"',
            'string.slope is "1 Ω": expected at least 1.1 Ω, what the junction alone has at 60 mA with an '
            "emission of 2.57",
        ),
        (
            'slope = "3 Ω"',
            'slope = "40 Ω"',
            'string.slope is "40 Ω": expected at most 30 Ω, or little is left for the junction',
        ),
        (
            'slope = "3 Ω"',
            'slope = "3 Ω"\npulse_current = "50 mA"',
            'string.pulse_current is "50 mA": expected at least the test current of 60 mA',
        ),
        # Closed form: 1.1 · (430 V · (25 A / 1 mA)^(1/100) + 25 A · 0.1 Ω / 0.9) = 526.4 V, for the low disc.
        (
            '"710 V"',
            '"440 V"',
            'varistor.clamping_voltage is "440 V": expected between 527 V and 3.261 kV, above the 1 mA '
            "voltage of 430 V, the 2.5 V in the series resistance and the tolerance",
        ),
        (
            '"275 V"',
            '"400 V"',
            'varistor.one_milliamp_voltage is "430 V": expected at least 480 V, well above the AC rating of '
            "400 V",
        ),
        (
            'sense_resistor = "15R"',
            'sense_resistor = "15R"\ndrain_voltage = "500 V"\navalanche_voltage = "450 V"',
            'sinks.avalanche_voltage is "450 V": expected at least the drain rating of 500 V',
        ),
        (
            '"15R"',
            '"R47"',
            'sinks.sense_resistor is "R47": expected at least 600 mΩ, which sets the peak current of 1 A',
        ),
        (
            "[bridge]",
            '[bridge]\nforward_voltage = "0.5 V"\nforward_current = "10 A"',
            'bridge.forward_voltage is "0.5 V": expected at least 1.1 V at 10 A (0.3 V and the drop in the '
            "series resistance)",
        ),
        # Closed form: 1.1 · √2 · 230 V = 357.8 V, and one LED at a hundredth of the set current has
        # 3 V − 60 mA · (3 − 1.22) Ω + 73.2 mV · ln(0.8 / 60) = 2.577 V.
        (
            "series = 80",
            "series = 200",
            "string.series is 200: expected at most 137 LEDs of 3 V, or the lamp never lights: the mains "
            "peak is 325.3 V",
        ),
    ],
)
def test_values_that_do_not_belong_together(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert complaints(write(tmp_path, (old, new))) == [f"lamp.toml: {line}"]


def test_every_mistake_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        ('frequency = "50 Hz"', 'frequency = "50 V"'),
        (RESISTANCE, 'resistence = "10 Ω"'),
        ('"100 nF"', '"4k7"'),
        ("series = 80", "series = 10000"),
        ("earthed = true", ""),
    )
    assert complaints(path) == [
        'lamp.toml: mains.frequency is "50 V": expected a frequency, such as 50 Hz',
        f"lamp.toml: line_fusing.resistence is an unknown key: expected {KEYS_OF_FUSING} "
        "(did you mean resistance?)",
        'lamp.toml: film.capacitance is "4k7": expected a capacitance, such as 47 µF',
        "lamp.toml: string.series is 10000: expected between 1 and 500",
        "lamp.toml: housing.earthed is missing: expected true or false",
    ]


def test_readings_are_read_in_the_unit_of_what_was_read(tmp_path: Path) -> None:
    path = write(tmp_path)
    path.write_text(
        SMALL
        + '[[reading]]\nwhat = "input current"\nstate = "cold"\nvalue = "65 mA"\ntolerance = "2 %"\n'
        + '[[reading]]\nwhat = "housing temperature"\nstate = "hot"\nvalue = "61 °C"\n'
        + '[[reading]]\nwhat = "power factor"\nstate = "hot"\nvalue = 0.9\n',
        encoding="utf-8",
    )
    assert [reading.value for reading in load_lamp(path).reading] == [0.065, 61.0, 0.9]


def test_a_flood_of_readings_is_one_problem(tmp_path: Path) -> None:
    path = write(tmp_path)
    path.write_text(SMALL + "[[reading]]\n" * 50_000, encoding="utf-8")
    assert complaints(path) == ["lamp.toml: reading is 50000 entries: expected at most 100"]


def test_mistakes_in_readings_say_which_reading(tmp_path: Path) -> None:
    path = write(tmp_path)
    path.write_text(
        SMALL
        + '[[reading]]\nwhat = "input current"\nstate = "cold"\nvalue = "65 W"\n'
        + '[[reading]]\nwhat = "input power"\nstate = "warm"\nvalue = "-5 W"\n'
        + '[[reading]]\nwhat = "bus volts"\nstate = "cold"\nvalue = "300 V"\n',
        encoding="utf-8",
    )
    assert complaints(path) == [
        'lamp.toml: reading[1].value is "65 W": expected a current, such as 45 mA',
        'lamp.toml: reading[2].state is "warm": expected cold or hot',
        'lamp.toml: reading[2].value is "-5 W": expected between 1 mW and 5 kW',
        'lamp.toml: reading[3].what is "bus volts": expected input current, input power, power factor, '
        "die temperature, board temperature, string temperature, housing temperature, bus voltage or "
        "string voltage (did you mean bus voltage?)",
    ]


def test_a_note_of_several_lines_becomes_one(tmp_path: Path) -> None:
    path = write(tmp_path, ('name = "Bench lamp"', 'name = "Bench lamp"\nnote = """\none\n  two\n"""'))
    assert load_lamp(path).note == "one two"


@pytest.mark.parametrize(
    ("word", "key"),
    [
        ("fuse", "line_fusing"), ("MOV", "varistor"), ("capacitor", "reservoir"),
        ("bridge-rectifier", "bridge"),
        ("leds", "string"), ("driver", "sinks"), ("case", "housing"),
    ],
)  # fmt: skip
def test_a_word_of_the_trade_leads_to_the_key(tmp_path: Path, word: str, key: str) -> None:
    path = write(tmp_path, ("[sinks]\n", f"[{word}]\n[sinks]\n"))
    with pytest.raises(FileProblems) as refused:
        load_lamp(path)
    assert f"{word} is an unknown key" in str(refused.value)
    assert str(refused.value).endswith(f"(did you mean {key}?)")


def test_every_word_of_the_trade_leads_to_a_key_there_is() -> None:
    known = {*shapes(Lamp), *shapes(StudyFile), "provenance"}
    for of in (*shapes(Lamp).values(), *shapes(StudyFile).values()):
        known |= set(shapes(of.model)) if of.model is not None else set()
    assert set(TRADE_WORDS.values()) <= known
    assert not set(TRADE_WORDS) & set(shapes(Lamp))


def test_a_study_is_no_lamp_and_a_lamp_no_study(tmp_path: Path) -> None:
    study = tmp_path / "study.toml"
    study.write_text('lamp = "mine.toml"\nbenches = ["steady"]\n')
    with pytest.raises(FileProblems) as refused:
        load_lamp(study)
    assert str(refused.value) == f'{study} is a study: expected a lamp; the study\'s own is "mine.toml"'
    with pytest.raises(FileProblems) as refused:
        load_study(write(tmp_path))
    assert str(refused.value).endswith(
        'is a lamp: expected a study, which names its lamp and the changes to try: lamp = "lamp.toml"'
    )
    with pytest.raises(FileProblems, match="kerbside-flood is a lamp: expected a study: corridor-recap"):
        load_study("kerbside-flood")
    with pytest.raises(FileProblems, match="kerbside-rework is a study: expected a lamp: corridor-panel"):
        load_lamp("kerbside-rework")
