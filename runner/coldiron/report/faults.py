"""The section of the report on faults: fault by outcome, the worst first, with what to mind, and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coldiron.answer.fault_words import COMPUTED, caution, fault_text, headline, what_happens
from coldiron.answer.final_state import FIRE, FinalState, final_states
from coldiron.pictures.faults import fault_pictures
from coldiron.pictures.ink import BROAD, Picture
from coldiron.study.model import Study
from coldiron.sweep.faults import Followed
from coldiron.tables.faults import altered_lines, line_words


@dataclass(frozen=True)
class FaultRow:
    """One row: the faults that end alike, how, and what to mind."""

    fault: str
    ends: str
    is_fire: bool
    happens: str
    light: str
    watts: str
    caution: str


@dataclass(frozen=True)
class FaultTable:
    """Faults of the lamp as found on one supply, and what the variants alter of them."""

    supply: str
    headline: str
    rows: tuple[FaultRow, ...]
    altered: tuple[str, ...]


@dataclass(frozen=True)
class FaultSection:
    """All that the report says of faults."""

    computed: str
    tables: tuple[FaultTable, ...]
    pictures: tuple[Picture, ...]
    lines: tuple[str, ...]


def fault_section(study: Study, found: Sequence[Followed]) -> FaultSection:
    """Say what became of the faults of a study."""
    first = study.variants[0].name
    return FaultSection(
        COMPUTED,
        tuple(_table(found, supply, first) for supply in dict.fromkeys(one.supply for one in found)),
        tuple(fault_pictures(found, form=BROAD)),
        tuple(line_words()),
    )


def _table(found: Sequence[Followed], supply: str, first: str) -> FaultTable:
    here = [one for one in found if one.supply == supply]
    own = [one for one in here if one.variant == first]
    states = final_states(own)
    return FaultTable(
        supply, headline(states, len(own)), tuple(map(_row, states)), tuple(altered_lines(here, first))
    )


def _row(state: FinalState) -> FaultRow:
    return FaultRow(
        fault_text(state),
        state.words,
        state.word == FIRE,
        what_happens(state),
        f"{state.light_pct:.0f}",
        f"{state.end_w:.3g}",
        caution(state),
    )
