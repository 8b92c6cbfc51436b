"""Words for people: what a file wrote, safe to print on one line, and lists of what is possible."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

_LONGEST = 60


def printable(text: str) -> str:
    r"""Put text on one line: control characters escaped, long text cut.

    >>> printable("kitchen\nlamp")
    'kitchen\\u000alamp'
    """
    if len(text) <= _LONGEST * 3 and text.isprintable():
        return text
    cut = text if len(text) <= _LONGEST * 3 else text[: _LONGEST * 3] + "…"
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in cut)


def printable_lines(text: str, most: int = 20_000) -> str:
    r"""Put text on lines of printable characters: line ends stay, other control characters are escaped.

    >>> printable_lines("a\x1b[2J\r\nb")
    'a\\u001b[2J\nb'
    """
    cut = text if len(text) <= most else text[:most] + "…"
    lines = (line.removesuffix("\r") for line in cut.split("\n"))
    return "\n".join(
        line if line.isprintable() else "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in line)
        for line in lines
    )


def as_key(key: str) -> str:
    """Write a key for a dotted path; an empty one shows its quotes.

    >>> as_key("film"), as_key("")
    ('film', '""')
    """
    return printable(key) or '""'


def as_written(value: object) -> str:
    """Write a value of a file as its author wrote it, short enough for one line.

    >>> as_written("4k7"), as_written(True), as_written(10**400)
    ('"4k7"', 'true', 'a number of 1329 bits')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{printable(value if len(value) <= _LONGEST else value[:_LONGEST] + "…")}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, int) and value.bit_length() > 128:
        return f"a number of {value.bit_length()} bits"
    return printable(str(value))


def one_of(choices: Iterable[str]) -> str:
    """Choices as a person lists them.

    >>> one_of(["hot", "cold"]), one_of(["a", "b", "c"])
    ('hot or cold', 'a, b or c')
    """
    *head, last = choices
    return f"{', '.join(head)} or {last}" if head else last


def ordinal(number: int) -> str:
    """Number of a rank as people write it.

    >>> ordinal(3), ordinal(11), ordinal(22)
    ('3rd', '11th', '22nd')
    """
    teens = 10 < number % 100 < 20
    return f"{number}{'th' if teens else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"


def one_nearest(written: object, known: Iterable[str]) -> str:
    """Find the known spelling that is nearest to the written one, or nothing.

    >>> one_nearest("resistence", ["resistance", "power"])
    'resistance'
    """
    close = get_close_matches(str(written)[:80].casefold(), list(known), n=1, cutoff=0.6)
    return close[0] if close else ""
