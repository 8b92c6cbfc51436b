"""The files that followed faults leave: one table, the decks of each, a manifest."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from coldiron.study.model import Study
from coldiron.sweep.faults import Followed
from coldiron.tables.faults import fault_table
from coldiron.tables.files import provenance, stems, write_whole


def write_faults(folder: Path, found: Sequence[Followed]) -> list[Path]:
    """Write the table and the decks of followed faults under a folder; return the files."""
    files = [folder / "faults.csv"]
    write_whole(files[0], fault_table(found))
    known = stems(f"{one.variant}_{one.supply}_{one.fault.name}" for one in found)
    for one in found:
        stem = known[f"{one.variant}_{one.supply}_{one.fault.name}"]
        for label, text in one.done.decks.items():
            files.append(folder / "decks" / f"fault_{stem}_{label}.cir")
            write_whole(files[-1], text)
    return files


def fault_manifest(study: Study, found: Sequence[Followed]) -> dict[str, object]:
    """What was followed, and with what."""
    return {
        "study": study.name,
        "lamp": study.lamp.name,
        "variants": list(dict.fromkeys(one.variant for one in found)),
        "conditions": list(dict.fromkeys(one.supply for one in found)),
        "faults": list(dict.fromkeys(one.fault.name for one in found)),
        "failed": sum(1 for one in found if one.done.result.failure),
        **provenance(study),
    }
