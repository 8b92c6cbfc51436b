"""The look of every picture: paper, ink, a pen for each variant, and figures that become clean SVG text.

Pens differ by colour, by dash and by marker, so that a grey print and colour-blind eyes tell them apart.
"""

from __future__ import annotations

import io
import re
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from xml.sax.saxutils import quoteattr

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

PAPER = "#fdfcf8"
INK = "#26303a"
FAINT = "#565f69"
GRID = "#e2ddd0"
LIMIT = "#8c2346"

_COLOURS = ("#0b6e75", "#b4491c", "#5b4a9c", "#67701a", "#2a62b0", "#96295a", "#95680a")
_DASHES: tuple[tuple[float, ...], ...] = ((), (6, 2), (2, 1.6), (8, 2, 2, 2), (5, 1.5, 1.5, 1.5, 1.5, 1.5))
_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h", "<", ">", "p")

_STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.titlesize": 9.5,
    "axes.titlelocation": "left",
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "axes.grid": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "figure.facecolor": PAPER,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "text.color": INK,
    # Names of variants are text, whatever signs they hold.
    "text.parse_math": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "lines.linewidth": 1.3,
    "path.simplify": True,
    "path.simplify_threshold": 0.15,
    "svg.fonttype": "none",
}
FONTS = "Charter, 'Source Sans 3', 'Segoe UI', 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class Pen:
    """How the lines of one variant are drawn, in every picture alike."""

    colour: str
    dashes: tuple[float, ...]
    marker: str
    width: float = 1.3


LONE_PEN = Pen(INK, (), "", 1.5)
"""A line that is alone in its picture is solid: there is nothing to tell it from."""
AS_FOUND_PEN = Pen("#7d858e", (), "", 3.4)
"""A broad pencil line below the fine ink of the variants laid over it."""


def pen(number: int) -> Pen:
    """Pen of the variant with this number in its study; 0 is the lamp as found.

    Examples
    --------
    >>> pen(0).dashes, pen(1).colour == pen(8).colour, pen(1).dashes == pen(8).dashes
    ((), True, False)
    """
    if number == 0:
        return AS_FOUND_PEN
    turn = number - 1
    return Pen(
        _COLOURS[turn % len(_COLOURS)],
        _DASHES[(turn + 1) % len(_DASHES)],
        _MARKERS[turn % len(_MARKERS)],
    )


@dataclass(frozen=True)
class Form:
    """Where a picture is to stand: how wide, and whether it must say by itself what it shows.

    A picture that stands alone has its title inside, and names at its curves. On a page a caption has the
    title and the key beside the pictures has the names, so that numbers are enough.
    """

    width_in: float
    alone: bool = False

    @property
    def is_narrow(self) -> bool:
        """Whether it is as wide as a phone, or half a sheet of paper."""
        return self.width_in < 5.0


ALONE = Form(7.4, alone=True)
"""A file, or a window."""
BROAD = Form(6.8)
NARROW = Form(3.5)
"""The same picture on a page: on a screen, and on a phone or two abreast on paper."""


@dataclass(frozen=True)
class Picture:
    """One finished picture: a file name without its end, a heading, what it shows in words, and its SVG.

    `about` says of what: lamp, bench, conditions, warm or cold. `table` holds figures that belong beside it,
    headings first; `figure` is what it was made of, for other kinds of files and for a window.
    """

    name: str
    title: str
    alt: str
    svg: str
    caption: str = ""
    about: str = ""
    table: tuple[tuple[str, ...], ...] = ()
    figure: Figure | None = field(default=None, repr=False, compare=False)

    def _repr_svg_(self) -> str:
        """Show itself in a notebook."""
        return self.labelled

    @property
    def labelled(self) -> str:
        """SVG that says its alt text to those who cannot see it."""
        return self.svg.replace("<svg ", f'<svg role="img" aria-label={quoteattr(self.alt)} ', 1)


@contextmanager
def drawing(form: Form, height_in: float, title: str = "", about: str = "") -> Iterator[Figure]:
    """Figure in the look of this package; everything drawn inside keeps that look.

    One that stands alone has its title on top, and below it what the picture is of.
    """
    with mpl.rc_context(_STYLE):
        if not (form.alone and title):
            yield Figure(figsize=(form.width_in, height_in), layout="constrained")
            return
        lines = [*textwrap.wrap(title, 80), *textwrap.wrap(about, 108)]
        head_in = 0.1 + 0.16 * len(lines)
        below = (0.0, 0.0, 1.0, 1.0 - head_in / (height_in + head_in))
        engine = ConstrainedLayoutEngine(rect=below)
        figure = Figure(figsize=(form.width_in, height_in + head_in), layout=engine)
        for row, line in enumerate(lines):
            is_title = row < len(lines) - len(textwrap.wrap(about, 108))
            figure.text(
                0.012, 1.0 - (0.07 + 0.16 * row) / (height_in + head_in), line, va="top",
                fontsize=10.0 if is_title else 8.5, fontweight="bold" if is_title else "normal",
                color=INK if is_title else FAINT,
            )  # fmt: skip
        yield figure


def svg_text(figure: Figure, name: str) -> str:
    """SVG of a figure, small and without anything that changes from run to run.

    Numbers keep two decimals of a point; the names that matplotlib gives its groups are left out, so that
    several pictures can stand in one page; what is referred to inside is told apart by `name`. Groups named
    `lay-N-...` become the class `lay-N`.
    """
    salt = {"svg.hashsalt": f"coldiron {name}"}
    text = _saved(figure, salt, format="svg", metadata={"Date": None, "Creator": None}).decode()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(
        r"-?\d+\.\d{3,}", lambda number: f"{float(number.group()):.2f}".rstrip("0").rstrip("."), text
    )
    text = re.sub(r' id="lay-(\d+)-[^"]*"', r' class="lay lay-\1"', text)
    used = set(re.findall(r"(?:url\(|href=\")#([^)\"]+)", text))
    text = re.sub(r' id="([^"]*)"', lambda name: name.group() if name.group(1) in used else "", text)
    text = re.sub(r"font: ([\d.]+px) [^;\"]*", rf"font: \1 {FONTS}", text)
    return re.sub(r"\n\s*", "\n", text)


def pdf_bytes(figure: Figure) -> bytes:
    """PDF of a figure, on a sheet of its own size, with its text as text."""
    return _saved(
        figure, {"pdf.fonttype": 42}, format="pdf", metadata={"CreationDate": None, "Creator": None}
    )


def png_bytes(figure: Figure, dpi: float = 160.0) -> bytes:
    """PNG of a figure."""
    return _saved(figure, {}, format="png", dpi=dpi, metadata={"Software": None})


def _saved(figure: Figure, style: dict[Any, Any], **options: Any) -> bytes:
    buffer = io.BytesIO()
    with mpl.rc_context(_STYLE | style), warnings.catch_warnings():
        # A name in a script that this font lacks is still the right text in an SVG; a viewer finds a font.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure.savefig(buffer, **options)
    return buffer.getvalue()


def grid_axes(figure: Figure, labels: list[str], time_label: str) -> list[Axes]:
    """Axes one above the other on one time axis, each with the label of its quantity."""
    axes = figure.subplots(len(labels), 1, sharex=True, squeeze=False)[:, 0]
    for each, label in zip(axes, labels, strict=True):
        each.set_ylabel(label)
        each.margins(x=0)
    axes[-1].set_xlabel(time_label)
    return list(axes)
