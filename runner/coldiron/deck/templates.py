"""The environment of the templates: strict, sandboxed, and able to print only numbers and safe words."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from markupsafe import Markup

from coldiron.errors import DeckRefused
from coldiron.resources import resource_dir

if TYPE_CHECKING:
    import jinja2

_WORD = re.compile(r"[A-Za-z0-9_#@\[\]().,:;%/+ -]*\Z")
_SPOKEN = {
    "\u00b5": "u",
    "\u03bc": "u",
    "\u03a9": "Ohm",
    "\u2126": "Ohm",
    "°": "deg",
    "×": "x",
    "−": "-",
    "–": "-",
}


def printable(value: object) -> str:
    """Turn one template value into deck text.

    Floats become shortest-safe decimals without SPICE suffixes; words must consist of harmless characters;
    anything else is refused, so that no template can print what was not meant for a deck.

    Raises
    ------
    DeckRefused
        For values that are not finite, and text that could be read as anything but a word.

    Examples
    --------
    >>> printable(4.7e-6), printable(3), printable("line_f")
    ('4.7e-06', '3', 'line_f')
    """
    if isinstance(value, float):
        if not math.isfinite(value):
            raise DeckRefused(f"a value is {value}, which no deck can hold")
        return f"{value + 0.0:.12g}"
    if isinstance(value, Markup):
        return str(value)
    if isinstance(value, str) and _WORD.match(value):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    raise DeckRefused(f"a template printed {value!r}, which is neither a number nor a word")


class Rows(tuple[Sequence[object], ...]):
    """Rows of values that a template prints each by the same text."""

    __slots__ = ()

    def printed(self, form: str, between: str) -> Markup:
        """Text of all rows."""
        return Markup(between.join([form.format(*map(printable, row)) for row in self]))


def each(form: str, rows: Iterable[Sequence[object]], between: str = "\n") -> Markup:
    """Text of a template once for each row of values, each value as `printable` prints it.

    Raises
    ------
    DeckRefused
        If a value is not printable.

    Examples
    --------
    >>> print(each(".ic v({})={}", [("bus", 325.0), ("drain", 0.5)]))
    .ic v(bus)=325
    .ic v(drain)=0.5
    """
    return (rows if isinstance(rows, Rows) else Rows(rows)).printed(form, between)


@lru_cache(maxsize=256)
def comment_text(text: str) -> str:
    r"""Fold a person's text to one harmless line of a comment.

    Examples
    --------
    >>> comment_text("22 µF and 10 Ω\n.control")
    '22 uF and 10 Ohm .control'
    """
    spoken = "".join(_SPOKEN.get(c, c) for c in text)
    plain = unicodedata.normalize("NFKD", spoken).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9_().,:;%/+-]+", " ", plain).strip()[:120]


@cache
def environment() -> jinja2.Environment:
    """Environment over `netlists/`, in which nothing undefined or unprintable passes."""
    # A study from the store asks for names and versions only, and prints nothing.
    import jinja2
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    made = ImmutableSandboxedEnvironment(
        loader=jinja2.FileSystemLoader(resource_dir("netlists")),
        undefined=jinja2.StrictUndefined,
        finalize=printable,
        autoescape=True,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals["each"] = each
    return made


@cache
def templates_version() -> str:
    """Hash over the text of every template, comments included."""
    digest = hashlib.sha256()
    for path in sorted(resource_dir("netlists").rglob("*.cir.j2")):
        digest.update(path.relative_to(resource_dir("netlists")).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
