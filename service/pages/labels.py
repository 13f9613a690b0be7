"""Labels beside a drawing: in rows, none over another, each with a thin line to what it names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from service.pages.svg import HAIR, INK, line, text, width_of

SIZE = 10.5
LONGEST = 18


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text for the point ``(x, y)`` of the drawing (pixels)."""

    x: float
    y: float
    lines: tuple[str, ...]

    @property
    def width(self) -> float:
        return max(width_of(line, SIZE) for line in self.lines) + 8


def short(name: str) -> str:
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def rows_of(labels: Sequence[Label], left: float, right: float) -> list[list[tuple[Label, float]]]:
    """The labels with the ``x`` of their middle, in as few rows as a greedy choice finds."""
    rows: list[list[tuple[Label, float]]] = []
    for label in sorted(labels, key=lambda label: (label.x, label.lines)):
        middle = min(max(label.x, left + label.width / 2), right - label.width / 2)
        for row in rows:
            last, at = row[-1]
            # A little to the right of its point is near enough.
            free = at + (last.width + label.width) / 2
            if free <= min(middle + 34, right - label.width / 2):
                row.append((label, max(middle, free)))
                break
        else:
            rows.append([(label, middle)])
    return rows


def height_of(rows: Sequence[Sequence[tuple[Label, float]]]) -> float:
    return sum(max(len(label.lines) for label, _ in row) * 12 + 4 for row in rows)


def draw(
    parent: ET.Element, rows: Sequence[Sequence[tuple[Label, float]]], edge: float, *, above: bool
) -> None:
    """The rows above the drawing whose upper edge is ``edge``, or below its lower edge."""
    y = edge
    for row in rows:
        height = max(len(label.lines) for label, _ in row) * 12 + 4
        top = y - height if above else y
        for label, middle in row:
            # To the near side of the text block.
            start = top + len(label.lines) * 12 + 1 if above else top + 2
            line(parent, (middle, start), (label.x, label.y), stroke=HAIR, stroke_width=0.8)
            for number, content in enumerate(label.lines):
                text(
                    parent, middle, top + 10 + 12 * number, content, SIZE,
                    text_anchor="middle", fill=INK, font_weight="400" if number else "600",
                )  # fmt: skip
        y = top if above else y + height
