"""The guard every deck passes before it reaches the engine: an allow-list of cards, options and devices.

A netlist is a program to the engine: control cards, some comments, code models and include files can run
commands or read and write files. A deck of ours needs none of that, so anything not listed here is refused,
whoever wrote it.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import filterfalse

from coldiron.errors import DeckRefused

CARDS = frozenset({".model", ".save", ".print", ".ic", ".options", ".tran", ".end"})
OPTIONS = frozenset({"method", "reltol", "abstol", "vntol", "chgtol", "temp", "tnom", "itl1", "itl4", "gmin"})
DEVICES = frozenset("rlcvibdms")
MODELS = frozenset({"d", "vdmos", "sw"})
LARGEST_CHARACTERS = 200_000
MOST_POINTS = 2_000_000
"""Time points of one run; more would fill the memory of a worker."""

PLAIN = re.compile(r"[rlcdRLCD]\w*(?: [\w.+-]+)+|\.ic v\(\w+\)=[\w.+-]+|\+ -?[0-9][-+.,0-9e ]*")
"""Most lines of a deck, in which there is nothing to complain of: a part, a voltage at first, numbers."""
_PRINTABLE = bytes(range(ord(" "), ord("~") + 1)) + b"\n"
_FORBIDDEN = re.compile(
    r"\*#|[;`!$\\{}\"'<>|&~^]|\b(?:file|cmd|shell|system|source|include|lib)\b\s*[=(]", re.I
)
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?(e[-+]?[0-9]+)?")
_OPTION = re.compile(r"([A-Za-z0-9_]+)\s*=")
_PRINT = re.compile(r"\.print tran v\(\w+\)")
_MODEL = re.compile(r"\.model\s+\w+\s+(\w+)", re.I)


@lru_cache(maxsize=64)
def check_deck(text: str) -> None:
    r"""Refuse a deck with anything in it that our templates never need.

    Parameters
    ----------
    text : str
        The whole deck; its first line is the title comment, its last the end card.

    Raises
    ------
    DeckRefused
        Naming the line and what is wrong with it.

    Examples
    --------
    >>> check_deck("* a title\nR1 a 0 100\n.tran 1e-6 1e-3 0 1e-6 uic\n.end\n")
    >>> check_deck("* a title\n.control\n.end\n")
    Traceback (most recent call last):
        ...
    coldiron.errors.DeckRefused: deck line 2: card .control is not allowed
    """
    if len(text) > LARGEST_CHARACTERS:
        raise DeckRefused(f"deck of {len(text)} characters, at most {LARGEST_CHARACTERS} allowed")
    if not text.isascii() or text.encode().translate(None, _PRINTABLE):
        raise DeckRefused("deck holds characters other than printable ASCII")
    lines = text.rstrip("\n").split("\n")
    if not lines[0].startswith("* "):
        raise DeckRefused("deck line 1: the title must be a comment")
    others = list(filterfalse(_is_plain, lines))
    if lines[-1].lower() != ".end" or sum(line[:4].lower() == ".end" for line in others) > 1:
        raise DeckRefused("deck must end with its only .end card")
    for line in others:
        complaint = complaint_of(line)
        if complaint:
            raise DeckRefused(f"deck line {lines.index(line) + 1}: {complaint}")


@lru_cache(maxsize=4096)
def _is_plain(line: str) -> bool:
    """Whether a line is passed at a glance; the decks of a lamp have most of theirs in common."""
    return PLAIN.fullmatch(line) is not None


@lru_cache(maxsize=1024)
def complaint_of(line: str) -> str:
    """Say what is wrong with a line; nothing when it is allowed."""
    if line.startswith("* "):
        return "comment holds '*#' or a quote" if re.search(r"\*#|`", line) else ""
    hit = _FORBIDDEN.search(line)
    if hit:
        return f"{hit.group()!r} is not allowed"
    if line.startswith("+ "):
        return "a continuation like a card is not allowed" if line[2:].lstrip().startswith(".") else ""
    if line.startswith("."):
        return _card_complaint(line)
    if not line[:1].isalpha() or line[0].lower() not in DEVICES:
        return f"device {line[:12]!r} is not allowed"
    return ""


def _card_complaint(line: str) -> str:
    card = line.split()[0].lower()
    if card not in CARDS:
        return f"card {card} is not allowed"
    if card == ".tran":
        return _run_complaint(line.split()[1:])
    if card == ".print" and not _PRINT.fullmatch(line):
        return "only .print tran v(node) is allowed"
    if card == ".options":
        wrong = sorted({name.lower() for name in _OPTION.findall(line)} - OPTIONS)
        bare = [word for word in line.split()[1:] if "=" not in word]
        if wrong or bare:
            return f"option {(wrong + bare)[0]} is not allowed"
    if card == ".model":
        model = _MODEL.match(line)
        if model is None or model.group(1).lower() not in MODELS:
            return "model type is not allowed"
    return ""


def _run_complaint(words: list[str]) -> str:
    """Say what is wrong with step, stop, first kept time and largest step of a run."""
    if len(words) != 5 or words[4] != "uic" or not all(_NUMBER.fullmatch(word) for word in words[:4]):
        return "a run is .tran step stop keep-from largest-step uic"
    step_s, stop_s, keep_from_s, largest_s = (float(word) for word in words[:4])
    if not (step_s > 0 and largest_s > 0 and 0 <= keep_from_s < stop_s):
        return "a run needs steps above zero and a stop after its first kept time"
    if stop_s / largest_s > MOST_POINTS:
        return f"a run of more than {MOST_POINTS} points"
    return ""
