"""A study file becomes a Study, or a list of everything that is wrong with it and with its lamp."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.model import Closed, Name, Note
from coldiron.lamp.toml_file import find_file, read_toml, shipped_names
from coldiron.lamp.understand import understand
from coldiron.quantities import NotUnderstood
from coldiron.resources import resource_dir
from coldiron.study.advise import Advise
from coldiron.study.aims import Aims
from coldiron.study.conditions import Conditions, once_each
from coldiron.study.fault_names import FaultName, fault_problems, some_faults
from coldiron.study.holding import Holding
from coldiron.study.model import KNOWN_BENCHES, USUAL_BENCHES, Study, Variant
from coldiron.study.spread import Spread
from coldiron.study.tolerance import Tolerances
from coldiron.study.variants import VariantEntry, build_variants
from coldiron.wording import as_written, one_nearest, one_of, printable


def _known_bench(name: str) -> str:
    if name not in KNOWN_BENCHES:
        raise NotUnderstood(one_of(KNOWN_BENCHES), one_nearest(name, KNOWN_BENCHES))
    return name


_LONGEST_FOLDER_BYTES = 240
"""File systems take 255, and some need a few for themselves."""


def _folder_name(name: str) -> str:
    if any(character in name for character in '/\\:*?"<>|') or name.startswith("."):
        raise ValueError("a name that a folder can have (results go to it)")
    if len(name.encode()) > _LONGEST_FOLDER_BYTES:
        raise ValueError(f"a name that a folder can have: at most {_LONGEST_FOLDER_BYTES} bytes in UTF-8")
    if name.casefold() == "reference":
        raise ValueError('another name than "reference", whose folder has what regress holds studies to')
    return name


class StudyFile(Closed):
    """A study file, before its changes are applied."""

    name: Annotated[Name, AfterValidator(_folder_name)]
    note: Note = ""
    lamp: Annotated[str, Field(min_length=1, max_length=300)]
    benches: Annotated[
        tuple[Annotated[str, AfterValidator(_known_bench)], ...],
        Field(min_length=1),
        BeforeValidator(once_each),
    ] = USUAL_BENCHES
    faults: Annotated[tuple[FaultName, ...], BeforeValidator(some_faults)] = ()
    aim: Aims = Aims()
    advise: Advise = Advise()
    conditions: Conditions = Conditions()
    limits: Holding = Holding()
    tolerance: Tolerances = Field(default_factory=dict)
    spread: Spread | None = None
    base: VariantEntry | None = None
    variant: tuple[VariantEntry, ...] = ()
    grid: dict[str, Any] = Field(default_factory=dict)
    zip: dict[str, Any] = Field(default_factory=dict)


def load_study(path_or_name: str | Path) -> Study:
    """Study described by a file, or a shipped study by its name, with all its variants built.

    Parameters
    ----------
    path_or_name : str or Path
        A path, or the name of a shipped study such as "kerbside-rework".

    Raises
    ------
    FileProblems
        With every problem of the study file and of its lamp file.
    """
    path = find_file(path_or_name, "studies")
    table = read_toml(path)
    return study_from(table, path)


def is_lamp(table: Mapping[str, Any]) -> bool:
    """Whether the tables of a file describe a lamp where a study might stand."""
    return "lamp" not in table and bool(table.keys() & {"mains", "string", "sinks"})


def make_study(
    lamp: Lamp | str | Path,
    variants: Mapping[str, Mapping[str, Any]] | None = None,
    *,
    name: str = "study",
    **tables: Any,
) -> Study:
    """Study of a lamp without a file.

    Parameters
    ----------
    lamp : Lamp, str or Path
        A lamp, or what `load_lamp` takes.
    variants : mapping, optional
        Name of each variant to its changes, by dotted keys as in a study file.
    name : str
        Name of the study, and of the folder its files would go to.
    **tables
        What else a study file holds, by its key, such as `benches`, `conditions`, `grid`, `zip`, `base`.

    Raises
    ------
    FileProblems
        With everything that is wrong, as for a file.

    Examples
    --------
    >>> make_study("kerbside-flood", {"22 µF": {"reservoir.capacitance": "22 µF"}}, benches=["steady"])
    <Study 'study' of 'Kerbside flood': 2 variants on steady>
    """
    own = lamp if isinstance(lamp, Lamp) else load_lamp(lamp)
    listed = [{"name": key, "change": dict(change)} for key, change in (variants or {}).items()]
    return study_from({"lamp": own.name, "name": name, "variant": listed, **tables}, Path("make_study"), own)


def study_from(table: dict[str, Any], path: Path, lamp: Lamp | None = None) -> Study:
    """Study described by the tables of a file at a path, of the lamp it names or of one that is given."""
    problems: list[Problem] = []
    if is_lamp(table):
        expected = f'a study, which names its lamp and the changes to try: lamp = "{printable(path.name)}"'
        raise FileProblems([Problem(printable(str(path)), "", "a lamp", expected)])
    file = understand(StudyFile, {"name": path.stem, **table}, str(path), problems)
    lamp = lamp or _lamp(table.get("lamp"), path, problems)
    changes = file
    if file is None and not any(_first_key(problem) in _CHANGES for problem in problems):
        # With something wrong elsewhere in the file, its changes are still looked at: every problem at once.
        changes = understand(StudyFile, {"name": "study", **_only_changes(table)}, str(path), [])
    variants: tuple[Variant, ...] = ()
    if lamp is not None and changes is not None:
        variants = build_variants(
            lamp,
            str(path),
            problems,
            base=changes.base,
            entries=changes.variant,
            grid=changes.grid,
            steps=changes.zip,
        )
    if lamp is not None and changes is not None:
        problems += fault_problems(changes.faults, [lamp, *(one.lamp for one in variants)], str(path))
    if problems or file is None or lamp is None:
        raise FileProblems(problems)
    return Study(
        name=file.name,
        note=file.note,
        lamp=lamp,
        variants=variants,
        # The order in which a file names them decides nothing.
        benches=tuple(bench for bench in KNOWN_BENCHES if bench in file.benches),
        aim=file.aim,
        advise=file.advise,
        conditions=file.conditions,
        limits=file.limits,
        tolerance=file.tolerance,
        spread=file.spread,
        faults=file.faults,
    )


_CHANGES = ("lamp", "faults", "base", "variant", "grid", "zip")
"""Keys of a study file that its variants are built from."""


def _only_changes(table: dict[str, Any]) -> dict[str, Any]:
    return {key: table[key] for key in _CHANGES if key in table}


def _first_key(problem: Problem) -> str:
    return problem.key.partition(".")[0].partition("[")[0]


_BELOW = "a lamp below the study's folder, or below the working folder or repository that the study lies in"


def _lamp(written: object, study: Path, problems: list[Problem]) -> Lamp | None:
    """Lamp that a study names, found below where it lies or among the shipped ones, and nowhere else."""
    if not isinstance(written, str) or not written:
        return None

    if "/" not in written and "\\" not in written and not written.endswith(".toml"):
        names = shipped_names("lamps")
        path = resource_dir("variants") / "lamps" / f"{written}.toml"
        expected = "" if written in names else f"a shipped lamp ({one_of(names)}) or a path beside the study"
        near = (f"{written}.toml", f"../lamps/{written}.toml")
        found = [path for path in near if _is_file(study.parent / path)]
        nearest = found[0] if found else one_nearest(written, names)
    else:
        path, nearest = study.parent / written, ""
        roots = (*_open_to(study.parent), resource_dir("variants"))
        expected = "" if _is_below(path, roots) else _BELOW
    if expected:
        problems.append(Problem(printable(str(study)), "lamp", as_written(written), expected, nearest))
        return None
    try:
        return load_lamp(path)
    except FileProblems as error:
        problems.extend(error.problems)
        return None


def _open_to(folder: Path) -> list[Path]:
    """Folders below which a study in a folder may name a lamp: its own, and what it lies in itself.

    That is the working folder and the repository, each only where the study is inside: one that lies
    elsewhere, such as among downloads, reads nothing of either.
    """
    roots = [folder]
    try:
        real = folder.resolve()
        working = Path.cwd()
        if real.is_relative_to(working.resolve()):
            roots.append(working)
        repository = next((above for above in (real, *real.parents) if (above / ".git").exists()), None)
    except (OSError, ValueError, RuntimeError):
        return roots
    return roots if repository is None else [*roots, repository]


def _is_below(path: Path, roots: tuple[Path, ...]) -> bool:
    """Tell whether a path, with all links followed, stays below one of some folders."""
    try:
        real = path.resolve()
    except (OSError, ValueError, RuntimeError):
        return False
    return any(real.is_relative_to(root.resolve()) for root in roots)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
