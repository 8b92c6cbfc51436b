"""Which ngspice library this machine has, without starting an engine."""

from __future__ import annotations

import ctypes
import hashlib
import os
from functools import cache
from pathlib import Path

from coldiron.errors import MissingEngine

LIBRARY_NAMES = ("libngspice.so.0", "libngspice.so", "libngspice.dylib")
OWN_LIBRARY = "NGSPICE_LIBRARY_PATH"
"""Environment variable that names another library."""


class _Symbol(ctypes.Structure):
    _fields_ = (
        ("file", ctypes.c_char_p),
        ("base", ctypes.c_void_p),
        ("name", ctypes.c_char_p),
        ("address", ctypes.c_void_p),
    )


@cache
def library_name() -> str:
    """Name by which the loader of this machine finds the library.

    Raises
    ------
    MissingEngine
        If it finds none.
    """
    own = os.environ.get(OWN_LIBRARY)
    for name in (own,) if own else LIBRARY_NAMES:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return name
    looked = f"{own}, named by {OWN_LIBRARY}, cannot be loaded" if own else "it is not on this machine"
    raise MissingEngine(
        f"no ngspice library: {looked}; install it (Debian, Ubuntu: apt-get install libngspice0)"
    )


@cache
def library_digest() -> str:
    """Hash over the library's file: two machines with the same digest run the same engine.

    Raises
    ------
    MissingEngine
        If there is no library.
    """
    library = ctypes.CDLL(library_name())
    symbol = _Symbol()
    found = ctypes.CDLL(None).dladdr(library.ngSpice_Init, ctypes.byref(symbol))
    if not found or symbol.file is None:
        raise MissingEngine(f"the loader does not say where {library_name()} is")
    with Path(os.fsdecode(symbol.file)).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:16]
