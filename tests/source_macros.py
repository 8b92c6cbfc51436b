"""One macro of a source, printed alone: for decks that hold a generator without a lamp."""

from __future__ import annotations

from coldiron.deck.templates import environment as _environment


def source_text(source: str, macro: str, values: object) -> str:
    """Lines that a macro of a source prints for these values."""
    template = f'{{% from "sources/{source}.cir.j2" import {macro} %}}{{{{ {macro}(v) }}}}'
    return _environment().from_string(template).render(v=values).strip()
