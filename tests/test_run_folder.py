"""A folder of results holds one run: what an earlier one left goes, what is not ours stays."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from coldiron.study.load import make_study
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.files import manifest, write_results
from coldiron.tables.run_folder import RunFolder

STUDY = make_study("pantry-bulb", {"one sink": {"sinks.count": 1}}, benches=["steady", "unplug"])


def run(folder: Path, *variants: str) -> None:
    done = [
        FinishedCase(case, CaseResult({"svm": 1.0}, {case.bench: "* deck"}))
        for case in study_cases(STUDY)
        if case.variant in variants
    ]
    results = Results(done)
    with RunFolder(folder, pytest.fail) as own:
        own.finish(manifest(STUDY, results), write_results(own.part, STUDY, results))
    assert not list(folder.glob(".part-*"))


def told(folder: Path) -> dict[str, Any]:
    found = json.loads((folder / "manifest.json").read_text("utf-8"))
    assert isinstance(found, dict)
    return found


def test_a_part_of_a_study_does_not_stand_among_the_files_of_the_whole(tmp_path: Path) -> None:
    run(tmp_path, "as found", "one sink")
    assert len(list((tmp_path / "decks").iterdir())) == 4
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "decks" / "mine.cir").write_text("* mine")
    run(tmp_path, "as found")
    assert sorted(path.name for path in (tmp_path / "decks").iterdir()) == [
        "as-found_steady_120-V-60-Hz.cir",
        "as-found_unplug_120-V-60-Hz.cir",
        "mine.cir",
    ]
    assert (tmp_path / "notes.txt").read_text() == "mine"
    found = told(tmp_path)
    assert found["complete"] is True
    assert found["variants"] == ["as found"]
    assert found["left_out"] == {"variants": ["one sink"], "benches": []}
    assert all((tmp_path / name).is_file() for name in found["files"])


@pytest.mark.parametrize(
    "named",
    [
        "../outside.csv",
        "/etc/outside.csv",
        "decks/../../outside.csv",
        "notes.toml",
        "link/outside.csv",
        7,
        None,
    ],
)
def test_a_manifest_is_data_and_takes_nothing_away_elsewhere(tmp_path: Path, named: object) -> None:
    folder = tmp_path / "folder"
    (folder / "decks").mkdir(parents=True)
    outside = tmp_path / "outside.csv"
    outside.write_text("kept")
    (folder / "link").symlink_to(tmp_path)
    (folder / "notes.toml").write_text("kept")
    (folder / "manifest.json").write_text(json.dumps({"files": [named]}))
    run(folder, "as found")
    assert outside.read_text() == "kept"
    assert (folder / "notes.toml").read_text() == "kept"


@pytest.mark.parametrize("text", ["", "[]", "{", '{"files": {}}', "\x00"])
def test_a_damaged_manifest_is_written_anew(tmp_path: Path, text: str) -> None:
    (tmp_path / "manifest.json").write_text(text)
    run(tmp_path, "as found")
    assert told(tmp_path)["complete"] is True
