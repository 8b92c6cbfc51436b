"""Keep screenshots of a report under results/screens: a phone, a laptop, and A4 paper.

    .venv/bin/python tests/keep_screens.py results/kerbside-rework/report.html

Look at each of them; a picture that nobody has looked at proves nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

from browser import SIZES, Browser

FOLDER = Path(__file__).resolve().parents[1] / "results" / "screens"
PAPER_PX = (794, 1123)
"""A4 (ISO 216) at the 96 pixels to the inch that CSS counts with."""


PARTS = {"answer": "body", "variants": "#variants", "pictures": "#pictures", "lamp": "#lamp"}
"""From which element downwards each screenshot goes, by its name."""


def main(report: Path) -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    with Browser() as browser:
        for size in SIZES:
            browser.size(size)
            browser.open(report)
            keep(browser, size, 2 * SIZES[size][1])
        width, height = PAPER_PX
        browser.command(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        browser.command("Emulation.setEmulatedMedia", media="print")
        browser.open(report)
        keep(browser, "paper", height)


def keep(browser: Browser, size: str, height_px: int) -> None:
    """Write the screenshots of one size with few colours, which is all that this look needs."""
    for name, selector in PARTS.items():
        path = FOLDER / f"{size}-{name}.png"
        browser.picture(path, selector, height_px)
        with Image.open(path) as picture:
            picture.convert("RGB").quantize(64).save(path, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
