"""Latency of the live page: from the event of an input to the painted strip, in a real browser.

    PYTHONPATH=tests .venv/bin/python -m benchmark.live [--moves N] [--long N]

Distinct moves of one value, half a second after the one before was painted: what a person does who looks.
Then a hand that slides a step every 50 ms, and the memory of the page over many moves. Prints the load of the
machine beside it: times of a machine that does something else mean nothing.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import json
import os
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from browser import Browser
from exploring import Explorer, drawn, settled, wait_for

RESULTS = Path(__file__).resolve().parents[2] / "results" / "bench"
REST_S = 0.5
TARGETS_MS = {
    "stored": (30, 50),
    "steady": (100, 150),
    "surge, one angle": (130, 200),
    "surge, all eight": (250, 350),
    "switch-on": (250, None),
    "unplug": (150, None),
    "heat": (1000, None),
}
"""Median and 95 % that are aimed at, on two idle cores."""
SURGE = {"b": "surge", "a": "90", "p": "+"}


def distinct(number: int) -> str:
    """A reservoir of its own for each move, from 10 µF to 330 µF."""
    return f"{10 + 6.4 * (number % 50) + 0.01 * (number // 50):.2f} µF"


def typed(browser: Browser, value: str) -> None:
    """Move the reservoir as an input would, the event's own time kept."""
    browser.ask(
        "((field, value) => { field.value = value; field.dispatchEvent(new Event('change')); })"
        "(document.getElementById('h-reservoir-capacitance'), arguments[0])",
        value,
    )


def measured(browser: Browser, values: list[str], kept: str = "painted") -> list[float]:
    """Milliseconds of each move, from its event to its strip, or its readings, on the screen."""
    found = []
    for value in values:
        time.sleep(REST_S)
        typed(browser, value)
        number = browser.ask("coldiron.number")
        script = f"coldiron.{kept}.find((each) => each[0] === arguments[0])"
        found.append(float(wait_for(browser, script, number)[1]))
    return found


def summed(name: str, times_ms: list[float]) -> dict[str, Any]:
    """Median and 95 % of some times, beside what is aimed at."""
    ranked = sorted(times_ms)
    p95 = ranked[min(len(ranked) - 1, round(0.95 * (len(ranked) - 1)))]
    median_ms, p95_ms = TARGETS_MS[name]
    return {
        "moves": len(times_ms),
        "median_ms": round(statistics.median(times_ms), 1),
        "p95_ms": round(p95, 1),
        "aimed_median_ms": median_ms,
        "aimed_p95_ms": p95_ms,
    }


def slide(browser: Browser) -> dict[str, Any]:
    """How many of 30 strips a hand sees that slides a step every 50 ms, and when it sees the last."""
    before = browser.ask("coldiron.painted.length")
    browser.driver.execute_async_script(
        "const done = arguments[0], field = document.getElementById('h-reservoir-capacitance'); let n = 0;"
        "const slide = setInterval(() => { field.value = `${(21.5 + n * 1.7).toFixed(2)} µF`; n += 1;"
        "field.dispatchEvent(new Event('change')); if (n === 30) { clearInterval(slide); done(); } }, 50);"
    )
    drawn(browser)
    seen = browser.ask("coldiron.painted")[before:]
    return {"seen_of_30": len(seen), "last_ms": round(seen[-1][1], 1), "aimed": "at least 15, last in 250"}


def heap_mb(browser: Browser) -> float:
    """Memory of the page after its garbage is collected [MB]."""
    browser.command("HeapProfiler.enable")
    browser.command("HeapProfiler.collectGarbage")
    return float(browser.command("Runtime.getHeapUsage")["usedSize"]) / 1e6


def flat(browser: Browser, moves: int) -> dict[str, Any]:
    """Memory of the page before and after many moves."""
    before = heap_mb(browser)
    for number in range(moves):
        typed(browser, distinct(number % 60))
        drawn(browser)
    settled(browser)
    return {"moves": moves, "before_mb": round(before, 2), "after_mb": round(heap_mb(browser), 2)}


def main() -> None:
    """Measure, print, and keep it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--moves", type=int, default=50)
    parser.add_argument("--long", type=int, default=2000)
    args = parser.parse_args()
    values = [distinct(number) for number in range(args.moves)]
    fit = {"reservoir.capacitance": "22 µF", "reservoir.voltage": "400 V"}
    load = os.getloadavg()[0]
    found: dict[str, Any] = {}
    with (
        tempfile.TemporaryDirectory() as folder,
        Browser() as browser,
        Explorer("kerbside-flood", Path(folder)) as explorer,
    ):
        for name, words, kept in (
            ("steady", {"b": "steady"}, "painted"),
            ("surge, one angle", SURGE, "painted"),
            ("surge, all eight", SURGE, "read"),
            ("switch-on", {"b": "switch-on"}, "painted"),
            ("unplug", {"b": "unplug"}, "painted"),
            ("heat", {"b": "heat"}, "painted"),
        ):
            explorer.open(browser, c=fit, part="reservoir", **words)
            # Every lane has values of its own: what one bench has settled must not serve the next.
            own = [f"{float(v.split()[0]) + 0.001 * len(found):.3f} µF" for v in values]
            found[name] = summed(name, measured(browser, own, kept))
            sys.stdout.write(f"{name}: {json.dumps(found[name])}\n")
        explorer.open(browser, b="steady", c=fit, part="reservoir")
        for value in ("33 µF", "22 µF"):
            typed(browser, value)
            settled(browser)
        found["stored"] = summed("stored", measured(browser, ["33 µF", "22 µF"] * (args.moves // 2)))
        found["sliding"] = slide(browser)
        found["memory"] = flat(browser, args.long)
    summary = {
        "version": importlib.metadata.version("coldiron"),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}",
        "load_before": round(load, 2),
        "load_after": round(os.getloadavg()[0], 2),
        **found,
    }
    RESULTS.mkdir(parents=True, exist_ok=True)
    path = RESULTS / f"live-{summary['version']}.json"
    path.write_text(json.dumps(summary, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(summary, indent=2, ensure_ascii=False) + f"\n{path}\n")


if __name__ == "__main__":
    main()
