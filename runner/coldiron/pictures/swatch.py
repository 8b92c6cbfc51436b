"""A short piece of a variant's line, for the key beside its name."""

from __future__ import annotations

from matplotlib.lines import Line2D

from coldiron.pictures.ink import Form, drawing, pen, svg_text


def swatch(number: int) -> str:
    """SVG of the pen of a variant; it is an ornament beside the name, and says so to a screen reader."""
    style = pen(number)
    with drawing(Form(0.5), 0.17) as figure:
        figure.patch.set_visible(False)
        figure.add_artist(
            Line2D(
                [0.04, 0.5, 0.96],
                [0.5, 0.5, 0.5],
                color=style.colour,
                linewidth=style.width,
                dashes=style.dashes or (None, None),
                marker=style.marker or None,
                markersize=5.0,
                markevery=[1],
                markerfacecolor="none",
            )
        )
        svg = svg_text(figure, f"swatch {number}")
    return svg.replace("<svg ", '<svg aria-hidden="true" ', 1)
