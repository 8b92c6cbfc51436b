"""The report in a real browser: quiet, self-contained, sortable, by keyboard alone, on paper and phone."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from browser import CHROMIUM, DRIVER, SIZES, Browser
from coldiron.report.page import page
from reporting import finished, renamed, with_failure

pytestmark = [
    pytest.mark.ngspice,
    # Where CI runs, a missing browser is an error of the set-up and must not pass as skipped.
    pytest.mark.skipif(not (CHROMIUM and DRIVER) and "CI" not in os.environ, reason="no chromium here"),
]
HOSTILE = "<script>alert(1)</script>\"'&<img src=x onerror=alert(2)>"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with Browser() as browser:
        yield browser


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(page(*finished()), encoding="utf-8")
    return path


@pytest.fixture
def opened(browser: Browser, report: Path) -> Browser:
    browser.size("laptop")
    browser.open(report)
    return browser


COLUMN = """(() => {
  const heads = [...document.querySelectorAll("table.variants thead th")];
  const place = heads.findIndex((head) => head.textContent.trim() === arguments[0]);
  const rows = [...document.querySelectorAll("table.variants tr.row")].filter((row) => !row.hidden);
  return rows.map((row) => {
    const cell = row.children[place].cloneNode(true);
    cell.querySelectorAll("small, [title]:not(.hole)").forEach((aside) => aside.remove());
    return cell.textContent.trim();
  });
})()"""


def column(browser: Browser, heading: str) -> list[str]:
    """Values of a column as they stand on the page, without changes and marks; hidden rows left out."""
    cells: list[str] = browser.ask(COLUMN, heading)
    return cells


def sort_button(browser: Browser, heading: str) -> WebElement:
    buttons = browser.driver.find_elements(By.CSS_SELECTOR, "table.variants thead button")
    return next(button for button in buttons if button.text.split("\n")[0].startswith(heading))


def numbers(cells: list[str]) -> list[float]:
    return [float(cell) for cell in cells]


def test_it_loads_quietly_and_asks_for_nothing(opened: Browser, report: Path) -> None:
    assert opened.complaints() == []
    assert opened.requests() == [report.as_uri()]


@pytest.mark.parametrize("size", SIZES)
def test_no_barrier_for_assistive_technology(browser: Browser, report: Path, size: str) -> None:
    # axe-core: WCAG 2.1 A and AA, contrast of text among them.
    browser.size(size)
    browser.open(report)
    browser.ask("document.querySelectorAll('details').forEach((details) => { details.open = true; })")
    assert browser.barriers() == []


@pytest.mark.parametrize("size", SIZES)
def test_the_page_itself_never_scrolls_sideways(browser: Browser, report: Path, size: str) -> None:
    browser.size(size)
    browser.open(report)
    assert browser.ask("document.documentElement.scrollWidth") <= SIZES[size][0]


def test_a_column_sorts_both_ways(opened: Browser) -> None:
    found = column(opened, "cold sinks W")
    sort_button(opened, "cold sinks").click()
    assert numbers(column(opened, "cold sinks W")) == sorted(numbers(found))
    sort_button(opened, "cold sinks").click()
    assert numbers(column(opened, "cold sinks W")) == sorted(numbers(found), reverse=True)
    assert opened.ask("document.querySelectorAll('[aria-sort=descending]').length") == 1


def test_the_filter_narrows_the_table_and_says_so(opened: Browser) -> None:
    opened.driver.find_element(By.ID, "filter").send_keys("varis")
    assert column(opened, "variant") == ["no varistor"]
    assert opened.driver.find_element(By.ID, "shown").text == "1 of 4 shown"


def test_only_variants_over_no_limit_stay(opened: Browser) -> None:
    _, _, verdicts = finished()
    inside = {v.variant for v in verdicts} - {v.variant for v in verdicts if v.verdict == "over"}
    opened.driver.find_element(By.ID, "only-inside").click()
    assert set(column(opened, "variant")) == inside


def visible_lines(browser: Browser, number: int) -> bool:
    shown: bool = browser.ask(
        "[...document.querySelectorAll('.lay-' + arguments[0])]"
        ".every((line) => getComputedStyle(line).display !== 'none')",
        number,
    )
    return shown


@pytest.mark.parametrize("script", [True, False])
def test_variants_are_laid_over_as_picked_with_or_without_the_script(
    browser: Browser, report: Path, *, script: bool
) -> None:
    browser.size("laptop")
    browser.open(report, script=script)
    pick = browser.driver.find_element(By.ID, "pick-3")
    before = pick.is_selected()
    assert visible_lines(browser, 3) is before
    ActionChains(browser.driver).scroll_to_element(pick).perform()
    pick.click()
    assert visible_lines(browser, 3) is not before


def test_without_the_script_all_is_there_but_its_tools(browser: Browser, report: Path) -> None:
    browser.open(report, script=False)
    assert not browser.driver.find_element(By.ID, "tools").is_displayed()
    assert len(browser.driver.find_elements(By.CSS_SELECTOR, "table.variants tr.row")) == 4
    assert len(browser.driver.find_elements(By.CSS_SELECTOR, "figure svg")) >= 8


def tab_to(browser: Browser, selector: str, most: int = 80) -> None:
    """Press the tabulator until an element has the focus."""
    for _ in range(most):
        ActionChains(browser.driver).send_keys(Keys.TAB).perform()
        if browser.ask("document.activeElement.matches(arguments[0])", selector):
            return
    raise AssertionError(f"no way to {selector} with the tabulator")


def test_the_keyboard_alone_sorts_filters_picks_and_unfolds(opened: Browser) -> None:
    tab_to(opened, ".skip")
    tab_to(opened, "#filter")
    ActionChains(opened.driver).send_keys("o").perform()
    assert "no varistor" in column(opened, "variant")
    tab_to(opened, "thead th:nth-child(1) button")
    ActionChains(opened.driver).send_keys(*[Keys.ARROW_RIGHT] * 3, Keys.ENTER).perform()
    assert (
        opened.ask("document.querySelector('thead th:nth-child(4)').getAttribute('aria-sort')") == "ascending"
    )
    tab_to(opened, ".unfold input")
    ActionChains(opened.driver).send_keys(Keys.SPACE).perform()
    assert (
        opened.ask("[...document.querySelectorAll('tr.told')].filter((row) => row.offsetParent).length") == 1
    )
    before = visible_lines(opened, 2)
    tab_to(opened, "#pick-2")
    ActionChains(opened.driver).send_keys(Keys.SPACE).perform()
    assert visible_lines(opened, 2) is not before
    tab_to(opened, "#lamp summary")
    ActionChains(opened.driver).send_keys(Keys.ENTER).perform()
    assert opened.ask("document.querySelector('#lamp details').open") is True


def test_the_focus_can_be_seen(opened: Browser) -> None:
    tab_to(opened, "#filter")
    assert opened.ask("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def test_it_prints_on_a4(opened: Browser) -> None:
    # ISO 216: 210 mm by 297 mm, in points of 1/72 inch.
    boxes = re.findall(rb"/MediaBox ?\[ ?0 0 ([\d.]+) ([\d.]+)", opened.paper())
    assert boxes
    for width, height in boxes:
        assert [float(width), float(height)] == pytest.approx([595.28, 841.89], abs=1)


def test_on_paper_everything_is_unfolded(opened: Browser) -> None:
    # But schematics of every single variant, and figures that pictures show: those stay on screen.
    assert opened.ask("document.querySelectorAll('details.paper:not([open])').length") > 0
    opened.ask("dispatchEvent(new Event('beforeprint'))")
    assert opened.ask("document.querySelectorAll('details.paper:not([open])').length") == 0
    opened.ask("dispatchEvent(new Event('afterprint'))")
    assert opened.ask("document.querySelectorAll('details:not([open])').length") > 0


def test_it_takes_at_most_eight_sheets(opened: Browser) -> None:
    assert len(re.findall(rb"/Type\s*/Page[^s]", opened.paper())) <= 8


STOPS = """(() => {
  const first = document.querySelector("#pictures figure");
  return [...document.querySelectorAll("a[href], button, input, summary, [tabindex]")].filter((each) =>
    each.tabIndex >= 0 && each.getClientRects().length &&
    each.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING).length;
})()"""


def test_the_pictures_are_few_stops_away(opened: Browser) -> None:
    # A page of 4 variants; each further one has two stops, to unfold its row and to pick it.
    assert opened.ask(STOPS) + 2 * (18 - 4) <= 60


def test_the_first_screen_holds_the_answer_and_its_pictures(opened: Browser) -> None:
    for selector in (".lead", "#picture-trade-off", "#answer .circuit svg"):
        bottom_px = opened.ask(
            "document.querySelector(arguments[0]).getBoundingClientRect().bottom", selector
        )
        assert 0 < bottom_px <= SIZES["laptop"][1], selector


def test_no_table_scrolls_sideways_on_a_laptop(opened: Browser) -> None:
    assert (
        opened.ask(
            "[...document.querySelectorAll('.scroll')]"
            ".filter((each) => each.scrollWidth > each.clientWidth).length"
        )
        == 0
    )


def test_the_picker_lies_beside_the_pictures(opened: Browser) -> None:
    places = opened.ask(
        "['.picker', '#picture-steady'].map((each) => {"
        "const box = document.querySelector(each).getBoundingClientRect(); return [box.left, box.right]; })"
    )
    assert places[0][1] < places[1][0]


def test_a_phone_has_pictures_of_its_own(browser: Browser, report: Path) -> None:
    browser.size("phone")
    browser.open(report)
    shown = "[...document.querySelectorAll(arguments[0])].filter((each) => each.offsetParent).length"
    assert browser.ask(shown, "figure .broad") == 0
    assert browser.ask(shown, "figure .narrow") >= 7
    assert browser.ask(
        "[...document.querySelectorAll('.narrow svg')]"
        ".every((each) => each.getBoundingClientRect().right <= 390)"
    )


def test_hostile_names_stay_text(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "hostile.html"
    names = (f"{HOSTILE} a", "</style><svg onload=alert(3)>", "</title></script><script>alert(4)</script>")
    path.write_text(page(*renamed(HOSTILE, names)), encoding="utf-8")
    browser.open(path)
    # A page that had run one of them would have an alert open, and these questions would fail.
    assert browser.ask("document.querySelector('h1').textContent") == HOSTILE
    assert browser.ask("document.title").startswith(HOSTILE)
    assert browser.ask("document.querySelectorAll('img').length") == 0
    assert browser.ask("document.querySelectorAll('script').length") == 1
    assert set(column(browser, "variant")) == {"as found", *names}
    assert browser.complaints() == []
    assert browser.requests() == [path.as_uri()]


def test_a_failed_case_is_a_hole_that_says_why(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "holes.html"
    path.write_text(page(*with_failure("the engine gave up", "<b>timestep</b> too small")), encoding="utf-8")
    browser.open(path)
    names, sinks = column(browser, "variant"), column(browser, "cold sinks W")
    assert sinks[names.index("22 µF")] == "failed"
    assert sum(cell == "failed" for cell in sinks) == 1
    told = browser.driver.find_element(By.CSS_SELECTOR, ".holes").text
    assert "22 µF, steady" in told
    assert "<b>timestep</b> too small" in told
    assert "1 of 16 cases gave no answer (22 µF)" in browser.driver.find_element(By.ID, "answer").text
    sort_button(browser, "cold sinks").click()
    assert column(browser, "cold sinks W")[-1] == "failed"
    assert browser.complaints() == []
