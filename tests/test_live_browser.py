"""The live page in a real browser, on a real server with real ngspice."""

from __future__ import annotations

import json
import os
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import CHROMIUM, DRIVER, SIZES, Browser
from exploring import Explorer, drawn, eventually, settled, wait_for

pytestmark = [
    pytest.mark.ngspice,
    pytest.mark.skipif(not (CHROMIUM and DRIVER) and "CI" not in os.environ, reason="no chromium here"),
]
FIT = {"reservoir.capacitance": "22 µF", "reservoir.voltage": "400 V"}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with Browser() as browser:
        yield browser


@pytest.fixture(scope="module")
def flood(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Explorer]:
    with Explorer("kerbside-rework", tmp_path_factory.mktemp("live")) as explorer:
        yield explorer


def press(browser: Browser, *keys: str) -> None:
    ActionChains(browser.driver).send_keys(*keys).perform()


def tab_to(browser: Browser, selector: str, most: int = 60) -> None:
    for _ in range(most):
        press(browser, Keys.TAB)
        if browser.ask("document.activeElement.matches(arguments[0])", selector):
            return
    raise AssertionError(f"no way to {selector} with the tabulator")


def reading(browser: Browser, name: str) -> str:
    said: str = browser.ask(
        "[...document.querySelectorAll('#readings tbody tr')]"
        ".find((row) => row.querySelector('code').textContent === arguments[0])?.children[1].textContent",
        name,
    )
    return said


def test_it_is_quiet_asks_nobody_else_and_has_no_barrier(browser: Browser, flood: Explorer) -> None:
    for size, (width, _) in SIZES.items():
        browser.size(size)
        flood.open(browser, b="surge", c=FIT, part="reservoir", pin={"varistor": "none"})
        browser.ask("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        assert browser.complaints() == []
        asked = [each for each in browser.requests() if not each.startswith(("data:", "chrome:", "about:"))]
        assert asked
        assert all(each.startswith(flood.address) for each in asked)
        assert browser.barriers() == []
        assert browser.ask("document.documentElement.scrollWidth") <= width
    browser.size("laptop")


def test_keyboard_alone_takes_a_part_moves_it_and_reads_the_strips(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady")
    tab_to(browser, "#drawing g.part")
    for _ in range(12):
        if browser.ask("document.activeElement.dataset.part") == "neutral_fusing":
            break
        press(browser, Keys.ARROW_RIGHT)
    press(browser, Keys.ENTER)
    tab_to(browser, "input[type=range]")
    press(browser, Keys.ARROW_RIGHT)
    assert browser.ask("document.activeElement.getAttribute('aria-valuetext')") == "5.6 Ω, was 4.7 Ω"
    press(browser, Keys.PAGE_UP)
    assert browser.ask("document.activeElement.getAttribute('aria-valuetext')") == "56 Ω, was 4.7 Ω"
    settled(browser)
    frame = "#drawing g.changed[data-part=neutral_fusing]"
    wait_for(browser, "document.querySelector(arguments[0])", frame)
    assert "56 Ω was 4.7 Ω" in browser.ask("document.querySelector(arguments[0]).textContent", frame)
    assert json.loads(browser.ask("new URLSearchParams(location.hash.slice(1)).get('c')")) == {
        "neutral_fusing.resistance": "56 Ω"
    }
    tab_to(browser, "#sheet")
    press(browser, Keys.HOME, *[Keys.ARROW_RIGHT] * 25)
    spoken = browser.ask("document.activeElement.getAttribute('aria-valuetext')")
    # A quarter of 20 ms is the crest of the mains: 230 V times the root of two.
    crest = re.fullmatch(r"5(?:\.0+)? ms: mains voltage (\d+) V, .*", spoken)
    assert crest, spoken
    assert float(crest[1]) == pytest.approx(325.3, rel=0.02)
    wait_for(browser, "document.querySelector('[data-part=neutral_fusing] text.bears')")


def test_a_value_is_typed_as_the_trade_writes_it_and_a_wrong_one_is_told(
    browser: Browser, flood: Explorer
) -> None:
    flood.open(browser, b="steady", c=FIT, part="reservoir")
    field = browser.driver.find_element("id", "h-reservoir-capacitance")
    field.send_keys(Keys.CONTROL + "a")
    field.send_keys("47u", Keys.ENTER)
    settled(browser)
    assert "47 µF" in browser.ask("document.getElementById('about').textContent")
    field.send_keys(Keys.CONTROL + "a")
    field.send_keys("47 ohm", Keys.ENTER)
    wait_for(browser, "document.getElementById('problem').textContent")
    problem = browser.ask("document.getElementById('problem').textContent")
    assert "a capacitance" in problem
    assert browser.ask("arguments[0].getAttribute('aria-invalid')", field) == "true"
    assert "The lines drawn are those of" in browser.ask("document.getElementById('state').textContent")


def test_back_is_the_hand_before(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady", part="sinks")
    browser.ask("document.getElementById('h-sinks-count').previousSibling.focus()")
    press(browser, Keys.ARROW_LEFT)
    wait_for(browser, "location.hash.includes('sinks.count')")
    settled(browser)
    fewer = reading(browser, "input_power_W")
    browser.driver.back()
    wait_for(browser, "!location.hash.includes('sinks.count')")
    settled(browser)
    assert reading(browser, "input_power_W") != fewer
    browser.driver.forward()
    settled(browser)
    wait_for(browser, "location.hash.includes('sinks.count')")
    settled(browser)
    assert reading(browser, "input_power_W") == fewer


def test_a_sliding_hand_sees_half_of_its_strips_and_the_last(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady", part="bleed")
    before = browser.ask("coldiron.painted.length")
    browser.driver.set_script_timeout(60)
    browser.driver.execute_async_script(
        "const done = arguments[0], range = document.querySelector('#handle input[type=range]');"
        "let n = 0; const slide = setInterval(() => { range.stepUp();"
        "range.dispatchEvent(new Event('input')); n += 1; if (n === 30) { clearInterval(slide); done(); } },"
        "100);"
    )
    drawn(browser)
    seen = browser.ask("coldiron.painted.map((each) => each[0])")[before:]
    # Cancelling each run for the next would show one or two; how many of 30 is a matter of this machine.
    assert len(seen) >= 6
    assert seen == sorted(seen)
    assert seen[-1] == browser.ask("coldiron.number")


def test_a_bench_without_a_run_draws_nothing_and_says_so(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady")
    assert browser.ask("document.querySelectorAll('.strip').length") == 5
    browser.ask("document.querySelector('[value=off-glow]').click()")
    settled(browser)
    assert browser.ask("document.querySelectorAll('.strip').length") == 0
    assert "no leakage path" in browser.ask("document.getElementById('state').textContent")


def test_two_tabs_are_told_apart(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady", c={"sinks.count": 4})
    first = browser.driver.current_window_handle
    browser.driver.switch_to.new_window("tab")
    flood.open(browser, b="steady", c={"sinks.count": 3})
    second = reading(browser, "input_power_W")
    browser.driver.close()
    browser.driver.switch_to.window(first)
    assert reading(browser, "input_power_W") != second
    assert "sinks 4" in browser.ask("document.getElementById('about').textContent")


def workers(explorer: Explorer) -> list[int]:
    """Processes two generations below the server: the workers."""

    def children(pid: int) -> list[int]:
        listed = subprocess.run(["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True)
        return [int(each) for each in listed.stdout.split()]

    return [pid for parent in children(explorer.process.pid) for pid in children(parent)]


def test_a_worker_that_is_killed_costs_one_answer(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady")
    for pid in workers(flood):
        os.kill(pid, 19)  # SIGSTOP: the next hand is under way for certain when the worker is killed
    browser.ask("document.querySelector('[value=unplug]').click()")
    wait_for(browser, "coldiron.number > 1")
    eventually(lambda: bool(workers(flood)))
    for pid in workers(flood):
        os.kill(pid, 9)
    wait_for(browser, "/No answer/.test(document.getElementById('state').textContent) || coldiron.drawn > 1")
    browser.ask("document.querySelector('[value=surge]').click()")
    drawn(browser)
    assert "ngspice" in browser.ask("document.getElementById('state').textContent")


def offline(browser: Browser, *, off: bool) -> None:
    browser.command("Network.enable")
    browser.command(
        "Network.emulateNetworkConditions", offline=off, latency=0, downloadThroughput=-1, uploadThroughput=-1
    )


def test_the_server_gone_and_back(browser: Browser, flood: Explorer) -> None:
    flood.open(browser, b="steady", part="bleed")
    try:
        offline(browser, off=True)
        browser.ask("document.querySelector('[value=unplug]').click()")
        wait_for(browser, "/does not answer/.test(document.getElementById('state').textContent)")
        assert "the lamp as found" in browser.ask("document.getElementById('state').textContent")
    finally:
        offline(browser, off=False)
    settled(browser)
    assert "discharge_60V_s" in browser.ask("document.getElementById('readings').textContent")


def test_another_server_knows_nothing_of_the_address_before(tmp_path: Path) -> None:
    with Explorer("pantry-bulb", tmp_path) as explorer:
        port = explorer.port
        # As every command: 128 and the number of the signal, and a line of what is kept.
        assert explorer.end() == 130
    with Explorer("pantry-bulb", tmp_path, port) as other:
        assert other.address != explorer.address
        assert other.ask("lamp")[0] == 200


def test_a_lesson_asks_before_it_shows_and_hands_over(browser: Browser, flood: Explorer) -> None:
    browser.complaints()
    browser.requests()
    browser.driver.get(f"{flood.address}lesson?name=after-unplugging")
    assert browser.complaints() == []
    shown = "[...document.querySelectorAll('details p, details img')].some((each) => each.checkVisibility())"
    assert browser.ask(shown) is False
    for summary in browser.driver.find_elements("css selector", "summary"):
        summary.send_keys(Keys.ENTER)
    assert browser.ask(shown) is True
    assert browser.ask("[...document.images].every((each) => each.naturalWidth > 0)")
    assert browser.barriers() == []
    asked = [each for each in browser.requests() if not each.startswith(("data:", "chrome:", "about:"))]
    assert all(each.startswith(flood.address) for each in asked)
    browser.driver.find_elements("css selector", ".hand a")[1].click()
    settled(browser)
    assert "reservoir 22 µF" in browser.ask("document.getElementById('about').textContent")
    assert browser.ask("document.querySelector('[value=unplug]').checked")


def test_hostile_names_stay_text(browser: Browser, tmp_path: Path) -> None:
    name = "<img src=x onerror=alert(1)>\"'&</script>"
    shipped = Path(__file__).resolve().parents[1] / "variants" / "lamps" / "pantry-bulb.toml"
    text = re.sub(r"(?m)^name = .*$", lambda _: f"name = {json.dumps(name)}", shipped.read_text("utf-8"))
    text = re.sub(r"(?m)^note = .*$", lambda _: f"note = {json.dumps(name)}", text)
    (tmp_path / "hostile.toml").write_text(text, encoding="utf-8")
    with Explorer("hostile.toml", tmp_path) as explorer:
        explorer.open(browser, b="steady")
        assert browser.ask("document.querySelector('h1').textContent") == name
        assert browser.ask("document.querySelectorAll('img').length") == 0
        assert browser.complaints() == []
