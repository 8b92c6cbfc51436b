"""The limits of the harmonics as they hold for the lamp as found, and whose they are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from coldiron.limits import judge
from coldiron.limits.harmonic import harmonic_limits_pct
from coldiron.pictures.lay import lays
from coldiron.readings.catalogue import COLD
from coldiron.study.model import Study
from coldiron.sweep.results import Results

SOURCE = "IEC 61000-3-2"


class HarmonicLimits(NamedTuple):
    """By the name of the limit, then by order [% of the fundamental], empty where none applies; and why."""

    allowed_pct: Mapping[str, Mapping[int, float]]
    why: str


def harmonic_limits(study: Study, results: Results) -> HarmonicLimits:
    """Limits for the first variant that was run, which is the lamp as found."""
    first = lays(results, COLD)[:1]
    if not first:
        return HarmonicLimits({}, "")
    one = results.case(first[0].name, COLD)
    allowed_pct = harmonic_limits_pct(study, one)
    held = [verdict for verdict in judge(study, [one]) if verdict.what and verdict.source.startswith(SOURCE)]
    if not held:
        return HarmonicLimits(allowed_pct, "")
    verdict = held[0]
    if not allowed_pct:
        return HarmonicLimits({}, f"No limit applies: {verdict.note} ({verdict.source}).")
    whose = f"{verdict.source}, {verdict.clause} ({verdict.provenance})"
    said = f"Limits as they hold for {verdict.variant}: {whose}."
    return HarmonicLimits(allowed_pct, f"{said} One alternative is enough." if len(allowed_pct) > 1 else said)
