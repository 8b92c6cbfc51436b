"""What becomes of a lamp that shuts itself off, in words; light to load, unlike the sums behind them."""

from __future__ import annotations

from typing import Final, Literal

Outcome = Literal["thermal shut-off and restart, a slow blink", "thermal shut-off, and it stays dark"]
BLINKS: Final[Outcome] = "thermal shut-off and restart, a slow blink"
STAYS_DARK: Final[Outcome] = "thermal shut-off, and it stays dark"
