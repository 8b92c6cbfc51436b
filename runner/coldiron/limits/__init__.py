"""Limits and verdicts: what standards, makers and a study allow, and each reading held against it."""

from __future__ import annotations

from coldiron.limits.judge import judge
from coldiron.limits.rules import check_replacements
from coldiron.limits.verdict import Verdict, verdict_frame

__all__ = ["Verdict", "check_replacements", "judge", "verdict_frame"]
