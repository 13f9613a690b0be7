"""A picture as PNG, for where SVG is not shown.

One font, shipped as a package: the same pixels
everywhere. A character that the font lacks is drawn as a box.
"""

from __future__ import annotations

from importlib.resources import files

from resvg_py import svg_to_bytes

ZOOM = 2
"""Pixels for one unit of the picture: sharp on a phone's screen."""

_FONTS = [
    str(files("font_source_sans_pro") / "files" / f"SourceSansPro-{weight}.ttf")
    for weight in ("Regular", "Semibold", "Bold")
]


def png(svg: str) -> bytes:
    """The picture's pixels on white."""
    return bytes(
        svg_to_bytes(
            svg_string=svg,
            zoom=ZOOM,
            background="#ffffff",
            skip_system_fonts=True,
            font_files=_FONTS,
            font_family="Source Sans Pro",
            sans_serif_family="Source Sans Pro",
        )
    )
