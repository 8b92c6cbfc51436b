"""Contrast of two colours as WCAG 2.1 defines it ("contrast ratio", "relative luminance")."""

from __future__ import annotations


def contrast_ratio(one: str, other: str) -> float:
    """Ratio of two "#rrggbb" colours; 21 for black on white."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour."""
    linear = []
    for place in (1, 3, 5):
        share = int(colour[place : place + 2], 16) / 255
        linear.append(share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
