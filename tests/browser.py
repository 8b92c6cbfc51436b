"""Debian's chromium, driven without a window: a page, what it complained of, what it asked for."""

from __future__ import annotations

import base64
import importlib.resources
import json
import shutil
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

from hanging import HANG_S

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
SIZES = {"phone": (390, 844), "laptop": (1280, 800)}
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)


class Browser:
    """One browser with its own empty profile."""

    def __enter__(self) -> Self:
        """Start it."""
        self._profile = tempfile.mkdtemp(prefix="coldiron-browser-")
        options = webdriver.ChromeOptions()
        options.binary_location = CHROMIUM or ""
        for flag in (*_FLAGS, f"--user-data-dir={self._profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(DRIVER))
        self.driver.set_script_timeout(HANG_S)
        self.size("laptop")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End it and remove its profile."""
        self.driver.quit()
        shutil.rmtree(self._profile, ignore_errors=True)

    def size(self, name: str) -> None:
        """Take the size of a phone or a laptop."""
        width, height = SIZES[name]
        self.command(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=name == "phone",
        )  # fmt: skip

    def open(self, page: Path, *, script: bool = True) -> None:
        """Open a file, with or without its script."""
        for kind in ("browser", "performance"):
            self._log(kind)
        self.command("Emulation.setScriptExecutionDisabled", value=not script)
        self.driver.get(page.as_uri())

    def command(self, name: str, **arguments: Any) -> dict[str, Any]:
        """Give a command of the browser's own protocol."""
        answer: dict[str, Any] = self.driver.execute_cdp_cmd(name, arguments)
        return answer

    def ask(self, script: str, *arguments: Any) -> Any:
        """Value of an expression in the page."""
        return self.driver.execute_script(f"return {script}", *arguments)

    def _log(self, kind: str) -> list[dict[str, Any]]:
        entries: list[dict[str, Any]] = self.driver.get_log(kind)  # type: ignore[no-untyped-call]
        return entries

    def complaints(self) -> list[str]:
        """What the console said since the page was opened."""
        return [str(entry["message"]) for entry in self._log("browser")]

    def requests(self) -> list[str]:
        """Addresses that the page asked for since it was opened."""
        events = [json.loads(entry["message"])["message"] for entry in self._log("performance")]
        return [
            str(event["params"]["request"]["url"])
            for event in events
            if event["method"] == "Network.requestWillBeSent"
        ]

    def barriers(self) -> list[str]:
        """Violations of WCAG 2.1 A and AA that axe-core finds, as "rule: where"."""
        axe = importlib.resources.files("axe_core_python") / "axe.min.js"
        self.driver.execute_script(axe.read_text(encoding="utf-8"))
        found = self.driver.execute_async_script(
            "const say = arguments[1];"
            # A picture is one image to assistive technology, whatever it is drawn with.
            "axe.run({exclude: [['svg[role=img] > *']]}, {runOnly: arguments[0]})"
            ".then((result) => say(result.violations));",
            ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"],
        )
        return [f"{each['id']}: {node['target']}" for each in found for node in each["nodes"]]

    def picture(self, path: Path, selector: str, height_px: int) -> None:
        """Screenshot of the page from an element downwards."""
        top_px = self.ask(
            "document.querySelector(arguments[0]).getBoundingClientRect().top + scrollY", selector
        )
        whole = self.command("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": top_px, "width": whole["width"], "height": height_px, "scale": 1}
        shot = self.command("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(shot["data"]))

    def paper(self) -> bytes:
        """The page as a PDF on the paper that its style sheet names."""
        printed = self.command("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(printed["data"])
