"""Templates printed once with blanks where numbers go: the next deck of that form only has them filled in.

A template prints values and does no sums, so all that decides its form is which values there are: words,
whole numbers, what is absent, how long a list is. Those are the key of a form. Numbers and text that is
printed already are blanks; a template that asks anything of a blank but to print it ends with an error.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, NamedTuple, NoReturn

from markupsafe import Markup

from coldiron.deck.templates import Rows, printable

_MOST_FORMS = 512
_MARK = "\x00"
_BLANK = re.compile(f"{_MARK}([0-9]+)(?:{_MARK}([^{_MARK}]*))?{_MARK}{_MARK}")


class _Blank(Markup):
    """What stands for a number in a form; its truth would be that of the number, which no form knows."""

    def __bool__(self) -> NoReturn:
        """Refuse."""
        raise TypeError("a template asks whether a number is zero")


class _BlankRows(Rows):
    """What stands for rows of numbers in a form."""

    def __new__(cls, number: int) -> _BlankRows:
        made = super().__new__(cls, ((),))
        made.number = number
        return made

    number: int

    def printed(self, form: str, between: str) -> Markup:
        """The blank, with the text that each row is printed by."""
        assert between == "\n"
        return Markup(f"{_MARK}{self.number}{_MARK}{form}{_MARK}{_MARK}")


class _Form(NamedTuple):
    """Text before each blank, the number of its value and the text of a row; then the text after the last."""

    pieces: tuple[tuple[str, int, str | None], ...]
    end: str


_forms: dict[Hashable, _Form] = {}


def filled(key: Hashable, values: Mapping[str, Any], print_with: Callable[[Mapping[str, Any]], str]) -> str:
    """Text of a template with values, as `print_with` prints it; from its form where that is known.

    Parameters
    ----------
    key : hashable
        Names the template, and all that it prints besides the values.
    values : mapping
        Numbers, words and None, in dataclasses, named tuples, lists and mappings.
    print_with : callable
        Prints the template with values, or with the blanks that stand for them.

    Raises
    ------
    DeckRefused
        If a value cannot be printed.
    """
    blanks: list[Any] = []
    whole = key, _taken(values, blanks)
    form = _forms.get(whole)
    if form is None:
        if len(_forms) >= _MOST_FORMS:
            _forms.clear()
        counted = iter(range(len(blanks)))
        form = _forms[whole] = _cut(print_with(_blanked(values, counted)))
    return "".join(_fill(form, blanks))


def _fill(form: _Form, blanks: Sequence[Any]) -> Iterator[str]:
    for before, number, row in form.pieces:
        yield before
        yield printable(blanks[number]) if row is None else blanks[number].printed(row, "\n")
    yield form.end


def _cut(text: str) -> _Form:
    pieces, at = [], 0
    for blank in _BLANK.finditer(text):
        pieces.append((text[at : blank.start()], int(blank[1]), blank[2]))
        at = blank.end()
    return _Form(tuple(pieces), text[at:])


def _taken(value: Any, blanks: list[Any]) -> Hashable:
    """What decides the form; numbers and printed text go to the blanks, in the order of `_blanked`."""
    kind: Any = type(value)
    if isinstance(value, float | Markup):
        blanks.append(value)
        return float
    if kind is Rows:
        if not value:
            return None
        blanks.append(value)
        return Rows
    if value is None or kind in (str, int, bool):
        return kind, value
    if isinstance(value, Mapping):
        return tuple((name, _taken(one, blanks)) for name, one in value.items())
    if isinstance(value, tuple | list):
        return kind, tuple(_taken(one, blanks) for one in value)
    return kind, tuple(_taken(getattr(value, name), blanks) for name in _names(kind))


def _blanked(value: Any, counted: Iterator[int]) -> Any:
    """The same values with a blank for each number."""
    kind: Any = type(value)
    if isinstance(value, float | Markup):
        return _Blank(f"{_MARK}{next(counted)}{_MARK}{_MARK}")
    if kind is Rows:
        return _BlankRows(next(counted)) if value else value
    if value is None or kind in (str, int, bool):
        return value
    if isinstance(value, Mapping):
        return {name: _blanked(one, counted) for name, one in value.items()}
    if isinstance(value, tuple | list):
        each = [_blanked(one, counted) for one in value]
        return kind(*each) if hasattr(kind, "_fields") else kind(each)
    made = object.__new__(kind)
    for name in _names(kind):
        object.__setattr__(made, name, _blanked(getattr(value, name), counted))
    return made


@cache
def _names(kind: Any) -> tuple[str, ...]:
    """Fields of a dataclass."""
    if not is_dataclass(kind):
        raise TypeError(f"a template was given a {kind}, which is neither number nor word")
    return tuple(field.name for field in fields(kind))
