"""A deck as it was printed, taken up again to be run with something in it changed."""

from __future__ import annotations

import re

from coldiron.deck.deck import Deck


def deck_of(text: str) -> Deck:
    """A printed deck as the engine takes it."""
    title = text.splitlines()[0].removeprefix("* ")
    saved = re.search(r"^\.save (.*(?:\n\+.*)*)", text, re.MULTILINE)
    stop = re.search(r"^\.tran \S+ (\S+)", text, re.MULTILINE)
    assert saved
    assert stop
    return Deck(text, title, tuple(saved[1].replace("\n+", " ").split()), float(stop[1]))
