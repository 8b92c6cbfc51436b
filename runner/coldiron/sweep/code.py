"""What the workers run: every module they can import, the libraries behind those, and the files they read.

Nothing is imported for it. Imports are read from the sources, from the worker's own module on, so that what a
case runs through is in the key of its result whatever room it stands in.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import platform
import re
import sys
import time
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

from coldiron.deck.templates import templates_version
from coldiron.resources import resource_dir

PACKAGE = Path(__file__).resolve().parents[1]
ENTRIES = ("coldiron.sweep.worker", "coldiron.lamp.topologies")
"""The module that a worker is handed, and those of the lamps that come to it; the rest they import."""

_IMPORT = re.compile(
    r"^[ \t]*(?:from[ \t]+([\w.]+)[ \t]+import[ \t]+(\([^)]*\)|[^\n]*)|import[ \t]+([^\n]*))", re.M
)
_NAME = re.compile(r"[\w.]+")
_COMMENT = re.compile(r"#[^\n]*")
_OWN_MODULES = 'import_module(f"{__name__}.'
"""How a package imports its modules by name: it stands for all of them."""
_FOR_TYPES = re.compile(r"^if TYPE_CHECKING:\n(?:[ \t]+[^\n]*\n|\n)+", re.M)
"""Imports that are never run."""
_REQUIREMENT = re.compile(r"^Requires-Dist:[ \t]*([\w.-]+)(?![^\n]*extra ==)", re.M)
_VERSION = re.compile(r"^Version:[ \t]*(\S+)", re.M)


_BEGAN_NS = time.time_ns()


@cache
def _files() -> tuple[Path, ...]:
    """Every file whose content is in the digest."""
    return (*_own()[0].values(), *data_files(), *resource_dir("netlists").rglob("*.cir.j2"))


def has_changed() -> bool:
    """Whether a file that decides results was changed, or has gone, since this process began.

    Then what the process computes, with the modules it has in memory and those it imports from here on, is
    not what the digest of those files names.
    """
    try:
        return any(path.stat().st_ctime_ns > _BEGAN_NS for path in _files())
    except OSError:
        return True


@cache
def code_digest() -> str:
    """Hash over all that a case runs through but the engine: modules, libraries, Python, templates, data."""
    return _digest(*_own())


def digest_of(package: Path) -> str:
    """Return that hash for a folder of the package `coldiron`."""
    return _digest(*imported(package))


@cache
def _own() -> tuple[dict[str, Path], set[str]]:
    return imported()


def _digest(modules: dict[str, Path], foreign: set[str]) -> str:
    digest = hashlib.sha256(f"{platform.python_version()}\n{templates_version()}\n".encode())
    for name, path in (*sorted(modules.items()), *((path.name, path) for path in data_files())):
        digest.update(f"{name}\n".encode() + hashlib.sha256(path.read_bytes()).digest())
    for name, version in sorted(versions_of(foreign).items()):
        digest.update(f"{name}\n{version}\n".encode())
    return digest.hexdigest()[:16]


def data_files() -> Iterator[Path]:
    """Files besides code and templates that a worker reads."""
    yield from sorted((resource_dir("variants") / "catalogue").glob("*.toml"))


def imported(package: Path = PACKAGE) -> tuple[dict[str, Path], set[str]]:
    """Every module that a worker can import.

    Imports inside functions count: they run when a case gets there.

    Parameters
    ----------
    package : Path
        Folder of the package `coldiron`.

    Returns
    -------
    dict of str to Path
        Ours, by their dotted names, with their files.
    set of str
        First names of those of others but Python's own.
    """
    found: dict[str, Path] = {}
    foreign: set[str] = set()
    left, seen = list(ENTRIES), set[str]()
    while left:
        name = left.pop()
        if name in seen:
            continue
        seen.add(name)
        path = _file(package, name)
        if path is None:
            continue
        found[name] = path
        left.append(name.rpartition(".")[0])  # a module's package is imported before it
        text = _FOR_TYPES.sub("", path.read_text(encoding="utf-8"))
        if _OWN_MODULES in text and path.name == "__init__.py":
            left += [f"{name}.{beside.stem}" for beside in sorted(path.parent.glob("[!_]*.py"))]
        for other in _names_in(text):
            if other.partition(".")[0] == "coldiron":
                left.append(other)
            else:
                foreign.add(other.partition(".")[0])
    return found, foreign - sys.stdlib_module_names


def versions_of(foreign: Iterable[str]) -> dict[str, str]:
    """Version of every installed distribution that some modules come from, and of what these require."""
    versions: dict[str, str] = {}
    left = [_distribution(name) for name in foreign]
    while left:
        name = left.pop()
        if not name or name in versions:
            continue
        head = _head(name)
        version = _VERSION.search(head)
        if version:  # else required on another machine, or never
            versions[name] = version[1]
            left += [_plain(required) for required in _REQUIREMENT.findall(head)]
    return versions


def _names_in(text: str) -> Iterator[str]:
    """Dotted names that a source imports; what `from` takes out of a package may be a module of it."""
    for match in _IMPORT.finditer(text):
        module, taken, plain = match.groups()
        if plain is not None:
            yield from (part.split()[0] for part in _COMMENT.sub("", plain).split(",") if part.strip())
        elif module:
            yield module
            yield from (f"{module}.{name}" for name in _NAME.findall(_COMMENT.sub("", taken)))


def _file(package: Path, name: str) -> Path | None:
    first, *rest = name.split(".")
    if first != "coldiron":
        return None
    place = package.joinpath(*rest)
    for path in (place.with_suffix(".py"), place / "__init__.py") if rest else (place / "__init__.py",):
        if path.is_file():
            return path
    return None


def _distribution(module: str) -> str:
    """Plain name of the distribution that a module comes from; nothing where none is installed."""
    if _head(module):
        return _plain(module)
    # Rare, and slow: it reads the records of all that is installed.
    return _plain(next(iter(importlib.metadata.packages_distributions().get(module, ())), ""))


@cache
def _head(name: str) -> str:
    """Fields at the head of the metadata of a distribution; nothing where it is not installed."""
    try:
        text = importlib.metadata.distribution(name).read_text("METADATA")
    except importlib.metadata.PackageNotFoundError:
        return ""
    return (text or "").partition("\n\n")[0]


@cache
def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()
