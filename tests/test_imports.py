"""Which module may import which, and how little `coldiron --help` loads."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "runner" / "coldiron"

# Data flows down this list; a stage may import itself and what stands above it.
FLOW = (
    "errors",
    "resources",
    "quantities",
    "wording",
    "readings",
    "preferred",
    "parts",
    "sources",
    "lamp",
    "faults",
    "study",
    "deck",
    "engine",
    "heat",
    "benches",
    "sweep",
    "limits",
    "answer",
    "fit",
    "spread",
    "advice",
    "tables",
    "pictures",
    "strips",
    "report",
    "diagnosis",
    "regress",
    "lessons",
    "api",
    "live",
    "cli",
)
# Readings are sums over arrays: they know no deck, no engine and no study.
# For now the values of today's parts still stand in `lamp`.
ALSO = {"parts": {"lamp"}}
PURE = {"readings": {"errors", "quantities", "readings"}}
SLOW_TO_LOAD = {"matplotlib", "pandas", "PySpice", "scipy", "pydantic"}


def stage_of(module: str) -> str:
    """Return the stage of a dotted module, "" for the package itself: coldiron.lamp.parts is of lamp."""
    return ".".join(module.split(".")[1:2])


def imports_of(path: Path) -> Iterator[tuple[int, str]]:
    """Yield line and dotted name of each import in a file, those inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, name.name) for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: a relative import hides its stage"
            assert node.module is not None
            # `from coldiron import x` names the stage only after `import`.
            yield from ((node.lineno, f"{node.module}.{name.name}") for name in node.names)


def modules() -> Iterator[tuple[Path, str]]:
    """Yield each file of a stage, and the stage."""
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE).with_suffix("").parts[0]
        if not place.startswith("__"):
            yield path, place


def test_every_stage_has_its_place_in_the_flow() -> None:
    assert {stage for _, stage in modules()} - set(FLOW) == set()


@pytest.mark.parametrize(
    ("path", "stage"), [pytest.param(p, s, id=str(p.relative_to(PACKAGE))) for p, s in modules()]
)
def test_imports_only_from_above(path: Path, stage: str) -> None:
    allowed = PURE.get(stage, set(FLOW[: FLOW.index(stage) + 1])) | ALSO.get(stage, set())
    wrong = [
        f"{path}:{line}: {stage} imports {name}"
        for line, name in imports_of(path)
        if name.split(".")[0] == "coldiron" and stage_of(name) not in allowed
    ]
    assert wrong == []


def test_a_study_from_the_store_loads_no_solver() -> None:
    """What only a worker computes with costs a command half a second to load."""
    ask = "import sys, coldiron.cli.study, coldiron.cli.running; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    slow = {"scipy", "PySpice", "matplotlib", "lmfit", "ht", "pandas", "jinja2"}
    assert slow & set(done.stdout.split()) == set()


def test_help_loads_nothing_slow() -> None:
    ask = """
import sys
from coldiron.cli.main import main
sys.argv = ["coldiron", "--help"]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(*sorted({name.split(".")[0] for name in sys.modules}), file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert "study" in done.stdout
    assert SLOW_TO_LOAD & set(done.stderr.split()) == set()
