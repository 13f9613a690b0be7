"""Plain text in lines, for everything that is read on the dock and at the helm."""

from __future__ import annotations

import re
import textwrap

_GLUE = "\N{NO-BREAK SPACE}"


def wrapped(text: str, width: int, first: str = "", further: str = "") -> list[str]:
    """The text in lines of at most ``width`` columns.

    A number is never parted from its unit, nor an id at its hyphens. ``first`` and ``further``
    stand before the first line and the further ones.
    """
    glued = re.sub(r"(?<=\d) (?=\S)", _GLUE, text)
    lines = textwrap.wrap(
        glued, width, initial_indent=first, subsequent_indent=further, break_on_hyphens=False
    )
    return [line.replace(_GLUE, " ") for line in lines]
