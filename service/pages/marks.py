"""Marks that the views of the loading plan share."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from service.pages import svg
from service.pages.svg import INK, PALE_WATER, PAPER, WATER


def gravity(group: ET.Element, x: float, y: float) -> None:
    """The drawing office's mark for a centre of gravity: a quartered disc."""
    svg.node(group, "circle", cx=x, cy=y, r=6, fill=PAPER, stroke=INK, stroke_width=1.4)
    quarters = f"M{x:.2f} {y:.2f} v-6 a6 6 0 0 1 6 6 z m0 0 v6 a6 6 0 0 1 -6 -6 z"
    svg.node(group, "path", d=quarters, fill=INK)


def sea(group: ET.Element, left: float, right: float, y: float, deep: float) -> None:
    """The water below its surface at ``y``."""
    svg.node(group, "rect", x=left, y=y, width=right - left, height=deep, fill=PALE_WATER)


def waterline(group: ET.Element, left: float, right: float, y: float) -> None:
    svg.line(group, (left, y), (right, y), stroke=WATER, stroke_width=1.8)


def height(group: ET.Element, x: float, y: float, water: float) -> None:
    """A dimension line from the water up to the edge at ``y``."""
    svg.line(group, (x, y), (x, water), stroke_width=1)
    for end in (y, water):
        svg.line(group, (x - 3, end), (x + 3, end), stroke_width=1)
