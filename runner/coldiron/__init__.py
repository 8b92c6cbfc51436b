"""Coldiron answers one question: what would this change do to this lamp, before the soldering iron is hot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coldiron.api import StudyResult, run_study

__all__ = ["StudyResult", "run_study"]


def __getattr__(name: str) -> Any:
    """Load the public names when they are first asked for: `coldiron --help` needs none of them."""
    if name in __all__:
        from coldiron import api

        return getattr(api, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
