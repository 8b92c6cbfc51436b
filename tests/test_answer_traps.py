"""Small studies with a known right answer, each with a trap: what the first three lines say of them.

The right answers follow from rules of the trade and from sums that need no simulation; each stands beside its
study. The simulations are real.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path

import pytest

from coldiron.answer.safety import Hazard
from coldiron.answer.words import answer_lines
from coldiron.api import StudyResult, run_study
from coldiron.study.load import study_from
from laboratory import changed
from lamps import load_lamp

pytestmark = pytest.mark.ngspice

Changes = Sequence[tuple[str, str]]
VARISTOR = """{ varistor = { ac_rating = "%d V", one_milliamp_voltage = "%d V", clamping_voltage = "%d V",
    clamping_current = "10 A", place = "behind line fusing" } }""".replace("\n   ", "")


def run(lamp: str, benches: Sequence[str], changes: Changes, more: str = "") -> StudyResult:
    """Run a study of a shipped lamp."""
    variants = "".join(f'[[variant]]\nname = "{name}"\nchange = {change}\n' for name, change in changes)
    text = f'lamp = "{lamp}"\nbenches = {list(benches)}\n{more}\n{variants}'
    return run_study(study_from(tomllib.loads(text), Path("trap.toml")), workers=1)


def want(*aims: str) -> str:
    return f"[aim]\nwant = {list(aims)}\n"


def head(result: StudyResult) -> list[str]:
    """First three lines."""
    return answer_lines(result.answer)[:3]


def named(result: StudyResult) -> str:
    assert result.answer.named is not None
    return result.answer.named.ranked.candidate.name


def test_no_fusing_part_left_is_never_praised_for_burning_nothing() -> None:
    """A wire burns no watts and lets more light through; it is no fuse."""
    wires = '{ line_fusing = "none", neutral_fusing = "none" }'
    half = '{ "line_fusing.resistance" = "2R2" }'
    result = run("kerbside-flood", ["steady"], [("wires", wires), ("2R2", half)], want("more light"))
    verdict, caution, _ = head(result)
    assert "wires" not in verdict
    assert caution == f"Never do this: 1 · wires: {Hazard.NO_FUSE.caution}."
    assert list(result.rank().index)[-1] == "wires"


def test_a_capacitor_of_200_v_does_not_suit_a_bus_of_325_v() -> None:
    """230 V has a peak of 325 V; both capacitors smooth the light alike."""
    change = '{ reservoir = { capacitance = "22 µF", voltage = "%s" } }'
    tried = [("200 V", change % "200 V"), ("400 V", change % "400 V")]
    result = run("kerbside-flood", ["steady"], tried, want("steady light"))
    assert head(result)[0].endswith("Nearest for steady light: 2 · 400 V.")
    assert result.use.loc["200 V", ("parts", "reservoir, voltage")] == pytest.approx(325 / 200, rel=0.03)


def test_the_same_capacitor_suits_120_v() -> None:
    """120 V has a peak of 170 V: 200 V suits it, 160 V does not."""
    change = '{ reservoir = { capacitance = "22 µF", voltage = "%s" } }'
    tried = [("160 V", change % "160 V"), ("200 V", change % "200 V")]
    result = run("pantry-bulb", ["steady"], tried, want("steady light"))
    assert head(result)[0].endswith("Nearest for steady light: 2 · 200 V.")


def test_a_varistor_below_the_high_mains_is_not_the_answer() -> None:
    """On 253 V a disc of the 250 V class clamps lower, and stands above its own rating."""
    tried = [("250 V class", VARISTOR % (250, 390, 650)), ("275 V class", VARISTOR % (275, 430, 710))]
    mains = '[conditions]\nmains = ["nominal", "+10 %"]\nsurge_angle = [90]\n'
    result = run("kerbside-flood", ["steady", "surge"], tried, mains + want("survives the surge"))
    assert "2 · 275 V class" in head(result)[0]


def test_a_varistor_that_high_mains_would_overload_is_said_to_be_untried_there() -> None:
    """The same disc, tried at 230 V alone."""
    tried = [("250 V class", VARISTOR % (250, 390, 650))]
    mains = "[conditions]\nsurge_angle = [90]\n"
    result = run("kerbside-flood", ["surge"], tried, mains + want("survives the surge"))
    assert "at 253 V the varistor of 1 is over its 250 V" in "\n".join(answer_lines(result.answer))


def test_the_winner_when_cold_is_not_the_winner_when_warm() -> None:
    """A large reservoir lights the cold lamp most; warm, foldback takes more away than it gave."""
    fusing = 'resistance = "10 Ω", power = "5 W"'
    tried = [
        ("47 µF", '{ reservoir = { capacitance = "47 µF" } }'),
        ("22 µF, 10 Ω", f'{{ reservoir = {{ capacitance = "22 µF" }}, line_fusing = {{ {fusing} }} }}'),
    ]
    result = run("kerbside-flood", ["steady", "heat"], tried, want("more light"))
    read = result.results
    cold = {name: read.value(name, "light_A", "steady") for name, _ in tried}
    warm = {name: read.value(name, "light_A", "heat") for name, _ in tried}
    assert cold["47 µF"] > 1.1 * cold["22 µF, 10 Ω"]
    assert warm["47 µF"] < warm["22 µF, 10 Ω"]
    verdict, gains, _ = head(result)
    assert "2 · 22 µF, 10 Ω" in verdict
    percent = 100 * warm["22 µF, 10 Ω"] / read.value("as found", "light_A", "heat")
    assert f"light 100 → {percent:.0f} %" in gains


def test_a_metal_housing_without_its_earth_is_never_the_answer() -> None:
    """Nothing that is read differs between the two."""
    cooler = '{ "sinks.sense_resistor" = "13 Ω"%s }'
    tried = [("no earth", cooler % ', "housing.earthed" = false'), ("earthed", cooler % "")]
    result = run("kerbside-flood", ["steady"], tried, want("cool sinks"))
    verdict, caution, gains = head(result)
    assert verdict.endswith("Nearest for cool sinks: 2 · earthed.")
    assert caution == f"Never do this: 1 · no earth: {Hazard.NO_EARTH.caution}."
    assert "light 100 → 7" in gains, "less light is its price"


def test_a_metal_housing_that_has_no_earth_leads_with_shock() -> None:
    """Half a sine of the mains through 2 kΩ once the board is pierced: 0.16 A, whatever a change does."""
    bare = changed(load_lamp("kerbside-flood"), housing={"earthed": False})
    softer = '[[variant]]\nname = "softer"\nchange = { "sinks.sense_resistor" = "13 Ω" }\n'
    asks = f'lamp = "flood"\nbenches = ["steady", "touch"]\n{want("cool sinks")}\n{softer}'
    result = run_study(study_from(tomllib.loads(asks), Path("trap.toml"), bare), workers=1)
    first, *others = answer_lines(result.answer)
    hand = "a hand on the housing carries 161 mA peak with the board pierced, 0.7 mA asked."
    assert first.startswith(f"SHOCK: 1 · softer and 0 · as found: {hand}")
    assert f"As found already: {Hazard.BARE_METAL.caution}." in others
    everything = "\n".join([first, *others]).lower()
    assert not any(word in everything for word in ("safe", "harmless", "ok to touch"))


def test_an_earth_that_is_left_out_is_told_as_the_shock_it_is() -> None:
    """The earth broken leaves what the board lets through; without one, a pierced board leaves the mains."""
    result = run("kerbside-flood", ["steady", "touch"], [("no earth", '{ "housing.earthed" = false }')])
    assert answer_lines(result.answer)[1] == f"Never do this: 1 · no earth: {Hazard.NO_EARTH.caution}."
    read = result.results
    assert read.value("as found", "touch_fault_peak_mA", "touch") < 0.5
    assert read.value("no earth", "touch_fault_peak_mA", "touch") > 150.0


def test_a_reservoir_without_its_bleed_is_never_the_answer() -> None:
    """The bleed burns power and shows in no light: without it all readings but one are better."""
    fitted = 'reservoir = { capacitance = "22 µF", esr = "none" }'
    tried = [("no bleed", f'{{ bleed = "none", {fitted} }}'), ("bleed", f"{{ {fitted} }}")]
    result = run("corridor-panel", ["steady", "unplug"], tried, want("steady light"))
    verdict, caution, _ = head(result)
    assert "2 · bleed" in verdict
    assert caution == f"Never do this: 1 · no bleed: {Hazard.NO_BLEED.caution}."


def test_a_varistor_taken_out_without_a_surge_does_not_change_nothing() -> None:
    """On quiet mains a varistor does nothing; that is no reason to leave it out."""
    result = run("kerbside-flood", ["steady"], [("no varistor", '{ varistor = "none" }')])
    text = "\n".join(head(result))
    assert "surges, which 1 would show in" in text
    assert "Changes nothing" not in text


def test_a_bound_of_the_study_takes_the_better_light_out() -> None:
    """Twice the ohms in the leg, about half the inrush: 325 V over 69 Ω is below 6 A, over 44 Ω above."""
    change = 'reservoir = { capacitance = "22 µF", esr = "none" }'
    tried = [
        ("22 Ω", f"{{ {change} }}"),
        ("47 Ω", f'{{ {change}, "line_fusing.resistance" = "47 Ω" }}'),
    ]
    more = want("steady light") + 'keep = ["inrush_peak_A at most 6"]\n'
    result = run("corridor-panel", ["switch-on", "steady"], tried, more)
    assert named(result) == "47 Ω"
    assert not result.answer.named.ranked.missed  # type: ignore[union-attr]
    assert "2 · 47 Ω" in head(result)[0]


def test_an_aim_that_no_variant_touches_is_not_served() -> None:
    """A bleed of 390 kΩ carries less than a milliampere: no inrush comes of it."""
    tried = [("bleed 390 kΩ", '{ "bleed.resistance" = "390k" }')]
    result = run("kerbside-flood", ["switch-on"], tried, want("soft switch-on"))
    assert head(result)[0].startswith("No variant that was tried serves what was asked: soft switch-on")


def test_the_order_of_the_benches_changes_no_line() -> None:
    """Cold and warm flicker are two readings: which bench stands first in the file tells nothing."""
    tried = [("10 µF", '{ reservoir = { capacitance = "10 µF", esr = "none" } }')]
    one = run("corridor-panel", ["steady", "heat"], tried, want("steady light"))
    other = run("corridor-panel", ["heat", "steady"], tried, want("steady light"))
    assert answer_lines(one.answer) == answer_lines(other.answer)
    assert one.rank().equals(other.rank())
    assert one.use.equals(other.use)
    # One count, everywhere: of the rank, of the matrix, and of the verdicts by topic.
    assert one.rank()["over"].sort_index().equals((one.use > 1).sum(axis="columns").sort_index())


def test_a_lamp_that_went_dark_is_never_the_coolest_or_the_steadiest() -> None:
    """It takes no watts, flickers not at all and keeps every limit."""
    tried = [("burnt", '{ line_fusing = "open" }'), ("sense 11 Ω", '{ "sinks.sense_resistor" = "11 Ω" }')]
    result = run("kerbside-flood", ["steady"], tried, want("cool sinks", "steady light"))
    lines = answer_lines(result.answer)
    assert not any("burnt" in line for line in lines if not line.startswith("No light: 1 · burnt."))
    assert any(line.startswith("No light: 1 · burnt.") for line in lines)
    assert list(result.rank().index)[-1] == "burnt"
