"""What the report says of the numerics: what stands in the decks that ran, and the settings that decided."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from coldiron.benches import settling, steady, surge, switch_on
from coldiron.report.numerics import numerics, settings_of
from coldiron.sweep.results import Results
from reporting import finished

pytestmark = pytest.mark.ngspice


def said() -> str:
    study, done, _ = finished()
    return "\n".join(numerics(study, done))


def test_every_deck_that_ran_has_its_own_settings_in_the_words() -> None:
    # Read a second time from the text of each deck, word by word.
    _, done, _ = finished()
    lines = [line for line in said().splitlines() if "steps to" in line]
    for one in done:
        own = " ".join(line for line in lines if line.startswith(one.case.bench))
        for text in one.result.decks.values():
            [options] = [line for line in text.splitlines() if line.startswith(".options")]
            [run] = [line for line in text.splitlines() if line.startswith(".tran")]
            told = dict(word.split("=") for word in options.split()[1:])
            abstol, vntol = 1e9 * float(told["abstol"]), 1e6 * float(told["vntol"])
            assert told["method"] == "gear"
            tolerances = (
                f"relative tolerance {float(told['reltol']):g}, down to {abstol:g} nA and {vntol:g} µV"
            )
            assert tolerances in own
            steps_s = [
                float(number) * {"µ": 1e-6, "m": 1e-3}[prefix]
                for number, prefix in re.findall(r"([\d.]+) ([µm])s", own)
            ]
            assert 0.99 * min(steps_s) <= float(run.split()[4]) <= 1.01 * max(steps_s)


def test_the_first_attempts_of_the_benches_are_the_ones_that_ran() -> None:
    first = steady.ATTEMPTS[0]
    assert f"steady: Gear, steps to {1e6 * first.step_s:g} µs, relative tolerance {first.reltol:g}" in said()


def test_another_setting_gives_other_words() -> None:
    study, done, _ = finished()
    settled = next(one for one in done if one.case.bench == "steady")
    deck = settled.result.decks["steady"].replace("abstol=1e-09", "abstol=1e-07")
    other = replace(settled, result=replace(settled.result, decks={"steady": deck}))
    assert "down to 100 nA" in "\n".join(numerics(study, Results([other])))
    found = settings_of(deck)
    assert found is not None
    assert found.abstol_a == 1e-7


def test_what_ends_a_settling_or_a_search_is_printed_from_what_decides_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = said()
    assert f"{100 * settling.SETTLED_RATIO:g} % cold" in text
    assert f"{100 * surge.SETTLED_RATIO:g} % before a surge" in text
    assert "A surge is tried at 90° with polarity + and −." in text
    assert all(f"{angle:g}°" in text for angle in switch_on.COARSE_DEG)
    monkeypatch.setattr(settling, "SETTLED_RATIO", 0.0123)
    monkeypatch.setattr(switch_on, "ABOUT_DEG", 7.0)
    assert "1.23 % cold" in said()
    assert "finely 7° about the top" in said()
