"""What a worker has imported and opened, asked from inside; it adds nothing of ours to that."""

from __future__ import annotations

import os
import sys
from typing import Any

_opened: set[str] = set()


def _listen(event: str, words: tuple[Any, ...]) -> None:
    if event == "open" and isinstance(words[0], str | bytes | os.PathLike):
        _opened.add(os.fsdecode(words[0]))


def listen(task: None) -> None:
    """Hear of every file that is opened from here on."""
    sys.addaudithook(_listen)


def imported(task: None) -> list[str]:
    """Names of all modules that are there."""
    return sorted(sys.modules)


def opened(task: None) -> list[str]:
    """Files that were opened since `listen`."""
    return sorted(_opened)
