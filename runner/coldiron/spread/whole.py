"""The whole of it for one variant: margins, the closer part, what decides, what it takes to pass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from coldiron.fit.solve import Fit, FitWork
from coldiron.spread.decides import Deciding, deciding
from coldiron.spread.indices import Indices, indices
from coldiron.spread.margins import Margins, margins
from coldiron.spread.passes import Passing, passing
from coldiron.spread.pinned import pinned
from coldiron.spread.population import Drawing, Run
from coldiron.spread.subject import Subject
from coldiron.spread.tighten import Tightening, tightened
from coldiron.spread.values import check_tolerances, varied
from coldiron.study.model import Study
from coldiron.study.spread import Spread


@dataclass(frozen=True)
class SpreadOf:
    """What tolerances and assumptions do to one variant of a study."""

    variant: str
    title: str
    margins: Margins
    tightening: Tightening | None
    deciding: tuple[Deciding, ...]
    passing: tuple[Passing, ...]
    runs: int
    indices: tuple[Indices, ...] = ()

    @property
    def failed(self) -> int:
        """Cases of its lamps that gave no answer."""
        return sum(self.margins.failed.values())


def spread_of(
    study: Study,
    variant: str,
    run: Run,
    fit: Callable[[FitWork], Fit],
    *,
    benches: Sequence[str] | None = None,
    spread: Spread | None = None,
    sobol: bool = False,
    said: Callable[[str], None] = lambda stage: None,
) -> SpreadOf:
    """Draw the lamps of a variant, run them, and say what came of it.

    Parameters
    ----------
    study : Study
    variant : str
    run : callable
        Cases to finished cases, in their order.
    fit : callable
        Runs a fit.
    benches : sequence of str, optional
        Only these of the study.
    spread : Spread, optional
        In place of the study's own.
    sobol : bool
        Whether to run Sobol indices of the headline readings too.
    said : callable
        Told what comes next.

    Raises
    ------
    FileProblems
        If the study has a tolerance for a value that is none.
    """
    asked = spread or study.spread or Spread()
    own = next(one for one in study.variants if one.name == variant)
    check_tolerances(study, asked)
    chosen = tuple(bench for bench in study.benches if benches is None or bench in benches)
    said(f"{variant}: lamps of its tolerances")
    drawing = Drawing(study, variant, own.lamp, asked, chosen, tuple(varied(own.lamp, chosen, asked)))
    found = margins(drawing, run)
    said(f"{variant}: a closer part")
    closer = tightened(found, run)
    subject = Subject(study, variant, chosen, run)
    said(f"{variant}: what decides")
    doubtful = [limit.held for limit in found.limits if limit.nominal_use <= 1.0 < limit.worst.value]
    decided = deciding(subject, doubtful, pinned(study.lamp, own.lamp, chosen, fit))
    said(f"{variant}: what it takes to pass")
    ways = passing(subject)
    sobol_of: list[Indices] = []
    if sobol:
        said(f"{variant}: Sobol indices")
        sobol_of = indices(drawing, run)
    number = [one.name for one in study.variants].index(variant)
    return SpreadOf(
        variant,
        f"{number} · {variant}",
        found,
        closer,
        tuple(decided),
        tuple(ways),
        subject.runs,
        tuple(sobol_of),
    )
