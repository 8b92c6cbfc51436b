"""The layout and the CI recipe of the how-to, run line by line as its reader would run them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from test_packaging import wheel_of

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "runner" / "docs" / "how-to" / "ci.md"

pytestmark = [pytest.mark.packaging, pytest.mark.ngspice]

STUDY = """
lamp = "../lamps/hallway.toml"
benches = ["steady"]

[[variant]]
name = "three sinks"
change = { "sinks.count" = 3 }
"""


def blocks(language: str) -> list[str]:
    """Blocks of one language of the page, as they are printed."""
    return re.findall(rf"^```{language}\n(.*?)^```$", PAGE.read_text("utf-8"), re.DOTALL | re.MULTILINE)


def workflow() -> dict[str, Any]:
    """The workflow as a YAML reader sees it."""
    [text] = blocks("yaml")
    found: dict[str, Any] = yaml.safe_load(text)
    return found


def steps() -> list[dict[str, Any]]:
    """Its steps."""
    found: list[dict[str, Any]] = workflow()["jobs"]["regress"]["steps"]
    return found


@dataclass(frozen=True)
class Team:
    """A repository laid out as the page has it, and the machine that its CI runs on."""

    folder: Path
    environment: dict[str, str]

    def run(self, line: str) -> subprocess.CompletedProcess[str]:
        """Run lines as a step does: bash that stops at the first failure."""
        return subprocess.run(
            ["bash", "-e", "-o", "pipefail", "-c", line],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )

    def build(self) -> tuple[int, str]:
        """Run every step that is one of lines; status of the first that fails, and the page of the build."""
        page = Path(self.environment["GITHUB_STEP_SUMMARY"])
        page.write_text("", encoding="utf-8")
        status = 0
        for step in (step for step in steps() if "run" in step):
            if status == 0 or step.get("if") == "always()":
                status = self.run(step["run"]).returncode or status
        return status, page.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    base = tmp_path_factory.mktemp("team")
    folder, tools, python = base / "repository", base / "tools", base / "python"
    for place in (folder / "lamps", folder / "studies", tools):
        place.mkdir(parents=True)
    lamp = (ROOT / "README.md").read_text("utf-8").split("```toml\n", 1)[1].split("```", 1)[0]
    (folder / "lamps" / "hallway.toml").write_text(lamp, encoding="utf-8")
    (folder / "studies" / "hallway-mends.toml").write_text(STUDY, encoding="utf-8")
    ignored, attributes = blocks("text")
    (folder / ".gitignore").write_text(ignored, encoding="utf-8")
    (folder / ".gitattributes").write_text(attributes, encoding="utf-8")
    subprocess.run(["git", "init", "-q"], cwd=folder, check=True)
    # The machine: an environment of its own that finds what coldiron needs in this one, asks no index, and a
    # sudo that notes what it is asked for.
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(python)], check=True)
    [packages] = python.glob("lib/python*/site-packages")
    (packages / "needed.pth").write_text("\n".join(path for path in sys.path if "site-packages" in path))
    for name, text in {
        "sudo": f'echo "$*" >> {base / "sudo.log"}',
        "pip": f'exec {sys.executable} -m pip --python {python / "bin" / "python"} "$@"',
    }.items():
        (tools / name).write_text(f"#!/bin/sh\n{text}\n", encoding="utf-8")
        (tools / name).chmod(0o755)
    environment = {
        **os.environ,
        "PATH": f"{tools}:{python / 'bin'}:{os.environ['PATH']}",
        "COLDIRON": str(wheel_of(base / "wheel")),
        "GITHUB_STEP_SUMMARY": str(base / "summary.md"),
        "PIP_NO_INDEX": "1",
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    }
    environment.pop("PYTHONPATH", None)
    made = Team(folder, environment)
    for step in [step for step in steps() if "run" in step][:2]:
        done = made.run(step["run"])
        assert done.returncode == 0, done.stderr
    said = made.run("python -c 'import coldiron; print(coldiron.__file__)'").stdout
    assert said.startswith(str(packages)), "the wheel is what runs"
    for line in (line.removeprefix("$ ") for text in blocks("console") for line in text.splitlines()):
        if line.startswith("coldiron "):
            done = made.run(line)
            assert done.returncode == 0, done.stderr
    return made


@pytest.fixture
def copy(team: Team, tmp_path: Path) -> Team:
    folder = tmp_path / "repository"
    shutil.copytree(team.folder, folder)
    return Team(folder, team.environment)


def test_a_build_of_what_was_accepted_is_green(team: Team) -> None:
    status, page = team.build()
    assert status == 0
    assert "nothing moved" in page
    assert "libngspice0" in (team.folder.parent / "sudo.log").read_text(encoding="utf-8")


def test_a_build_says_what_moved_and_which_file_is_wrong(copy: Team) -> None:
    lamp = copy.folder / "lamps" / "hallway.toml"
    lamp.write_text(lamp.read_text("utf-8").replace('"15R"', '"12R"'), encoding="utf-8")
    wrong = copy.folder / "studies" / "wrong.toml"
    wrong.write_text('lamp = "../../outside.toml"\n', encoding="utf-8")
    status, page = copy.build()
    assert status == 2
    assert "sinks.sense\\_resistor 15 Ω → 12 Ω (behind all" in page
    assert "wrong: not compared" in page
    assert "below the working folder or repository" in page


def test_what_the_build_keeps_is_there_and_what_is_ignored_is_not_committed(team: Team) -> None:
    kept = {step["with"]["path"] for step in steps() if "path" in step.get("with", {})}
    assert all(list(team.folder.glob(path)) for path in kept), kept
    listed = subprocess.run(
        ["git", "status", "--porcelain", "-uall"], cwd=team.folder, capture_output=True, text=True, check=True
    ).stdout
    assert sorted(line.removeprefix("?? ") for line in listed.splitlines()) == [
        ".gitattributes",
        ".gitignore",
        "lamps/hallway.toml",
        "results/reference/hallway-mends.all.toml",
        "results/reference/hallway-mends.toml",
        "studies/hallway-mends.toml",
    ]
    asked = ["git", "check-attr", "diff", "results/reference/hallway-mends.all.toml"]
    said = subprocess.run(asked, cwd=team.folder, capture_output=True, text=True, check=True).stdout
    assert said.endswith("diff: unset\n")


def test_the_workflow_names_no_action_without_its_version() -> None:
    used = [step["uses"] for step in steps() if "uses" in step]
    assert used
    assert all(re.fullmatch(r"actions/[a-z-]+@v[0-9]+", name) for name in used)
