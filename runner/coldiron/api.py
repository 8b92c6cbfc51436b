"""Coldiron for notebooks and scripts: a study run, and what it found as pandas frames."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd

from coldiron.advice.advice import Advice, advise
from coldiron.advice.words import advice_lines
from coldiron.answer.answer import Answer, answer
from coldiron.benches.base import Case
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import WorkerPool
from coldiron.engine.store import Store
from coldiron.fit.solve import Fit, FitWork, run_fit
from coldiron.lessons.model import load_lesson
from coldiron.lessons.page import Shown, shown
from coldiron.lessons.record import record
from coldiron.limits import Verdict, check_replacements, judge, verdict_frame
from coldiron.pictures.advice import advice_pictures
from coldiron.pictures.ink import ALONE, Picture
from coldiron.pictures.study import standing_pictures
from coldiron.report.excerpt import excerpt
from coldiron.report.page import write_report
from coldiron.spread.values import check_tolerances
from coldiron.spread.whole import SpreadOf, spread_of
from coldiron.study.load import load_study
from coldiron.study.model import Study
from coldiron.study.spread import Spread
from coldiron.sweep.cache import Cache, StoredCases
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import CASE_DEADLINE_S, FinishedCase, run_cases
from coldiron.sweep.worker import start_worker
from coldiron.tables import spread as spread_tables
from coldiron.tables import tidy as tables
from coldiron.tables.advice import candidates_frame, limits_frame, set_frame
from coldiron.tables.answer_files import rank_frame, use_matrix
from coldiron.tables.sentences import sentences
from coldiron.tables.waves import waves_frame

_FIT_DEADLINE_S = 300.0


@dataclass(frozen=True, repr=False)
class StudyResult:
    """What a study found. In a notebook it shows its answer and its table of variants.

    `study` is what was asked, `results` the finished cases by variant, bench and conditions, with their decks
    and waves.
    """

    study: Study
    results: Results

    @cached_property
    def tidy(self) -> pd.DataFrame:
        """One row a case and reading: variant, bench, conditions, reading, value, text, unit.

        `value` is float64 and nan where a reading is a word, which stands in `text`. Variant, bench,
        conditions and reading are ordered categories: sorted by them a frame stands in the study's order.
        """
        return tables.tidy(self.results)

    @cached_property
    def wide(self) -> pd.DataFrame:
        """One row a variant, one float64 column a reading: `wide["heat", "svm"]` is that of the warm lamp.

        With several conditions there is a third level of columns: `wide["steady", "svm"]` is a frame of them.
        """
        return tables.wide(self.results)

    @cached_property
    def verdicts(self) -> pd.DataFrame:
        """One row a verdict: the reading, its limit, the word, the source and its provenance."""
        return verdict_frame(self._verdicts)

    @cached_property
    def sentences(self) -> dict[str, str]:
        """What got better and worse against as found, one sentence a variant."""
        return sentences(self.results, self._verdicts)

    @cached_property
    def answer(self) -> Answer:
        """What the study came to; printed, the lines that the terminal shows."""
        return answer(self.study, self.results, self._verdicts)

    def rank(self) -> pd.DataFrame:
        """One row a variant, the first of the ranking first: worst uses, and what speaks against it."""
        return rank_frame(self.answer)

    @cached_property
    def use(self) -> pd.DataFrame:
        """Used over allowed: variants by limits as floats, over 1 is over, NaN where no limit applies."""
        return use_matrix(self.answer)

    @property
    def cases(self) -> list[Case]:
        """Every case, in the order of the tables."""
        return [one.case for one in self.results]

    def case(self, variant: str, bench: str, conditions: str | None = None) -> Case:
        """Return one case by its names.

        Parameters
        ----------
        variant, bench : str
        conditions : str, optional
            Such as "253 V 50 Hz"; the first of the study when absent.

        Raises
        ------
        KeyError
            If the study has no such case; says which it has.
        """
        return self.results.case(variant, bench, conditions).case

    def waves(self, case: Case, label: str | None = None) -> pd.DataFrame:
        """Vectors of one case over time.

        Parameters
        ----------
        case : Case
            From `case` or `cases`.
        label : str, optional
            Which run of the case, such as "before" of a surge; the one that decides the readings when absent.

        Returns
        -------
        DataFrame
            Indexed by time, its points as uneven as the engine took them; units in the headings.

        Raises
        ------
        KeyError
            If the case is not of this study, gave no waves, or has no run of that label.
        """
        try:
            found = self.results.case(case.variant, case.bench, case.conditions.label).result
        except KeyError:
            raise KeyError(f"no such case in the study {self.study.name!r}") from None
        waves = found.waves or {}
        if not waves:
            why = found.failure.why if found.failure else found.not_applicable or "its waves were not kept"
            raise KeyError(f"no waves of {case.variant!r} on {case.bench!r}: {why}")
        wanted = label or (case.bench if case.bench in waves else list(waves)[-1])
        if wanted not in waves:
            raise KeyError(
                f"no run {wanted!r} of {case.variant!r} on {case.bench!r}; there are: {', '.join(waves)}"
            )
        return waves_frame(waves[wanted], wanted)

    def report(self, folder: str | Path) -> Path:
        """Write `report.html` into a folder and return its path."""
        return write_report(Path(folder), self.study, self.results, self._verdicts)

    def plot(self, name: str = "trade-off") -> Picture:
        """Draw one picture of the study; in a notebook it shows itself.

        Parameters
        ----------
        name : str
            "trade-off", "light", "steady", "harmonics", "watts", "switch-on", "surge", "warm-up" or "unplug",
            as far as the study ran what it shows.

        Raises
        ------
        KeyError
            If the study has no such picture; says which it has.
        """
        pictures = {
            picture.name: picture for picture in standing_pictures(self.study, self.results, self.answer)
        }
        if name not in pictures:
            raise KeyError(f"no picture {name!r} of this study; there are: {', '.join(pictures) or 'none'}")
        return pictures[name]

    def __repr__(self) -> str:
        """Say what was run, in one line."""
        return f"<StudyResult of {self.study.name}: {self.results.counts}>"

    @cached_property
    def _verdicts(self) -> list[Verdict]:
        return judge(self.study, self.results)

    def _repr_html_(self) -> str:
        """Answer and table for a notebook."""
        return excerpt(self.study, self.results, self._verdicts)


@dataclass(frozen=True, repr=False)
class AdviceResult:
    """What to buy for a lamp, with frames. Printed it says so in a few lines.

    `advice` is what the search came to; `shortlist` the few candidates that it shows as a study of their own,
    on mains of ±10 % and warm too.
    """

    advice: Advice

    @cached_property
    def set(self) -> pd.DataFrame:
        """One row a candidate that keeps every limit and that none beats: parts, aims, its nearest limit."""
        return set_frame(self.advice)

    @cached_property
    def candidates(self) -> pd.DataFrame:
        """One row for every candidate: parts, cost, what became of it, the limit that it breaks worst."""
        return candidates_frame(self.advice)

    @cached_property
    def limits(self) -> pd.DataFrame:
        """One row a limit: how many candidates are known to break it, and how many it alone."""
        return limits_frame(self.advice)

    @cached_property
    def shortlist(self) -> StudyResult:
        """The candidates that are shown, as a study."""
        return StudyResult(self.advice.shortlist, self.advice.results)

    def plot(self, name: str = "advice-trade-off") -> Picture:
        """Draw one picture; in a notebook it shows itself.

        Parameters
        ----------
        name : str
            "advice-trade-off", "advice-parts" or "advice-effects".

        Raises
        ------
        KeyError
            If there is no such picture; says which there are.
        """
        pictures = {picture.name: picture for picture in advice_pictures(self.advice, ALONE)}
        if name not in pictures:
            raise KeyError(f"no picture {name!r}; there are: {', '.join(pictures) or 'none'}")
        return pictures[name]

    def __str__(self) -> str:
        """Say it in the lines that the terminal shows."""
        return "\n".join(advice_lines(self.advice))

    def __repr__(self) -> str:
        """Say what was searched, in one line."""
        found = self.advice.found
        return (
            f"<AdviceResult of {self.advice.study.name}: {len(found.best)} of {len(found.space)} candidates>"
        )


def run_advice(
    study: str | Path | Study,
    *,
    workers: int | None = None,
    store: str | Path | None = None,
    case_deadline_s: float = CASE_DEADLINE_S,
    spread: Spread | None = None,
) -> AdviceResult:
    """Choose parts of the catalogue for a lamp, as its study's [advise] says.

    Parameters
    ----------
    study : str, Path or Study
        A study file, the name of a shipped one, or a study already loaded.
    workers : int, optional
        Worker processes; all cores when absent.
    store : str or Path, optional
        Folder in which finished cases are kept and found again; nothing is kept when absent.
    case_deadline_s : float
        Longest time for one case [s].
    spread : Spread, optional
        Lamps of their tolerances to draw of each candidate that is shown.

    Returns
    -------
    AdviceResult

    Raises
    ------
    FileProblems
        If a file is wrong, or nothing can be chosen; every problem at once.
    """
    loaded = study if isinstance(study, Study) else load_study(study)
    check_replacements(loaded)
    pool = shared_pool(workers, start_worker)
    if store is None:
        return AdviceResult(advise(loaded, pool, case_deadline_s=case_deadline_s, spread=spread))
    kept = Store(Path(store), lambda text: warnings.warn(text, stacklevel=2))
    try:
        lean, whole = StoredCases(kept, readings_only=True), StoredCases(kept)
        return AdviceResult(
            advise(
                loaded,
                pool,
                lean,
                shortlist_cache=whole,
                case_deadline_s=case_deadline_s,
                spread=spread,
            )
        )
    finally:
        kept.close()


def run_study(
    study: str | Path | Study,
    *,
    variants: Sequence[str] | None = None,
    benches: Sequence[str] | None = None,
    workers: int | None = None,
    store: str | Path | None = None,
    case_deadline_s: float = CASE_DEADLINE_S,
) -> StudyResult:
    """Run the cases of a study and return what they gave.

    Parameters
    ----------
    study : str, Path or Study
        A study file, the name of a shipped one, or a study already loaded.
    variants, benches : sequence of str, optional
        Only these; as found stays in, because changes are against it. One variant alone is also taken through
        rooms from cold to hot.
    workers : int, optional
        Worker processes; all cores when absent.
    store : str or Path, optional
        Folder in which finished cases are kept and found again; nothing is kept when absent.
    case_deadline_s : float
        Longest time for one case [s].

    Returns
    -------
    StudyResult
        A case that failed is in it, with its reason and without readings.

    Raises
    ------
    FileProblems
        If a file is wrong; every problem at once.
    KeyError
        If a variant or a bench is not in the study.

    Examples
    --------
    >>> from coldiron import run_study
    >>> result = run_study("kerbside-rework", variants=["22 µF"], benches=["unplug"])
    >>> case = result.case("22 µF", "unplug")
    >>> result.waves(case).index.name
    'time [s]'
    """
    loaded = study if isinstance(study, Study) else load_study(study)
    check_replacements(loaded)
    cases = _selected(loaded, variants, benches)
    pool = shared_pool(workers, start_worker)
    if store is None:
        return StudyResult(loaded, Results(_run(cases, pool, None, case_deadline_s)))
    kept = Store(Path(store), lambda text: warnings.warn(text, stacklevel=2))
    try:
        return StudyResult(loaded, Results(_run(cases, pool, StoredCases(kept), case_deadline_s)))
    finally:
        kept.close()


def _run(
    cases: Sequence[Case], pool: WorkerPool, cache: Cache | None, case_deadline_s: float
) -> list[FinishedCase]:
    return run_cases(cases, pool, cache=cache, keep_waves=True, case_deadline_s=case_deadline_s)


def _selected(study: Study, variants: Sequence[str] | None, benches: Sequence[str] | None) -> list[Case]:
    names = [variant.name for variant in study.variants]
    for kind, wanted, known in (("variant", variants, names), ("bench", benches, study.benches)):
        for name in wanted or ():
            if name not in known:
                raise KeyError(f"no {kind} {name!r} in the study; there are: {', '.join(known)}")
    keep = {names[0], *variants} if variants else set(names)
    alone = variants if variants and len(variants) == 1 else ()
    return [
        case
        for case in study_cases(study, alone)
        if case.variant in keep and (not benches or case.bench in benches)
    ]


def taught(lesson: str, workers: int | None = None) -> list[Shown]:
    """Steps of a lesson, run anew; in a notebook each shows what happens, after it has asked.

    Raises
    ------
    FileProblems
        If the lesson is wrong, or its runs refute what it says.
    """
    own = load_lesson(lesson)
    return shown(own, record(own, shared_pool(workers, start_worker)), lesson)


@dataclass(frozen=True, repr=False)
class SpreadResult:
    """What tolerances and assumptions do to some variants of a study, as frames.

    `spreads` has each by its name, with every lamp that was drawn.
    """

    study: Study
    spreads: Mapping[str, SpreadOf]

    @cached_property
    def readings(self) -> pd.DataFrame:
        """One row a variant and headline reading: 5, 50 and 95 %, worst cases, what moves it."""
        return spread_tables.frame(spread_tables.READING_COLUMNS, spread_tables.reading_rows(self._each))

    @cached_property
    def limits(self) -> pd.DataFrame:
        """One row a variant, bench and limit: lamps judged and kept, the yield with its 95 % interval."""
        return spread_tables.frame(spread_tables.LIMIT_COLUMNS, spread_tables.limit_rows(self._each))

    @cached_property
    def decides(self) -> pd.DataFrame:
        """One row a verdict and assumed value that turns it; one without a value where none does."""
        return spread_tables.frame(spread_tables.DECIDING_COLUMNS, spread_tables.deciding_rows(self._each))

    @cached_property
    def passes(self) -> pd.DataFrame:
        """One row a broken limit, way to keep it, and value that is bought otherwise."""
        return spread_tables.frame(spread_tables.PASSING_COLUMNS, spread_tables.passing_rows(self._each))

    @cached_property
    def tolerances(self) -> pd.DataFrame:
        """One row a variant and value that may be off: by how much, and where that is from."""
        return spread_tables.frame(spread_tables.TOLERANCE_COLUMNS, spread_tables.tolerance_rows(self._each))

    @cached_property
    def lamps(self) -> pd.DataFrame:
        """One row a lamp: how far each value is off, and what it read; number 0 is the nominal one."""
        columns, rows = spread_tables.lamp_rows(self._each)
        return spread_tables.frame(columns, rows)

    @property
    def _each(self) -> list[SpreadOf]:
        return list(self.spreads.values())

    def __str__(self) -> str:
        """Say it in the lines that the terminal shows."""
        return "\n".join(line for one in self._each for line in (*spread_tables.spread_screen(one, 100), ""))

    def __repr__(self) -> str:
        """Say of what, in one line."""
        return f"<SpreadResult of {self.study.name}: {', '.join(self.spreads)}>"


def run_spread(
    study: str | Path | Study,
    variants: Sequence[str],
    *,
    benches: Sequence[str] | None = None,
    runs: int | None = None,
    workers: int | None = None,
    store: str | Path | None = None,
    case_deadline_s: float = CASE_DEADLINE_S,
) -> SpreadResult:
    """Draw lamps of the tolerances of some variants, run them, and say what came of it.

    Parameters
    ----------
    study : str, Path or Study
        As for `run_study`.
    variants : sequence of str
        Whose lamps; "as found" is one.
    benches : sequence of str, optional
        Only these of the study.
    runs : int, optional
        Lamps; what the study says when absent, else 300.
    workers : int, optional
        Worker processes; all cores when absent.
    store : str or Path, optional
        Folder in which finished cases are kept and found again.
    case_deadline_s : float
        Longest time for one case [s].

    Raises
    ------
    FileProblems
        If a file is wrong; every problem at once.
    KeyError
        If a variant or a bench is not in the study.
    """
    loaded = study if isinstance(study, Study) else load_study(study)
    check_replacements(loaded)
    _selected(loaded, variants, benches)
    asked = loaded.spread or Spread()
    if runs is not None:
        asked = Spread.model_validate({**asked.model_dump(by_alias=True), "runs": runs})
    check_tolerances(loaded, asked)
    pool = shared_pool(workers, start_worker)
    kept = None if store is None else Store(Path(store), lambda text: warnings.warn(text, stacklevel=2))
    cache = StoredCases(kept, readings_only=True) if kept else None

    def run(cases: Sequence[Case]) -> list[FinishedCase]:
        """Cases through this pool and store."""
        return run_cases(cases, pool, cache=cache, readings_only=True, case_deadline_s=case_deadline_s)

    def fit(work: FitWork) -> Fit:
        """In a worker process, as every run of the engine."""
        return pool.submit(run_fit, work, _FIT_DEADLINE_S).result()

    try:
        found = {name: spread_of(loaded, name, run, fit, benches=benches, spread=asked) for name in variants}
    finally:
        if kept:
            kept.close()
    return SpreadResult(loaded, found)
