"""The guard before the engine: every way known to make a netlist do more than compute is refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldiron.benches.settling import estimated_start
from coldiron.benches.steady import steady_deck
from coldiron.deck.guard import PLAIN, check_deck, complaint_of
from coldiron.errors import DeckRefused
from laboratory import case_of
from lamps import load_lamp

RUN = ".tran 1e-05 0.001 0 1e-05 uic"


def deck(*lines: str, title: str = "* a title", run: str = RUN, end: str = ".end\n") -> str:
    return "\n".join([title, "R1 a 0 100", *lines, run, end])


def test_a_plain_deck_passes() -> None:
    check_deck(deck(".options method=gear reltol=1e-4 temp=25", ".save v(a)", ".ic v(a)=1"))


@given(st.from_regex(PLAIN, fullmatch=True, alphabet=st.characters(codec="ascii")))
def test_a_line_passed_at_a_glance_has_nothing_to_complain_of(line: str) -> None:
    assert complaint_of(line) == ""


# Each was executed, read or written by the engine in trials, or takes effect on later decks.
EXECUTED = (
    ".control", ".CONTROL", "\t.control", " .control", "*# shell touch x", "*#echo x > f",
    ".include /etc/passwd", ".inc /etc/passwd", ".lib /etc/passwd", "A1 a 0 source",
    ".model source filesource(file=x)", ".exec x", ".shell x", "!ls", ".param x=`ls`", "*ng_script",
    ".func f(x) {f(x)}", ".param x={y}", ".subckt a b", ".options interp", ".options cshunt=1",
    ".options reltol=1e-3 klu", ".csparam x=1", ".global a", "N1 a 0 x", "* a comment `ls`",
    "* a comment *# shell", "+ .control", "R2 a 0 100 ; shell", "R2 a 0 $x", 'R2 a 0 "x"',
    "B1 a 0 I = file=x", "R2 a 0 1\\", "X1 a 0 sub", "O1 a 0 b 0 t", ".op", ".dc V1 0 1 1",
    ".print v(a)", "quit", ".if (1)", ".endc", ".end", ".ends", ".title x", ".width 80",
)  # fmt: skip


@pytest.mark.parametrize("line", EXECUTED)
def test_a_line_that_could_do_more_is_refused(line: str) -> None:
    with pytest.raises(DeckRefused):
        check_deck(deck(line))


@pytest.mark.parametrize("character", ["\r", "\x00", "\x0b", "\u2028", "\x85", "é", "\x1b", "\x7f"])
def test_a_character_that_is_not_plain_is_refused(character: str) -> None:
    for text in (deck(f"* a{character}b"), deck(f"R2 a{character} 0 1"), deck(title=f"* a{character}b")):
        with pytest.raises(DeckRefused):
            check_deck(text)


@pytest.mark.parametrize("title", ["a title", ".control", "*# shell", "*", "R9 a 0 1", ""])
def test_the_first_line_is_a_comment(title: str) -> None:
    with pytest.raises(DeckRefused, match=r"line 1|not allowed|comment"):
        check_deck(deck(title=title))


@pytest.mark.parametrize("end", [".end\n.control\n", "", ".end\n\nR9 a 0 1\n", ".END x\n"])
def test_nothing_follows_the_end(end: str) -> None:
    with pytest.raises(DeckRefused):
        check_deck(deck(end=end))


@pytest.mark.parametrize(
    "run",
    [
        ".tran 0 0.001 0 1e-05 uic", ".tran 1e-05 1e9 0 1e-05 uic", ".tran 1e-05 0.001 0 0 uic",
        ".tran 1e-05 0.001 0.002 1e-05 uic", ".tran 1u 1m", ".tran 1e-05 inf 0 1e-05 uic",
        ".tran 1e-05 0.001 0 nan uic", ".tran -1e-05 0.001 0 1e-05 uic", ".tran 1e-05 0.001 0 1e-05",
    ],
)  # fmt: skip
def test_a_run_has_bounds(run: str) -> None:
    with pytest.raises(DeckRefused):
        check_deck(deck(run=run))


def test_a_deck_has_bounds() -> None:
    with pytest.raises(DeckRefused, match="characters"):
        check_deck(deck(*["R2 a 0 1"] * 40_000))


@settings(deadline=None)
@given(name=st.text(min_size=1, max_size=60).filter(lambda text: bool(text.strip()) and text.isprintable()))
def test_no_name_changes_what_a_deck_computes(name: str) -> None:
    # A name is printed as a comment, whatever it is; the lines the engine reads stay the same.
    lamp = load_lamp("pantry-bulb")
    plain = case_of(lamp, "steady")
    named = case_of(lamp.model_copy(update={"name": name}), "steady")
    state = plain.conditions.operating_point()
    texts = [
        steady_deck(case, state, estimated_start(lamp, state), 0.03).text.splitlines()
        for case in (plain, named)
    ]
    assert len(texts[0]) == len(texts[1])
    assert [line for line in texts[0] if line[0] != "*"] == [line for line in texts[1] if line[0] != "*"]
