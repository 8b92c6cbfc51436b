"""Picking variants and benches of a study by the names a person gave."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

from coldiron.benches.base import Case
from coldiron.errors import FileProblems, Problem
from coldiron.study.model import KNOWN_BENCHES, Study
from coldiron.sweep.cases import study_cases


def check_names(option: str, wanted: Iterable[str], known: Sequence[str]) -> None:
    """Refuse names that the study does not have, with the nearest that it has.

    Raises
    ------
    FileProblems
        Naming each unknown name.
    """
    problems = []
    for name in wanted:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            expected = f"a name of this study ({', '.join(known[:12])}{', …' if len(known) > 12 else ''})"
            problems.append(Problem(option, "", repr(name), expected, near[0] if near else ""))
    if problems:
        raise FileProblems(problems)


def selected_cases(study: Study, variants: Sequence[str] | None, benches: Sequence[str] | None) -> list[Case]:
    """Cases of the chosen variants and benches; the lamp as found stays in: changes are against it.

    A variant that is chosen alone is also taken through rooms from cold to hot.
    """
    names = [variant.name for variant in study.variants]
    check_names("--variant", variants or (), names)
    check_names("--bench", benches or (), study.benches)
    keep = {names[0], *variants} if variants else set(names)
    alone = variants if variants and len(variants) == 1 else ()
    return [
        case
        for case in study_cases(study, alone)
        if case.variant in keep and (not benches or case.bench in benches)
    ]


def one_case(study: Study, variant: str, bench: str) -> Case:
    """Case of one variant on the first supply of the study, on any bench there is."""
    check_names("--variant", [variant], [v.name for v in study.variants])
    check_names("--bench", [bench], KNOWN_BENCHES)
    asked = study.model_copy(update={"benches": (bench,)})
    return next(case for case in study_cases(asked) if case.variant == variant)
