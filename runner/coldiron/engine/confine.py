"""What a worker process may do: compute. It can neither leave files behind nor be led by files of others."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import tempfile
from pathlib import Path

from coldiron.engine.ngspice_library import OWN_LIBRARY

FOREIGN = ("SPICE", "NGSPICE", "PYSPICE", "LC_", "LANG", "LD_", "DYLD_")
"""Beginnings of environment variables that could point the engine to foreign start-up files, or make it read
decimal commas."""
MOST_OPEN_FILES = 256


def enter_private_folder() -> Path:
    """Move this process into an empty folder of its own, with an empty start-up file in it.

    The engine executes `.spiceinit` from the working folder, or else from the home folder of the user
    database, when it starts; an empty one here keeps it from both. Variables that could lead it elsewhere
    are dropped.
    """
    for name in list(os.environ):
        if name.startswith(FOREIGN) and name != OWN_LIBRARY:
            del os.environ[name]
    folder = Path(tempfile.mkdtemp(prefix="coldiron-"))
    (folder / ".spiceinit").touch()
    os.chdir(folder)
    return folder


def confine(folder: Path) -> None:
    """Take from this process what it does not need once its engine runs.

    The private folder goes while the process stays in it, so that nothing can be made there any more;
    files it could reach by other ways cannot grow. Interrupts are the business of the process that hands
    out the work.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    shutil.rmtree(folder)
    for what, most in (
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_NOFILE, MOST_OPEN_FILES),
    ):
        _, hard = resource.getrlimit(what)
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (most, most))
