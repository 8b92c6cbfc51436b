"""Where the shipped templates and example files are, in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from coldiron.errors import MissingResource

_PACKAGE = Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parents[1]


def resource_dir(name: Literal["netlists", "variants"]) -> Path:
    """Return the folder of shipped files called `name`.

    Raises
    ------
    MissingResource
        If neither the installed package nor the checkout around it has the folder.
    """
    packaged, beside = _PACKAGE / name, _CHECKOUT / name
    if packaged.is_dir():
        return packaged
    if (_CHECKOUT / "pyproject.toml").is_file() and beside.is_dir():
        return beside
    raise MissingResource(f"no {name!r} folder in {packaged} or {beside}: reinstall coldiron")
