"""One macro of a stage, printed alone: for decks that hold a generator without a lamp."""

from __future__ import annotations

from coldiron.deck.templates import environment as _environment


def stage_text(stage: str, macro: str, values: object) -> str:
    """Lines that a stage's macro prints for these values."""
    template = f'{{% from "stages/{stage}.cir.j2" import {macro} %}}{{{{ {macro}(v) }}}}'
    return _environment().from_string(template).render(v=values).strip()
