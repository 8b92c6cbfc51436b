"""`coldiron check --keys`: what lamp and study files may hold."""

from __future__ import annotations

import sys

from coldiron.study.keys import key_list


def print_keys() -> int:
    """Print the key list; return 0."""
    sys.stdout.write(key_list())
    return 0
