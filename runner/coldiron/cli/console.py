"""The console that commands print tables on."""

from __future__ import annotations

from rich.console import Console


class Screen(Console):
    """A console whose reader may leave: that ends the command, and is no failure of it."""

    def on_broken_pipe(self) -> None:
        """Tell `main`, in place of ending the process with status 1."""
        raise BrokenPipeError
