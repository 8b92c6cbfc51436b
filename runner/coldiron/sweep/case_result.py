"""What a case gave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coldiron.engine.waves import Array
from coldiron.wording import printable_lines

PlainWaves = Mapping[str, Mapping[str, Array]]
"""Time and vectors of each deck of a case, by the deck's label."""


@dataclass(frozen=True)
class Failure:
    """Why a case has no readings, and the engine's own words, or the traceback of a mistake in this program.

    `certain` is True when the same case would fail the same way again: the engine gave up or refused the
    deck. A worker that died, or a deadline that passed, may be the machine's doing.
    """

    why: str
    engine_words: str = ""
    certain: bool = True

    def __post_init__(self) -> None:
        """Make every character printable: an engine quotes what it was given, and a terminal obeys."""
        object.__setattr__(self, "why", printable_lines(self.why).replace("\n", " "))
        object.__setattr__(self, "engine_words", printable_lines(self.engine_words))

    @property
    def last_words(self) -> str:
        r"""Words for one line: of a traceback what was raised.

        Examples
        --------
        >>> Failure("unexpected error", "Traceback ...\n  File ...\nValueError: no crest").last_words
        'ValueError: no crest'
        """
        return self.engine_words.rstrip().rpartition("\n")[2]


@dataclass(frozen=True)
class CaseResult:
    """What a case gave, ready to be stored: readings or a failure, the decks, the time it took.

    `cpu_s` is the processor time of the whole case, `engine_s` that within the engine, in `runs` decks.
    `not_applicable` says what the lamp or the study lacks for this bench: no readings then, and no failure.
    `how_run` says by a deck's label how it was started and whether it had to fall back; `waves` hold time and
    vectors of the decks under their labels, where they were asked for.
    """

    readings: Mapping[str, float | str]
    decks: Mapping[str, str]
    failure: Failure | None = None
    waves: PlainWaves | None = None
    cpu_s: float = 0.0
    engine_s: float = 0.0
    runs: int = 0
    how_run: Mapping[str, str] = field(default_factory=dict)
    not_applicable: str = ""
