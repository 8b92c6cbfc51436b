"""Decks of cases printed twice, from a form and by the template: importable where workers run it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any

import pytest

from coldiron.benches.base import Case
from coldiron.deck import body, forms, render
from coldiron.sweep.worker import Work, run_work


def compared(cases: Sequence[Case]) -> tuple[int, int]:
    """Run cases; return how many texts were printed, and from how many forms.

    Raises
    ------
    AssertionError
        At the first text that is another.
    """
    texts = 0

    def both(key: Hashable, values: Mapping[str, Any], print_with: Callable[[Any], str]) -> str:
        nonlocal texts
        texts += 1
        found = forms.filled(key, values, print_with)
        assert found == str(print_with(values)), key
        return found

    forms._forms.clear()
    body._printed.cache_clear()
    body._body.cache_clear()
    with pytest.MonkeyPatch.context() as patch:
        for module in (render, body):
            patch.setattr(module, "filled", both)
        done = run_work(Work(tuple(cases)))
    assert [one.failure for one in done if one.failure] == []
    return texts, len(forms._forms)
