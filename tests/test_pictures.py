"""Pictures: what they draw against the readings, the same bytes again, and lines that need no colour."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise, product
from pathlib import Path
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from coldiron.answer.front import non_dominated
from coldiron.pictures.harmonics import harmonics
from coldiron.pictures.ink import PAPER, pen
from coldiron.pictures.laid_over import laid_over
from coldiron.pictures.lay import lays, spanning
from coldiron.pictures.steady import CYCLES, repeated_cycle, sinks_w
from coldiron.pictures.study import draw_study
from coldiron.pictures.surge import with_and_without_varistor
from coldiron.pictures.watts import PARTS
from coldiron.readings.sampling import mean
from contrast import contrast_ratio
from reporting import finished, renamed, with_failure

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.ngspice
def test_a_study_leaves_its_pictures_and_the_same_bytes_again(tmp_path: Path) -> None:
    _, done, _ = finished()
    before = dict(mpl.rcParams)
    draw_study(tmp_path / "first", done)
    draw_study(tmp_path / "second", done)
    names = sorted(path.name for path in (tmp_path / "first").iterdir())
    assert names == [
        "light.svg", "schematic-1.svg", "schematic-2.svg", "schematic-3.svg", "schematic.svg",
        "steady.svg", "surge.svg", "switch-on.svg", "trade-off.svg", "unplug.svg", "watts.svg",
    ]  # fmt: skip
    for name in names:
        text = (tmp_path / "first" / name).read_text(encoding="utf-8")
        assert text == (tmp_path / "second" / name).read_text(encoding="utf-8")
        root = ElementTree.fromstring(text)
        assert root.attrib["role"] == "img"
        assert len(root.attrib["aria-label"]) > 80
    assert dict(mpl.rcParams) == before


def test_drawing_leaves_pyplot_alone() -> None:
    ask = "import sys, coldiron.pictures.study; print('matplotlib.pyplot' in sys.modules)"
    assert (
        subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True).stdout
        == "False\n"
    )


@pytest.mark.ngspice
def test_curves_are_those_that_the_readings_were_taken_from() -> None:
    # The readings come from another path through the code: a window of the run, and its power integrals.
    for lay in lays(finished()[1], "steady"):
        waves = lay.waves["steady"]
        vectors = {"bus": waves["v(bus)"], "led": waves["i(vstring)"], "sinks": sinks_w(lay)}
        time_s, drawn = repeated_cycle(lay, vectors)
        assert time_s[-1] == pytest.approx(CYCLES / lay.case.exposure.frequency_hz, rel=1e-9)
        assert mean(time_s, drawn["bus"]) == pytest.approx(lay.reading("bus_mean_V"), rel=1e-3)
        assert mean(time_s, drawn["led"]) == pytest.approx(lay.reading("led_current_A"), rel=1e-3)
        assert mean(time_s, drawn["sinks"]) == pytest.approx(lay.reading("sinks_W"), rel=2e-3)
        assert np.ptp(drawn["bus"]) == pytest.approx(lay.reading("bus_ripple_V"), rel=1e-3)


@pytest.mark.ngspice
def test_the_surge_is_drawn_with_and_without_varistor() -> None:
    assert [lay.name for lay in with_and_without_varistor(lays(finished()[1], "surge"))] == [
        "as found",
        "no varistor",
    ]


@pytest.mark.ngspice
def test_every_variant_is_in_every_laid_over_picture() -> None:
    _, done, _ = finished()
    pictures = laid_over(done, {"limit": {3: 27.0, 5: 10.0}}, "Limit of a test.")
    assert list(pictures) == ["switch-on", "steady", "surge", "unplug"]
    names = [picture.name for bench in pictures.values() for picture in bench]
    assert names == [
        "switch-on", "steady", "light", "harmonics", "watts", "trade-off", "surge", "unplug",
    ]  # fmt: skip
    for bench, drawn in pictures.items():
        for picture in drawn:
            if picture.name not in ("watts", "trade-off"):
                classes = {g.attrib.get("class") for g in ElementTree.fromstring(picture.svg).iter(f"{SVG}g")}
                assert {f"lay lay-{number}" for number in range(4)} <= classes, (bench, picture.name)


@pytest.mark.ngspice
def test_axes_carry_units() -> None:
    for bench in laid_over(finished()[1], {}, "").values():
        for picture in bench:
            texts = [t.text or "" for t in ElementTree.fromstring(picture.svg).iter(f"{SVG}text")]
            with_unit = [t for t in texts if "[" in t and t.endswith("]")]
            assert with_unit or picture.name == "harmonics", picture.name


@pytest.mark.ngspice
def test_the_limit_of_harmonics_is_drawn_where_there_is_one() -> None:
    found = lays(finished()[1], "steady")
    assert ">limit<" in harmonics(found, {"limit": {3: 27.0}}, "a standard").svg
    assert ">limit<" not in harmonics(found, {}, "No limit applies at 120 V.").svg


@pytest.mark.ngspice
def test_a_failed_case_is_left_out_and_the_rest_is_drawn(tmp_path: Path) -> None:
    _, done, _ = with_failure("the engine gave up", "timestep too small")
    assert [lay.name for lay in lays(done, "steady")] == ["as found", "no varistor", "two sinks"]
    draw_study(tmp_path, done)
    assert "22 µF" not in (tmp_path / "steady.svg").read_text(encoding="utf-8")
    assert "22 µF" in (tmp_path / "switch-on.svg").read_text(encoding="utf-8")


@pytest.mark.ngspice
def test_a_standing_picture_shows_the_variants_that_differ_most() -> None:
    found = lays(finished()[1], "steady")
    shown = spanning(found, "bus_ripple_V", 2)
    # Common practice, no source: a reservoir is what takes the ripple off the bus.
    assert [lay.name for lay in shown] == ["as found", "22 µF"]
    assert spanning(found, "bus_ripple_V", 9)[0].name == "as found"


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["$\\frac{", "5 $ or 6 $", "_hidden", "灯", "<&\"'>", "x" * 80])
def test_any_name_is_drawn_as_it_is_written(tmp_path: Path, name: str) -> None:
    _, done, _ = renamed("lamp", (name, "no varistor", "two sinks"))
    draw_study(tmp_path, done)
    for path in tmp_path.iterdir():
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        texts = [t.text or "" for t in root.iter(f"{SVG}text")]
        if path.stem.startswith("schematic"):
            # The heading of a schematic is its title.
            assert (
                any(name in (title.text or "") for title in root.iter(f"{SVG}title")) or path.stem[-1] != "1"
            )
        elif path.name != "surge.svg":
            assert any(name[:30] in text for text in texts), path.name


def test_parts_of_a_bar_differ_without_their_colour() -> None:
    for (_, _, colour, hatch), (_, _, next_colour, next_hatch) in pairwise(PARTS):
        assert hatch != next_hatch or contrast_ratio(colour, next_colour) >= 1.5


@given(arrays.arrays(float, st.tuples(st.integers(1, 30), st.just(2)), elements=st.integers(0, 9).map(float)))
def test_the_front_is_what_nothing_beats(points: np.ndarray) -> None:
    # Pareto's definition, tried pair by pair.
    front = {tuple(points[row]) for row in non_dominated(points)}
    for a, b in product(map(tuple, points), repeat=2):
        if b[0] <= a[0] and b[1] <= a[1] and b != a:
            assert a not in front
    for a in map(tuple, points):
        assert a in front or any(f[0] <= a[0] and f[1] <= a[1] for f in front)


def test_pens_differ_without_their_colour() -> None:
    pens = [pen(number) for number in range(50)]
    assert len({(each.dashes, each.marker) for each in pens}) == len(pens)


@pytest.mark.parametrize("number", range(8))
def test_pens_stand_out_from_the_paper(number: int) -> None:
    # WCAG 2.1, 1.4.11: graphics at least 3:1.
    assert contrast_ratio(pen(number).colour, PAPER) >= 3.0
