"""Variants weighed batch by batch: of each only what an answer reads stays in memory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coldiron.answer.aims import MEASURES
from coldiron.answer.answer import Answer, answer_of
from coldiron.answer.candidate import Candidate, candidates
from coldiron.answer.told import told_readings
from coldiron.limits.verdict import Verdict
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import COLUMNS
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.results import Results


class Gathered:
    """Candidates of a large study.

    Parameters
    ----------
    study : Study
    """

    def __init__(self, study: Study) -> None:
        self._study = study
        self._read = {
            *told_readings(),
            *(measure.reading for measures in MEASURES.values() for measure in measures),
            *(bound.reading for bound in study.aim.keep),
            *(reading for _, reading in COLUMNS),
        }
        self._benches: dict[str, None] = {}
        self.candidates: list[Candidate] = []

    def add(self, results: Results, verdicts: Sequence[Verdict]) -> None:
        """Weigh a batch.

        Parameters
        ----------
        results : Results
            Whole variants, and the lamp as found, which counts only the first time.
        verdicts : sequence of Verdict
            From `coldiron.limits.judge` of the same cases.
        """
        self._benches |= dict.fromkeys(one.case.bench for one in results if one.result.readings)
        for one in candidates(self._study, results, verdicts):
            if one.name == AS_FOUND and self.candidates:
                continue
            self.candidates.append(
                replace(
                    one,
                    number=len(self.candidates),
                    readings={name: value for name, value in one.readings.items() if name in self._read},
                    words={name: value for name, value in one.words.items() if name == surge_limit.LIMITED},
                )
            )

    def answer(self) -> Answer:
        """Say what the study came to, as `coldiron.answer.answer.answer` would of all results at once."""
        return answer_of(self._study, self.candidates, list(self._benches))
