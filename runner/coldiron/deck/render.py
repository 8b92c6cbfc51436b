"""From values to deck text."""

from __future__ import annotations

import hashlib

from markupsafe import Markup

from coldiron.deck.body import body_text, sources_text
from coldiron.deck.circuit import PoweredCircuit
from coldiron.deck.deck import Deck, Heading, InitialConditions, SolverSettings
from coldiron.deck.forms import filled
from coldiron.deck.guard import check_deck
from coldiron.deck.templates import Rows, comment_text, environment


def render(
    bench: str,
    heading: Heading,
    circuit: PoweredCircuit,
    *,
    keep: tuple[str, ...],
    stop_s: float,
    fineness: SolverSettings,
    keep_from_s: float = 0.0,
    start: InitialConditions | None = None,
) -> Deck:
    """Print the deck of one run.

    Parameters
    ----------
    bench : str
        Name of the bench.
    heading, circuit
        Comments at the head; the lamp, and what stands before it and beyond.
    keep : tuple of str
        Vectors to save, such as "v(bus)" or "i(vinput)".
    stop_s, keep_from_s : float
        End of the run and first time kept [s].
    fineness : SolverSettings
        Largest step and tolerance.
    start : InitialConditions, optional
        OperatingPoint in which the run begins; from rest when absent.

    Raises
    ------
    DeckRefused
        If a value cannot be printed or the text does not pass the guard.
    """
    run = {
        "keep_rows": [(" ".join(keep[i : i + 6]),) for i in range(0, len(keep), 6)],
        "step_s": fineness.step_s,
        "stop_s": stop_s,
        "keep_from_s": keep_from_s,
        "reltol": fineness.reltol,
        "abstol": fineness.abstol,
        "vntol": fineness.vntol,
        "start": Rows(start.nodes_v if start else ()),
    }
    values = {
        "h": {
            "title": "title",
            "bench": Markup(comment_text(heading.bench)),
            "conditions": Markup(comment_text(heading.conditions)),
        },
        "c": {
            "before": sources_text(circuit.before, circuit.conditions),
            "body": body_text(circuit.parts, circuit.conditions),
            "beyond": sources_text(circuit.beyond, circuit.conditions),
        },
        "r": run,
    }
    body = filled("bench", values, environment().get_template("bench.cir.j2").render)
    lines = [*filter(str.strip, body.splitlines())]
    title = f"coldiron {comment_text(bench)} {hashlib.sha256(body.encode()).hexdigest()[:16]}"
    text = "\n".join([f"* {title}", *lines[1:]]) + "\n"
    check_deck(text)
    return Deck(text=text, title=title, keep=keep, stop_s=stop_s)


def named(text: str, *, lamp: str, study: str, variant: str) -> str:
    r"""Text of a deck with the names it goes by as comments below its title, so a stray file can be traced.

    Examples
    --------
    >>> print(named("* title\n.end", lamp="Flood", study="caps", variant="22 µF\n.control"))
    * title
    * lamp    Flood
    * study   caps
    * variant 22 uF .control
    .end
    """
    title, _, rest = text.partition("\n")
    names = ("lamp   ", lamp), ("study  ", study), ("variant", variant)
    return "\n".join([title, *(f"* {word} {comment_text(name)}" for word, name in names), rest])
