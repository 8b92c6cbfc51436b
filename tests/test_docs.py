"""The documentation: its examples run, its links lead somewhere, and its lists have everything there is."""

from __future__ import annotations

import doctest
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import coldiron
from coldiron.cli.arguments import commands_of, parser
from coldiron.lamp.load import load_lamp
from coldiron.lamp.topologies import TOPOLOGIES
from coldiron.limits.rules import shipped_limits
from coldiron.readings.catalogue import CATALOGUE
from coldiron.study.load import load_study

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "runner" / "docs"
PAGES = sorted(path for path in DOCS.rglob("*.md") if "generated" not in path.parts)
RUN_ELSEWHERE = {"ci.md": "tests/test_team_repository.py"}

pytestmark = pytest.mark.ngspice


def blocks(page: Path, language: str) -> list[str]:
    """Blocks of one language of a page, as they are printed."""
    text = page.read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)


def named(block: str) -> str:
    """File that a block is, where its first line says so."""
    found = re.match(r"# ([\w-]+\.toml)\n", block)
    return found[1] if found else ""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the lamp of the tutorial."""
    [lamp] = [block for block in blocks(DOCS / "tutorial.md", "toml") if named(block) == "hallway.toml"]
    (tmp_path / "hallway.toml").write_text(lamp, encoding="utf-8")
    return tmp_path


def commands(page: Path) -> Iterator[tuple[str, str]]:
    """Each command of a page, and what it is shown to say; dots stand for anything."""
    for block in blocks(page, "console"):
        for piece in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, said = piece.partition("\n")
            yield command, said


@pytest.mark.parametrize(
    "page",
    [pytest.param(p, id=p.name) for p in PAGES if blocks(p, "console") and p.name not in RUN_ELSEWHERE],
)
def test_the_commands_of_a_page_say_what_it_shows(page: Path, folder: Path) -> None:
    for block in blocks(page, "toml"):
        if named(block):
            (folder / named(block)).write_text(block, encoding="utf-8")
    tools = f"{Path(sys.executable).parent}:{os.environ['PATH']}"
    for command, shown in commands(page):
        done = subprocess.run(
            ["bash", "-c", command],
            cwd=folder,
            env={**os.environ, "PATH": tools, "COLUMNS": "100"},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, f"{command}\n{done.stderr}"
        wanted = ".*".join(re.escape(" ".join(piece.split())) for piece in shown.split("…"))
        said = " ".join(done.stdout.split())
        assert re.fullmatch(wanted, said), f"{command}\n{done.stdout}"


@pytest.mark.parametrize("page", [pytest.param(p, id=p.name) for p in PAGES if blocks(p, "toml")])
def test_what_a_page_writes_into_a_file_can_be_read(page: Path, folder: Path) -> None:
    for number, block in enumerate(blocks(page, "toml")):
        tables = tomllib.loads(block)
        if "mains" in tables or "reading" in tables:
            whole = block if "mains" in tables else (folder / "hallway.toml").read_text("utf-8") + block
            (folder / f"lamp-{number}.toml").write_text(whole, encoding="utf-8")
            load_lamp(folder / f"lamp-{number}.toml")
        else:
            whole = block if "lamp" in tables else f'lamp = "hallway.toml"\n{block}'
            (folder / f"study-{number}.toml").write_text(whole, encoding="utf-8")
            load_study(folder / f"study-{number}.toml")


@pytest.mark.parametrize("page", [pytest.param(p, id=p.name) for p in PAGES if blocks(p, "pycon")])
def test_the_lines_of_python_of_a_page_give_what_it_shows(page: Path) -> None:
    text = "\n".join(blocks(page, "pycon"))
    test = doctest.DocTestParser().get_doctest(text, {}, page.name, str(page), 0)
    assert doctest.DocTestRunner().run(test).failed == 0


@cache
def generated() -> dict[str, str]:
    """Pages that are made, by name; their module is imported from its file."""
    sys.path.insert(0, str(DOCS))
    try:
        import generated_pages  # type: ignore[import-not-found]
    finally:
        sys.path.remove(str(DOCS))
    found: dict[str, str] = dict(generated_pages.pages())
    return found


def everything() -> dict[str, list[str]]:
    """What each list has to have."""
    return {
        "commands": [f"## coldiron {name}\n" for name in commands_of(parser())],
        "readings": [f"| `{re.sub(r'harmonic_[0-9]+_', 'harmonic_N_', reading)}` |" for reading in CATALOGUE],
        "limits": [f"| `{limit.id}` |" for limit in shipped_limits()],
        "api": [f"## {name}\n" for name in coldiron.__all__],
        "keys": [f"## Lamp file: {topology}\n" for topology in TOPOLOGIES],
    }


@pytest.mark.parametrize("page", everything())
def test_a_list_has_everything_there_is(page: str) -> None:
    text = generated()[page]
    assert [entry for entry in everything()[page] if entry not in text] == []


def test_every_page_is_reached_from_the_first() -> None:
    text = (DOCS / "index.md").read_text(encoding="utf-8")
    assert "how-to/*" in text
    for name in ("tutorial", "cannot", "validation", "problems", "models/index"):
        assert re.search(rf"^{name}$", text, re.MULTILINE), name
    for name in everything():
        assert f"generated/{name}\n" in text


def links(page: Path) -> list[str]:
    """Where the links of a page lead."""
    return re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8"))


@pytest.mark.parametrize("page", [pytest.param(p, id=str(p.relative_to(DOCS))) for p in PAGES])
def test_every_link_of_a_page_leads_to_a_page(page: Path) -> None:
    made = {DOCS / "generated" / f"{name}.md" for name in generated()}
    for link in links(page):
        target = (page.parent / link.partition("#")[0]).resolve()
        assert target.exists() or target in made, f"{page.name}: {link}"


def test_every_section_of_the_readme_about_one_command_is_a_page() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    titles = re.findall(r"^### (.+)$", readme, re.MULTILINE)
    own = [text for name, text in generated().items() if name.startswith("how-to-")]
    assert [text.partition("\n")[0].removeprefix("# ") for text in own] == titles
    # A page is that section and nothing of the next.
    assert not any(re.search(r"^##? ", text.partition("\n")[2], re.MULTILINE) for text in own)


def test_the_readme_leads_to_the_documentation() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for link in re.findall(r"\]\((runner/docs/[^)]+)\)", readme):
        assert (ROOT / link).exists(), link
    assert "make docs" in readme
    assert "runner/docs/tutorial.md" in readme


@pytest.mark.slow
def test_the_pages_build_without_a_warning_and_without_the_network(tmp_path: Path) -> None:
    # A proxy that is not there: whatever asked the network would fail.
    nowhere: Any = dict.fromkeys(
        ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY"), "http://127.0.0.1:9"
    )
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html", str(DOCS), str(tmp_path)],
        env={**os.environ, **nowhere},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    built = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.html")}
    sources = {path.relative_to(DOCS).with_suffix(".html").as_posix() for path in PAGES}
    assert sources <= built
    html = "".join((tmp_path / name).read_text(encoding="utf-8") for name in built)
    # Nothing of a page comes from elsewhere when it is read.
    assert not re.search(r"<(?:script|link|img)[^>]+(?:src|href)=\"https?://", html)
