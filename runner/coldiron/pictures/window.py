"""A window on the screen, where there is one."""

from __future__ import annotations

import os
import sys
from typing import Any

from matplotlib.backends.registry import backend_registry
from matplotlib.figure import Figure

from coldiron.errors import ColdironError

_TOOLKITS = ("qtagg", "tkagg", "gtk4agg", "gtk3agg", "wxagg")


class NoScreen(ColdironError):
    """There is no screen, or nothing installed that could open a window on it."""


def toolkit() -> Any:
    """Return the first module of matplotlib that can open a window here.

    Raises
    ------
    NoScreen
        If there is none; says what to do instead.
    """
    shared = sys.platform not in ("win32", "darwin")
    if shared and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        raise NoScreen("no screen to open a window on: write a file instead, such as --to waves.svg")
    registry: Any = backend_registry
    for name in ("macosx",) if sys.platform == "darwin" else _TOOLKITS:
        try:
            return registry.load_backend_module(name)
        except ImportError:
            continue
    raise NoScreen(
        "no window toolkit for Python here: install one (on Debian: python3-tk), "
        "or write a file, such as --to waves.svg"
    )


def show(figure: Figure, title: str) -> None:
    """Show a figure in a window until a person closes it; raises NoScreen where that cannot be."""
    module = toolkit()
    manager = module.FigureCanvas.new_manager(figure, 1)
    manager.set_window_title(title)
    manager.show()
    module.FigureManager.start_main_loop()
