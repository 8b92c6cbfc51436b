"""Every known trap of the engine, provoked: no run may answer with anything but its own deck's result."""

from __future__ import annotations

import locale
from collections.abc import Iterator
from pathlib import Path

import pytest

from coldiron.deck.deck import Deck
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import Lost
from coldiron.errors import DeckRefused, NoConvergence
from coldiron.sweep.worker import start_worker
from faulty_tasks import attempt, open_files, run_unguarded, spent
from laboratory import Laboratory

pytestmark = pytest.mark.ngspice


def divider(title: str, low_ohm: float, *more: str, stop_s: float = 1e-3) -> Deck:
    """1 V behind 1 kΩ on a resistor: v(out) = R/(R + 1k), closed form."""
    lines = [
        f"* {title}", "V1 in 0 1", "R1 in out 1000", f"R2 out 0 {low_ohm:g}", *more,
        ".save v(out)", ".options method=gear reltol=1e-4", f".tran 1e-5 {stop_s:g} 0 1e-5 uic", ".end",
    ]  # fmt: skip
    return Deck("\n".join(lines) + "\n", title, ("v(out)",), stop_s)


GOOD = divider("a good deck", 1000.0)
ANOTHER = divider("another good deck", 3000.0)


def settled_v(laboratory: Laboratory, deck: Deck) -> float:
    return float(laboratory.run(deck)["v(out)"][-1])


def test_a_deck_gives_its_own_result(laboratory: Laboratory) -> None:
    for _ in range(3):
        assert settled_v(laboratory, GOOD) == pytest.approx(0.5, rel=1e-6)
        assert settled_v(laboratory, ANOTHER) == pytest.approx(0.75, rel=1e-6)


REFUSED = {
    "garbage line": "nonsense here",
    "unknown model": "D1 out 0 nomodel",
    "unknown subcircuit": "X1 out 0 nothing",
    "missing include": ".include /nowhere/at/all.lib",
    "duplicate device": "R1 in out 10",
    "missing arguments": "D2 out",
    "infinite resistor": "R3 out 0 inf",
    "not a number": "R3 out 0 nan",
}


@pytest.fixture
def own_laboratory() -> Iterator[Laboratory]:
    """A worker that may be spoilt."""
    with Laboratory() as spoilt:
        yield spoilt


@pytest.mark.parametrize("line", REFUSED.values(), ids=REFUSED)
def test_a_bad_deck_never_answers_with_the_deck_before(own_laboratory: Laboratory, line: str) -> None:
    assert settled_v(own_laboratory, GOOD) == pytest.approx(0.5, rel=1e-6)
    with pytest.raises(DeckRefused):
        own_laboratory.call(run_unguarded, divider("a bad deck", 3000.0, line))
    assert own_laboratory.call(spent, None), "an engine that refused a deck is not used again"


def test_a_deck_without_its_title_in_the_engine_is_refused(own_laboratory: Laboratory) -> None:
    with pytest.raises(DeckRefused, match="did not run this deck"):
        # As if a run had gone wrong without a word, and the plot of a deck before were still there.
        own_laboratory.run(Deck(GOOD.text, "a deck that never ran", GOOD.keep, GOOD.stop_s))
    assert own_laboratory.call(spent, None)


def test_a_vector_that_is_missing_is_refused(own_laboratory: Laboratory) -> None:
    deck = Deck(GOOD.text, GOOD.title, ("v(out)", "v(nowhere)"), GOOD.stop_s)
    with pytest.raises(DeckRefused, match=r"v\(nowhere\)"):
        own_laboratory.run(deck)


def test_a_run_that_stops_early_is_no_result(own_laboratory: Laboratory) -> None:
    deck = Deck(GOOD.text, GOOD.title, GOOD.keep, 2 * GOOD.stop_s)
    with pytest.raises(NoConvergence, match="stopped at"):
        own_laboratory.run(deck)
    assert settled_v(own_laboratory, ANOTHER) == pytest.approx(0.75, rel=1e-6)


def test_no_convergence_is_said_and_leaves_the_engine_whole(own_laboratory: Laboratory) -> None:
    # A current that the voltage of its own node grows without end: no solution from the first step on.
    hopeless = divider("hopeless", 1000.0, "B1 0 out I = exp(100*v(out))*1e30", "C1 out 0 1e-12")
    with pytest.raises((NoConvergence, DeckRefused)):
        own_laboratory.call(run_unguarded, hopeless)
    assert settled_v(own_laboratory, ANOTHER) == pytest.approx(0.75, rel=1e-6)


def test_a_spoilt_engine_retires_and_the_task_goes_to_another() -> None:
    # An undefined parameter leaves the engine unable to load the next deck.
    poison = divider("poison", 1000.0, "R3 out 0 {undefined}")
    outcomes = shared_pool(1, start_worker).run_all(attempt, [poison, GOOD, ANOTHER], lambda deck: 30.0)
    found = {one.index: one.result for one in outcomes}
    assert found == {0: "DeckRefused", 1: "0.5000", 2: "0.7500"}


@pytest.mark.parametrize(
    "lines",
    [(".control", "quit", ".endc"), (".func f(x) {f(x)}", "B9 out 0 I = f(1)")],
    ids=["quit", "endless recursion"],
)
def test_a_deck_that_ends_the_process_costs_one_task(lines: tuple[str, ...]) -> None:
    killer = divider("killer", 1000.0, *lines)
    outcomes = shared_pool(1, start_worker).run_all(attempt, [GOOD, killer, ANOTHER], lambda deck: 30.0)
    found = {one.index: one.result for one in outcomes}
    assert (found[0], found[2]) == ("0.5000", "0.7500")
    assert isinstance(found[1], Lost) or found[1] in ("DeckRefused", "NoConvergence")


def test_a_comma_locale_does_not_reach_the_numbers(own_laboratory: Laboratory) -> None:
    try:
        before = locale.setlocale(locale.LC_ALL)
        locale.setlocale(locale.LC_ALL, "de_DE.UTF-8")
        locale.setlocale(locale.LC_ALL, before)
    except locale.Error:
        pytest.skip("this machine has no locale with a decimal comma")
    own_laboratory.call(locale.setlocale, locale.LC_ALL, "de_DE.UTF-8")
    assert settled_v(own_laboratory, divider("a comma", 1500.5)) == pytest.approx(1500.5 / 2500.5, rel=1e-6)


def test_a_worker_cannot_write(own_laboratory: Laboratory) -> None:
    assert own_laboratory.call(open_files, None) == ["ENOENT", "EFBIG"]


def test_start_up_files_of_others_are_not_executed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    canary = tmp_path / "canary"
    for name in (".spiceinit", "spinit"):
        (tmp_path / name).write_text(f"shell touch {canary}\nset interp\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("SPICE_SCRIPTS", str(tmp_path))
    [outcome] = shared_pool(1, start_worker).run_all(attempt, [GOOD], lambda deck: 30.0)
    assert outcome.result == "0.5000"
    assert not canary.exists()
