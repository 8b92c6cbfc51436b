"""Each row of the validation page within the bounds that were measured, and the page as it was written."""

from __future__ import annotations

import pytest

from laboratory import Laboratory
from validation import PAGE, rows
from validation_row import Row

pytestmark = pytest.mark.ngspice


@pytest.mark.parametrize("row", [pytest.param(r, id=f"{r.number} {r.case}, {r.reading}") for r in rows()])
def test_a_row_is_within_what_was_measured(laboratory: Laboratory, row: Row) -> None:
    value = row.read(laboratory)
    assert row.holds(value), f"{value:.6g} {row.unit}, measured {row.least:.6g} to {row.most:.6g}"


def test_the_page_has_every_row_and_none_out_of_its_band() -> None:
    page = PAGE.read_text(encoding="utf-8")
    for row in rows():
        assert f"| {row.number} | {row.case} | {row.reading} | " in page
    assert "‼" not in page
