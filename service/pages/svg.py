"""SVG as a tree: whatever a user wrote is escaped, and the text is well-formed by construction.

Everything is drawn with presentation attributes, never with ``style``, so that a picture within a
page needs no exception from the page's Content-Security-Policy.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from xml.etree import ElementTree as ET

INK = "#11181f"
QUIET = "#4c5864"
HAIR = "#9aa4ad"
PAPER = "#ffffff"
HULL = "#f3f1ea"
WATER = "#1a659e"
PALE_WATER = "#d6e6f2"
SURF = "#c46a00"
FONT = "Source Sans Pro, Helvetica Neue, Arial, sans-serif"

# Characters that XML 1.0 cannot hold at all, not even escaped.
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Point = tuple[float, float]


def clean(text: str) -> str:
    """The text without the characters that XML cannot hold."""
    return _NO_XML.sub("�", text)


def number(value: float) -> str:
    """A coordinate: hundredths of a pixel, no idle zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def node(parent: ET.Element, tag: str, **attributes: str | float) -> ET.Element:
    """A new element; ``stroke_width=2`` becomes ``stroke-width="2"``, ``id_`` becomes ``id``."""
    written = {
        name.rstrip("_").replace("_", "-"): (
            clean(value) if isinstance(value, str) else number(value)
        )
        for name, value in attributes.items()
    }
    return ET.SubElement(parent, tag, written)


def text(
    parent: ET.Element, x: float, y: float, content: str, size: float = 11,
    **attributes: str | float,
) -> ET.Element:  # fmt: skip
    """One line of text with its baseline at ``y``."""
    found = node(parent, "text", x=x, y=y, font_size=size, **({"fill": INK} | attributes))
    found.text = clean(content)
    return found


def line(parent: ET.Element, start: Point, end: Point, **attributes: str | float) -> ET.Element:
    return node(
        parent, "line", x1=start[0], y1=start[1], x2=end[0], y2=end[1],
        **({"stroke": INK} | attributes),
    )  # fmt: skip


def path(points: Iterable[Point], *, closed: bool = False) -> str:
    """The ``d`` of a path through the points."""
    steps = [f"{number(x)} {number(y)}" for x, y in points]
    return "M" + " L".join(steps) + (" Z" if closed else "")


def picture(name: str, width: float, height: float, title: str, description: str) -> ET.Element:
    """An empty picture with what a screen reader says of it.

    ``name`` begins every id in it, so that several pictures can stand in one page.
    """
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "width": number(width),
            "height": number(height),
            "role": "img",
            "aria-labelledby": f"{name}-title {name}-desc",
            "font-family": FONT,
            "class": "picture",
        },
    )
    node(root, "title", id_=f"{name}-title").text = clean(title)
    node(root, "desc", id_=f"{name}-desc").text = clean(description)
    node(root, "rect", width=width, height=height, fill=PAPER)
    return root


def hatch(root: ET.Element, name: str, colour: str = WATER, ground: str = PALE_WATER) -> str:
    """A hatched fill that is told from others in grey print as well; its ``url(#…)``."""
    pattern = node(
        node(root, "defs"), "pattern", id_=name, width=5, height=5,
        patternUnits="userSpaceOnUse", patternTransform="rotate(45)",
    )  # fmt: skip
    node(pattern, "rect", width=5, height=5, fill=ground)
    line(pattern, (0, 0), (0, 5), stroke=colour, stroke_width=1.6)
    return f"url(#{name})"


def width_of(content: str, size: float) -> float:
    """About how wide a line of text is, for placing labels."""
    return 0.54 * size * len(content)


def written(root: ET.Element) -> str:
    return ET.tostring(root, encoding="unicode")
