"""What tests wait for that may never come: no clock decides, but what hangs for ever ends some time."""

from __future__ import annotations

import os
import select

HANG_S = 600.0
"""After this something hangs: far beyond what the busiest machine takes, and no test ends by it else."""


def gone(pid: int) -> bool:
    """Wait until a process has ended."""
    try:
        process = os.pidfd_open(pid)
    except ProcessLookupError:
        return True
    try:
        ended = select.poll()
        ended.register(process, select.POLLIN)
        return bool(ended.poll(1000.0 * HANG_S))
    finally:
        os.close(process)
