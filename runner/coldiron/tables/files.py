"""The files a study leaves: tables, every deck, a manifest; each replaced whole or not at all."""

from __future__ import annotations

import hashlib
import importlib.metadata
import os
import platform
import re
import tempfile
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from coldiron.benches.base import GAVE_UP
from coldiron.deck.templates import templates_version
from coldiron.errors import CannotWrite
from coldiron.limits.verdict import VERDICT_COLUMNS, Verdict, verdict_rows
from coldiron.study.model import Study
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.tidy import Row, rows, table_text, variants_text
from coldiron.wording import printable


def write_results(
    folder: Path, study: Study, results: Results, verdicts: Sequence[Verdict] = ()
) -> list[Path]:
    """Write tables, verdicts and decks of a study under a folder; return the files."""
    texts = {
        folder / "readings.csv": table_text(Row._fields, rows(results)),
        folder / "variants.csv": variants_text(results),
        folder / "verdicts.csv": table_text(VERDICT_COLUMNS, verdict_rows(verdicts)),
    }
    for name, one, label in _decks(study, results):
        texts[folder / name] = one.decks[label]
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def write_whole(path: Path, text: str | bytes) -> None:
    """Replace a file by a text, in UTF-8, or by bytes, in one step: no reader ever sees half of it.

    A file that holds the text already stays as it is.

    Raises
    ------
    CannotWrite
        If there is no room or no right; the file is what it was.
    """
    content = text if isinstance(text, bytes) else text.encode()
    try:
        if not _holds(path, content):
            path.parent.mkdir(parents=True, exist_ok=True)
            _replace(path, content)
    except OSError as error:
        raise CannotWrite(f"cannot write {printable(str(path))}: {error.strerror or error}") from None


def check_writable(path: Path) -> None:
    """Find out, before hours of computing, whether a file can be written there.

    Raises
    ------
    CannotWrite
        If there is no right, or the name is none.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise IsADirectoryError(None, "Is a directory")
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".part-")
        os.close(handle)
        Path(name).unlink()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise CannotWrite(f"cannot write {printable(str(path))}: {why}") from None


def _holds(path: Path, content: bytes) -> bool:
    """Whether a file is there already as it would be written: most decks of a study that runs again are."""
    try:
        return path.read_bytes() == content
    except OSError:
        return False


def _replace(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".part-", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def file_stem(text: str) -> str:
    """A variant's or lamp's name as part of a file name.

    Examples
    --------
    >>> file_stem("22 µF and 10 Ω"), file_stem("../x")
    ('22-uF-and-10-ohm', 'x')
    """
    spoken = text.replace("µ", "u").replace("μ", "u").replace("Ω", "ohm").replace("Ω", "ohm")
    plain = unicodedata.normalize("NFKD", spoken).encode("ascii", "ignore").decode()
    return (
        re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:80] or hashlib.sha256(text.encode()).hexdigest()[:8]
    )


def short_stem(stem: str) -> str:
    """Return a stem that every file system takes: of a long one the beginning, and a hash of it all."""
    return stem if len(stem) <= 120 else f"{stem[:100]}-{_hash(stem)[:8]}"


def stems(names: Iterable[str]) -> dict[str, str]:
    """File name stems of names, no two of them alike on any file system.

    Names that differ by what a file name cannot hold, or by case, have a piece of their hash in it.

    Examples
    --------
    >>> list(stems(["22 µF", "+10 %", "-10 %"]).values())
    ['22-uF', '10-cd42323e', '10-217b932a']
    """
    plain = {name: file_stem(name) for name in names}
    alike = Counter(stem.casefold() for stem in plain.values())
    return {
        name: stem if alike[stem.casefold()] == 1 else f"{stem}-{_hash(name)[:8]}"
        for name, stem in plain.items()
    }


def _decks(study: Study, results: Results) -> Iterator[tuple[str, FinishedCase, str]]:
    """File name, case and label of each deck: variant, bench, conditions, label, as file names hold them.

    The name of a variant's deck does not depend on which other variants were run.
    """
    variants = stems([variant.name for variant in study.variants])
    conditions = stems(results.conditions)
    for one in results:
        case = one.case
        labels = stems(one.result.decks)
        for label in one.result.decks:
            parts = [variants[case.variant], case.bench, conditions[case.conditions.label]]
            own = [] if label == case.bench else [labels[label]]
            yield f"decks/{'_'.join([*parts, *own])}.cir", one, label


def manifest(study: Study, results: Results) -> dict[str, object]:
    """What was run, and with what: variants, benches, conditions, counts, versions, hashes of the inputs."""
    return {
        "study": study.name,
        "lamp": study.lamp.name,
        "benches": list(results.benches),
        "conditions": list(results.conditions),
        "variants": list(results.variants),
        "left_out": left_out(study, results),
        "cases": len(results),
        "failed": sum(1 for one in results if one.result.failure),
        "failures": {
            f"{one.case.variant} | {one.case.bench} | {one.case.conditions.label}": [
                failure.why,
                failure.engine_words,
            ]
            for one in results
            if (failure := one.result.failure)
        },
        "not_applicable": sum(1 for one in results if one.result.not_applicable),
        "how_run": dict(
            sorted(Counter(how for one in results for how in one.result.how_run.values()).items())
        ),
        "fell_back": [
            f"{case.variant} | {case.bench} | {case.conditions.label} | {label}: {how}"
            for case, found in ((one.case, one.result) for one in results)
            for label, how in found.how_run.items()
            if GAVE_UP in how
        ],
        "decks": {
            name: [one.case.variant, one.case.bench, one.case.conditions.label, label]
            for name, one, label in _decks(study, results)
        },
        **provenance(study),
    }


def provenance(study: Study) -> dict[str, object]:
    """Hashes of the inputs and versions of what computed with them."""
    packages = ("coldiron", "PySpice", "numpy", "pandas", "scipy", "jinja2")
    return {
        "inputs": {"lamp": _hash(study.lamp.model_dump_json()), "templates": templates_version()},
        "versions": {name: importlib.metadata.version(name) for name in packages}
        | {"python": platform.python_version()},
    }


def left_out(study: Study, results: Results) -> dict[str, list[str]]:
    """Variants and benches of a study that a run of a part of it left out."""
    return {
        "variants": [each.name for each in study.variants if each.name not in results.variants],
        "benches": [bench for bench in study.benches if bench not in results.benches],
    }


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
