"""The wheel: whole, with nothing of results/ or tests/ in it, and good for use away from any checkout."""

from __future__ import annotations

import email
import email.message
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

import pytest
import yaml
from trove_classifiers import classifiers

ROOT = Path(__file__).resolve().parents[1]
DATA_FOLDERS = ("netlists", "variants")
SHIPPED = ("runner", *DATA_FOLDERS, "pyproject.toml", "README.md", "LICENSE", ".gitignore")

pytestmark = pytest.mark.packaging


def wheel_of(folder: Path) -> Path:
    """Build the wheel of this tree as pip would, but in this environment: no network is asked."""
    copy = folder / "copy"
    copy.mkdir(parents=True)
    for name in SHIPPED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, copy / name)
    for left_out in ("results/reference", "tests"):
        (copy / left_out).mkdir(parents=True)
        (copy / left_out / "stray.toml").touch()
    build = "import sys; from hatchling.build import build_wheel; print(build_wheel(sys.argv[1]))"
    done = subprocess.run(
        [sys.executable, "-c", build, str(folder)], cwd=copy, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return folder / str(done.stdout.split()[-1])


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Iterator[zipfile.ZipFile]:
    with zipfile.ZipFile(wheel_of(tmp_path_factory.mktemp("packaging"))) as built:
        yield built


@pytest.fixture(scope="module")
def installed(wheel: zipfile.ZipFile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Unpack the wheel, as an installer does into site-packages."""
    folder = tmp_path_factory.mktemp("site-packages")
    wheel.extractall(folder)
    return folder


def metadata(wheel: zipfile.ZipFile, name: str) -> str:
    (path,) = (member for member in wheel.namelist() if member.endswith(f".dist-info/{name}"))
    return wheel.read(path).decode("utf-8")


def test_data_files_are_those_that_git_tracks(wheel: zipfile.ZipFile) -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout: nothing to hold the wheel against")
    listed = subprocess.run(
        ["git", "ls-files", "-z", *DATA_FOLDERS], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    tracked = {f"coldiron/{name}" for name in listed.split("\0") if name}
    folders = tuple(f"coldiron/{name}/" for name in DATA_FOLDERS)
    shipped = {name for name in wheel.namelist() if name.startswith(folders)}
    assert tracked - shipped == set(), "tracked, but not in the wheel"
    assert shipped - tracked == set(), "in the wheel, but not tracked: git add them, or remove them"
    for folder in folders:
        assert any(name.startswith(folder) for name in shipped), f"nothing under {folder}"


def test_nothing_but_the_package_and_its_metadata(wheel: zipfile.ZipFile) -> None:
    tops = {PurePosixPath(name).parts[0] for name in wheel.namelist()}
    assert tops == {"coldiron", f"coldiron-{package_version(wheel)}.dist-info"}
    parts = {part for name in wheel.namelist() for part in PurePosixPath(name).parts}
    assert parts & {"stray.toml", "runner", "__pycache__"} == set()


def package_version(wheel: zipfile.ZipFile) -> str:
    return str(email.message_from_string(metadata(wheel, "METADATA"))["Version"])


def test_every_module_is_there_and_types_are_marked(wheel: zipfile.ZipFile) -> None:
    modules = {
        f"coldiron/{path.relative_to(ROOT / 'runner' / 'coldiron').as_posix()}"
        for path in (ROOT / "runner" / "coldiron").rglob("*.py")
    }
    assert modules <= set(wheel.namelist())
    # PEP 561: a package whose annotations type checkers are to use carries this file.
    assert "coldiron/py.typed" in wheel.namelist()


def test_licence(wheel: zipfile.ZipFile) -> None:
    # PEP 639: an SPDX expression, and the licence's text under the metadata's licenses/.
    assert email.message_from_string(metadata(wheel, "METADATA"))["License-Expression"] == "GPL-3.0-or-later"
    text = metadata(wheel, "licenses/LICENSE")
    assert re.match(r"\s*GNU GENERAL PUBLIC LICENSE\s+Version 3, 29 June 2007\n", text)
    # Its last section, so that the text is whole: "How to Apply These Terms to Your New Programs".
    assert "How to Apply These Terms to Your New Programs" in text


def test_installed_package_finds_its_own_files(installed: Path, tmp_path: Path) -> None:
    ask = f"from coldiron.resources import resource_dir; print(*map(resource_dir, {DATA_FOLDERS}))"
    done = subprocess.run(
        [sys.executable, "-c", ask],
        cwd=tmp_path,
        env={"PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == [str(installed / "coldiron" / name) for name in DATA_FOLDERS]


def test_what_an_index_shows_of_the_package(wheel: zipfile.ZipFile) -> None:
    said = email.message_from_string(metadata(wheel, "METADATA"))
    assert said["Summary"]
    assert "The Coldiron contributors" in str(said["Author"])
    # Each is one of the list that package indexes take.
    assert set(said.get_all("Classifier", [])) <= set(classifiers)
    versions = {f"Programming Language :: Python :: 3.{minor}" for minor in (11, 12, 13, 14)}
    assert versions <= set(said.get_all("Classifier", []))
    assert {"cluster", "parquet", "docs", "dev"} == set(said.get_all("Provides-Extra", []))
    needed = [line for line in said.get_all("Requires-Dist", []) if "extra ==" not in line]
    assert not any(name in line for line in needed for name in ("pyarrow", "dask", "pytest", "sphinx"))


def test_the_citation_is_of_this_program() -> None:
    # Citation File Format 1.2.0: what it requires, and its type.
    cited = yaml.safe_load((ROOT / "runner" / "docs" / "CITATION.cff").read_text(encoding="utf-8"))
    assert {"cff-version", "message", "title", "authors"} <= cited.keys()
    assert (cited["cff-version"], cited["type"]) == ("1.2.0", "software")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert (cited["version"], cited["license"]) == (project["version"], project["license"])


def test_the_changelog_has_this_version_on_top() -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    headings = re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert headings[0] == "Unreleased" or headings[0].startswith(version)


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """What a release touches, copied."""
    for name in (".ci/release.sh", "CHANGELOG.md", "pyproject.toml", "runner/docs/CITATION.cff"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, tmp_path / name)
    changes = tmp_path / "CHANGELOG.md"
    changes.write_text("# Changelog\n\n## Unreleased\n\n### Added\n\n- a lamp\n", encoding="utf-8")
    return tmp_path


def released(tree: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", ".ci/release.sh", *words], cwd=tree, capture_output=True, text=True, check=False
    )


def test_a_release_has_one_version_everywhere(tree: Path) -> None:
    done = released(tree, "9.8.7", "2031-02-03")
    assert done.returncode == 0, done.stderr
    assert "git tag -a v9.8.7" in done.stdout
    text = (tree / "CHANGELOG.md").read_text(encoding="utf-8")
    assert text.startswith("# Changelog\n\n## Unreleased\n\n## 9.8.7 - 2031-02-03\n\n### Added\n")
    assert tomllib.loads((tree / "pyproject.toml").read_text("utf-8"))["project"]["version"] == "9.8.7"
    cited = yaml.safe_load((tree / "runner/docs/CITATION.cff").read_text(encoding="utf-8"))
    assert (cited["version"], str(cited["date-released"])) == ("9.8.7", "2031-02-03")


@pytest.mark.parametrize("words", [(), ("next",), ("9.8.7", "today"), ("9.8.7", "2031-02-03")])
def test_a_release_that_cannot_be_is_refused_in_one_line(tree: Path, words: tuple[str, ...]) -> None:
    if len(words) == 2 and words[1] != "today":
        (tree / "CHANGELOG.md").write_text("# Changelog\n\n## Unreleased\n\n## 0.1.0\n", encoding="utf-8")
    before = {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()}
    done = released(tree, *words)
    assert done.returncode != 0
    assert len(done.stderr.splitlines()) == 1
    assert {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()} == before
