"""The lamp, its further parts and the study that README.md prints are for copying: all load as printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from coldiron.cli.main import main

README = Path(__file__).resolve().parents[1] / "README.md"


@pytest.fixture
def printed(tmp_path: Path) -> Path:
    """A folder with the TOML examples as printed, under the names README.md gives them."""
    blocks = re.findall(r"^```toml\n(.*?)^```$", README.read_text("utf-8"), re.DOTALL | re.MULTILINE)
    lamp, parts, study = (
        next(block for block in blocks if block.startswith(begin)) for begin in ("name =", "[part.", "lamp =")
    )
    (tmp_path / "hallway.toml").write_text(lamp, "utf-8")
    (tmp_path / "further.toml").write_text(lamp + parts, "utf-8")
    (tmp_path / "study.toml").write_text(study, "utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("file", "said"),
    [("hallway.toml", "Hallway light"), ("further.toml", "NTC1"), ("study.toml", "with a varistor")],
)
def test_an_example_of_the_readme_loads_as_printed(
    printed: Path, capsys: pytest.CaptureFixture[str], file: str, said: str
) -> None:
    status = main(["check", str(printed / file)])
    told = capsys.readouterr()
    assert (status, told.err) == (0, "")
    assert said in told.out
