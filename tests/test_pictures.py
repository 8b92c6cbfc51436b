"""Pictures: what they draw against the readings, the same bytes again, and lines that need no colour."""

from __future__ import annotations

import re
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
from matplotlib.text import Text

from coldiron.answer.front import front, non_dominated
from coldiron.pictures.chosen import chosen
from coldiron.pictures.harmonics import LOWEST_PCT, ORDERS, harmonics, places
from coldiron.pictures.ink import ALONE, NARROW, PAPER, pdf_bytes, pen
from coldiron.pictures.laid_over import laid_over
from coldiron.pictures.lay import alone, lays
from coldiron.pictures.names import spread
from coldiron.pictures.steady import repeated_cycle, sinks_w, steady
from coldiron.pictures.study import draw_study, standing_pictures
from coldiron.pictures.surge import EARLY_US, LATE_US, stretched, surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.tradeoff import tradeoff
from coldiron.pictures.watts import FILLS, shares
from coldiron.readings.sampling import mean
from contrast import contrast_ratio
from reporting import answered, finished, renamed, with_failure

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.ngspice
def test_a_study_leaves_its_pictures_and_the_same_bytes_again(tmp_path: Path) -> None:
    before = dict(mpl.rcParams)
    draw_study(tmp_path / "first", *answered(*finished()))
    draw_study(tmp_path / "second", *answered(*finished()))
    names = sorted(path.name for path in (tmp_path / "first").iterdir())
    assert names == [
        "harmonics.svg", "light.svg", "schematic-1.svg", "schematic-2.svg", "schematic-3.svg",
        "schematic.svg", "steady.svg", "surge.svg", "switch-on.svg",
        "trade-off.svg", "unplug.svg", "watts.svg",
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
        cycle = repeated_cycle(
            lay,
            "steady",
            {
                "bus": lambda window: window.v("bus"),
                "led": lambda window: window.string_a,
                "sinks": sinks_w,
                "input": lambda window: window.input_a,
                "mains": lambda window: window.mains_v,
            },
        )
        time_s, drawn = cycle
        assert time_s[-1] == pytest.approx(1 / lay.case.conditions.frequency_hz, rel=1e-9)
        assert mean(time_s, drawn["bus"]) == pytest.approx(lay.reading("bus_mean_V"), rel=1e-3)
        assert mean(time_s, drawn["led"]) == pytest.approx(lay.reading("led_current_A"), rel=1e-3)
        assert mean(time_s, drawn["sinks"]) == pytest.approx(lay.reading("sinks_W"), rel=2e-3)
        assert np.ptp(drawn["bus"]) == pytest.approx(lay.reading("bus_ripple_V"), rel=1e-3)
        into_w = mean(time_s, drawn["input"] * drawn["mains"])
        assert into_w == pytest.approx(lay.reading("input_power_W"), rel=3e-3)


@pytest.mark.ngspice
def test_the_surge_shows_the_varistor_and_says_what_makes_a_top_flat() -> None:
    found = lays(finished()[1], "surge")
    picture = surge(found)
    axes = {each.get_ylabel(): each for each in picture.figure.axes} if picture.figure else {}
    peaks_a = {
        str(line.get_gid()).split("-")[1]: float(np.max(line.get_ydata()))
        for line in axes["varistor [A]"].lines
        if line.get_gid()
    }
    without = str(next(lay.number for lay in found if lay.name == "no varistor"))
    assert peaks_a.pop(without) == 0.0
    assert min(peaks_a.values()) > 1.0
    assert "the varistor clamps (№ 0" in picture.caption
    avalanche = [lay.number for lay in found if lay.readings["surge_limited_by"] == "avalanche"]
    assert ("break down and avalanche" in picture.caption) == bool(avalanche)


def test_the_first_microseconds_of_a_surge_take_half_of_the_width() -> None:
    assert stretched(np.array([0.0, EARLY_US, LATE_US])).tolist() == [0.0, 0.5, 1.0]
    assert (np.diff(stretched(np.linspace(0.0, LATE_US, 500))) > 0).all()


@pytest.mark.ngspice
def test_the_same_variants_are_in_every_standing_picture() -> None:
    study, done, said = answered(*finished())
    numbers = {str(done.numbers[name]) for name in chosen(said)}
    assert "0" in numbers
    for picture in standing_pictures(study, done, said):
        if picture.name.startswith(("schematic", "trade-off", "watts")):
            continue
        root = ElementTree.fromstring(picture.svg)
        classes = {g.attrib.get("class", "") for g in root.iter(f"{SVG}g")}
        assert {name.removeprefix("lay lay-") for name in classes if "lay-" in name} == numbers, picture.name


@pytest.mark.ngspice
def test_every_picture_that_stands_alone_says_what_it_shows() -> None:
    study, done, said = answered(*finished())
    for picture in standing_pictures(study, done, said):
        if picture.name.startswith("schematic"):
            continue
        texts = " ".join(t.text or "" for t in ElementTree.fromstring(picture.svg).iter(f"{SVG}text"))
        assert picture.title in texts
        assert study.lamp.name in texts
        if picture.name != "trade-off":
            assert "230 V 50 Hz" in texts
            assert any(word in texts for word in ("warm", "cold", "worst angle", "pulled")), picture.name


@pytest.mark.ngspice
def test_names_at_curves_neither_touch_nor_lie_on_a_curve() -> None:
    found = lays(finished()[1], "steady")
    for picture in (steady(found, "steady"), steady(found, "steady", form=NARROW)):
        figure = picture.figure
        assert figure is not None
        figure.draw_without_rendering()
        for axes in figure.axes:
            # Of the words alone: an annotation's own box holds its hairline too.
            boxes = [Text.get_window_extent(text) for text in axes.texts]
            assert all(box.x0 >= axes.bbox.x1 for box in boxes)
            for n, one in enumerate(boxes):
                # Their line boxes overlap by a little; their letters do not.
                assert not any(one.shrunk(1, 0.7).overlaps(other.shrunk(1, 0.7)) for other in boxes[n + 1 :])


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_names_pushed_apart_keep_their_order(given_places: list[float]) -> None:
    places_given = np.array(given_places)
    apart = spread(places_given, 0.05)
    order = np.argsort(places_given, kind="stable")
    assert (np.diff(apart[order]) >= 0.05 - 1e-9).all()
    assert apart.min() >= -1e-9
    assert apart.max() <= 1 + 1e-9


@pytest.mark.ngspice
def test_a_line_that_is_alone_is_solid() -> None:
    one = alone(lays(finished()[1], "switch-on")[1:2])
    picture = switch_on(one)
    assert picture.figure is not None
    lines = [line for axes in picture.figure.axes for line in axes.lines if line.get_gid()]
    assert {line.get_linestyle() for line in lines} == {"-"}
    assert {str(line.get_marker()) for line in lines} == {"None"}
    assert "22 µF" in picture.about


@pytest.mark.ngspice
def test_a_picture_becomes_a_pdf_of_the_same_bytes_again() -> None:
    picture = switch_on(lays(finished()[1], "switch-on"), form=ALONE)
    assert picture.figure is not None
    first = pdf_bytes(picture.figure)
    assert first.startswith(b"%PDF")
    assert pdf_bytes(picture.figure) == first


@pytest.mark.ngspice
def test_the_trade_off_has_a_name_at_its_points() -> None:
    study, done, said = answered(*finished())
    trade = front(said)
    assert trade is not None
    picture = tradeoff(trade, f"{study.lamp.name} · {study.name}", 1)
    texts = [t.text or "" for t in ElementTree.fromstring(picture.svg).iter(f"{SVG}text")]
    for number in done.numbers.values():
        assert any(re.search(rf"(^|, ){number}\b", text) for text in texts), number


@pytest.mark.ngspice
def test_every_variant_is_in_every_laid_over_picture() -> None:
    pictures = laid_over(*answered(*finished()))
    assert list(pictures) == ["switch-on", "steady", "surge", "unplug"]
    names = [both.broad.name for bench in pictures.values() for both in bench]
    assert names == ["switch-on", "steady", "light", "watts", "harmonics", "surge", "unplug"]
    for bench, drawn in pictures.items():
        for picture in (each for both in drawn for each in both):
            if picture.name != "watts":
                classes = {g.attrib.get("class") for g in ElementTree.fromstring(picture.svg).iter(f"{SVG}g")}
                assert {f"lay lay-{number}" for number in range(4)} <= classes, (bench, picture.name)


@pytest.mark.ngspice
def test_axes_carry_units() -> None:
    for bench in laid_over(*answered(*finished())).values():
        for picture in (each for both in bench for each in both):
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
    failed = with_failure("the engine gave up", "timestep too small")
    assert [lay.name for lay in lays(failed[1], "steady")] == ["as found", "no varistor", "two sinks"]
    draw_study(tmp_path, *answered(*failed))
    assert "22 µF" not in (tmp_path / "steady.svg").read_text(encoding="utf-8")
    assert "22 µF" in (tmp_path / "switch-on.svg").read_text(encoding="utf-8")


@pytest.mark.ngspice
def test_dots_of_harmonics_are_the_readings_and_hide_none() -> None:
    found = lays(finished()[1], "steady")
    picture = harmonics(found, {}, "")
    assert picture.figure is not None
    lines = {str(line.get_gid()): line for line in picture.figure.axes[0].lines}
    seen: set[float] = set()
    for lay in found:
        x, y = (np.asarray(each) for each in lines[f"lay-{lay.number}-dots"].get_data())
        told = [max(lay.reading(f"harmonic_{order}_pct"), LOWEST_PCT) for order in ORDERS]
        assert y == pytest.approx(told)
        assert (np.abs(x - np.array(ORDERS)) < 1.0).all()
        assert not seen & set(x)
        seen |= set(x)


@given(st.integers(1, 24))
def test_dots_of_one_order_stay_beside_it(count: int) -> None:
    across = [places(7, place, count) for place in range(count)]
    assert 6.0 < min(across) <= max(across) < 8.0
    assert len(set(across)) == count


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["$\\frac{", "5 $ or 6 $", "_hidden", "灯", "<&\"'>", "x" * 80])
def test_any_name_is_drawn_as_it_is_written(tmp_path: Path, name: str) -> None:
    draw_study(tmp_path, *answered(*renamed("lamp", (name, "no varistor", "two sinks"))))
    for path in tmp_path.iterdir():
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        texts = [t.text or "" for t in root.iter(f"{SVG}text")]
        if path.stem.startswith("schematic"):
            # The heading of a schematic is its title.
            assert (
                any(name in (title.text or "") for title in root.iter(f"{SVG}title")) or path.stem[-1] != "1"
            )
        elif path.name != "trade-off.svg":
            assert any(name[:29] in text for text in texts), path.name


def test_parts_of_a_bar_differ_without_their_colour() -> None:
    for (colour, hatch), (next_colour, next_hatch) in pairwise(FILLS):
        assert hatch != next_hatch or contrast_ratio(colour, next_colour) >= 1.5


@pytest.mark.ngspice
def test_the_watts_of_all_parts_are_the_input() -> None:
    # Conservation of energy: what is drawn of the settled lamp adds up to the input, less parts too small.
    found = lays(finished()[1], "steady")
    sums_w = np.sum([share.watts for share in shares(found)], axis=0)
    inputs_w = [lay.reading("input_power_W") for lay in found]
    assert sums_w == pytest.approx(inputs_w, rel=0.02)


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
