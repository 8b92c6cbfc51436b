"""A window on the screen, where there is one: a figure that a person can zoom and pan."""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure

from coldiron.errors import ColdironError

_INSTEAD = "write a file instead, such as --to waves.svg"


class NoScreen(ColdironError):
    """There is no screen, or nothing installed that could open a window on it."""


def open_window() -> Any:
    """Return an empty window.

    Raises
    ------
    NoScreen
        If there can be none; says what to do instead.
    """
    try:
        import tkinter
    except ImportError:
        raise NoScreen(f"Python has no tkinter here (Debian: python3-tk): {_INSTEAD}") from None
    try:
        return tkinter.Tk()
    except tkinter.TclError:
        raise NoScreen(f"no screen to open a window on: {_INSTEAD}") from None


def show(window: Any, figure: Figure, title: str) -> None:
    """Show a figure in a window until a person closes it."""
    from matplotlib.backends import backend_tkagg

    tk: Any = backend_tkagg
    window.title(title)
    canvas = tk.FigureCanvasTkAgg(figure, master=window)
    tk.NavigationToolbar2Tk(canvas, window)
    canvas.get_tk_widget().pack(fill="both", expand=True)
    window.deiconify()
    window.mainloop()
