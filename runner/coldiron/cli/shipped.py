"""What is shipped to try: studies and lamps, a line each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from coldiron.lamp.toml_file import read_toml, shipped_names
from coldiron.resources import resource_dir


def shipped_lines() -> list[str]:
    """The shipped studies and lamps with their notes, and what to do with one."""
    lines = [
        "Shipped studies:",
        *_lines("studies"),
        "",
        "Shipped lamps, all of them invented:",
        *_lines("lamps"),
    ]
    return [
        *lines,
        "",
        "coldiron study NAME runs one; a lamp alone gets what a technician would weigh for it.",
        "coldiron study FILE.toml runs one of your own: copy a shipped lamp from",
        f"{resource_dir('variants')}",
    ]


def _lines(folder: Literal["lamps", "studies"]) -> Iterator[str]:
    names = shipped_names(folder)
    width = max(map(len, names))
    for name in names:
        note = read_toml(resource_dir("variants") / folder / f"{name}.toml").get("note", "")
        yield f"  {name:<{width}}  {str(note).removeprefix('Invented demo lamp: ')}"
