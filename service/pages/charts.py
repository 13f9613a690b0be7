"""Small charts for where looking beats reading. Pure: numbers in, SVG out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from schemas.written import plain
from service.pages import svg
from service.pages.svg import HAIR, INK, PALE_WATER, PAPER, QUIET, SURF, WATER, Point

LEFT, RIGHT, TOP, BOTTOM = 46.0, 388.0, 20.0, 38.0
WIDTH, HEIGHT = 400.0, 210.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A point of the curve that is named in the picture."""

    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class Axes:
    """What is drawn along each axis, with the ranges to show (data units)."""

    x: str
    y: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round numbers from ``low`` to ``high``: steps of 1, 2 or 5 times a power of ten."""
    span = high - low
    if span <= 0:
        return [low]
    raw = span / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def curve(
    name: str, title: str, says: str, axes: Axes, lines: Sequence[Sequence[Point]],
    marks: Sequence[Mark] = (), *, dots: bool = False,
    band: Sequence[tuple[float, float, float]] = (),
) -> str:  # fmt: skip
    """A line chart; each of ``lines`` is unbroken. ``marks`` are named points.

    ``band``: an area behind the lines, ``(x, low, high)``.
    """
    root = svg.picture(name, WIDTH, HEIGHT, title, says)
    if band:
        within = _Frame(axes)
        edge = [(x, low) for x, low, _ in band] + [(x, high) for x, _, high in reversed(band)]
        svg.node(root, "path", d=svg.path([within(point) for point in edge], closed=True),
                 fill=PALE_WATER, stroke="none")  # fmt: skip
    at = _frame(root, axes)
    for points in lines:
        svg.node(root, "path", d=svg.path([at(point) for point in points]), fill="none",
                 stroke=WATER, stroke_width=2.4, stroke_linejoin="round")  # fmt: skip
        for x, y in [at(point) for point in points] if dots else ():
            svg.node(root, "circle", cx=x, cy=y, r=2.6, fill=PAPER, stroke=WATER, stroke_width=1.6)
    for mark in marks:
        x, y = at((mark.x, mark.y))
        svg.line(root, (x, HEIGHT - BOTTOM), (x, y), stroke=SURF, stroke_width=1.2,
                 stroke_dasharray="3 2")  # fmt: skip
        svg.node(root, "circle", cx=x, cy=y, r=4.5, fill=SURF, stroke=PAPER, stroke_width=1.2)
        left = x > (LEFT + RIGHT) / 2
        svg.text(root, x - 7 if left else x + 7, max(y - 7, TOP + 9), mark.words, 11,
                 text_anchor="end" if left else "start", font_weight="700", stroke=PAPER,
                 stroke_width=3, paint_order="stroke")  # fmt: skip
    return svg.written(root)


class _Frame:
    """Where a point of the data stands in the picture."""

    def __init__(self, axes: Axes) -> None:
        self.axes = axes

    def __call__(self, point: Point) -> Point:
        (x0, x1), (y0, y1) = self.axes.x_range, self.axes.y_range
        x = LEFT + (point[0] - x0) / (x1 - x0) * (RIGHT - LEFT)
        y = HEIGHT - BOTTOM - (point[1] - y0) / (y1 - y0) * (HEIGHT - BOTTOM - TOP)
        return x, y


def _frame(root: ET.Element, axes: Axes) -> _Frame:
    at = _Frame(axes)
    for tick in ticks(*axes.y_range):
        y = at((axes.x_range[0], tick))[1]
        zero = abs(tick) < 1e-12
        svg.line(root, (LEFT, y), (RIGHT, y), stroke=INK if zero else HAIR,
                 stroke_width=1.2 if zero else 0.6)  # fmt: skip
        svg.text(root, LEFT - 6, y + 3.6, signed(tick), 10.5, text_anchor="end")
    for tick in ticks(*axes.x_range, 6):
        x = at((tick, axes.y_range[0]))[0]
        svg.line(root, (x, HEIGHT - BOTTOM), (x, HEIGHT - BOTTOM + 4), stroke_width=1)
        svg.text(root, x, HEIGHT - BOTTOM + 15, signed(tick), 10.5, text_anchor="middle")
    svg.line(root, (LEFT, HEIGHT - BOTTOM), (RIGHT, HEIGHT - BOTTOM), stroke_width=1)
    svg.text(root, RIGHT, HEIGHT - 6, axes.x, 10.5, text_anchor="end", fill=QUIET)
    svg.text(root, 4, TOP - 9, axes.y, 10.5, fill=QUIET)
    return at


def signed(value: float) -> str:
    """A tick's number with a real minus sign."""
    return plain(value, 2 if abs(value) < 10 else 0).replace("-", "−")


def bars(name: str, title: str, says: str, values: Mapping[str, float], unit: str) -> str:
    """Horizontal bars from zero, one a word, with their numbers."""
    row = 24.0
    height = row * len(values) + 16
    root = svg.picture(name, WIDTH, height, title, says)
    low, high = min(0.0, *values.values()), max(0.0, *values.values())
    span = (high - low) or 1.0
    left, right = 150.0, 335.0

    def at(value: float) -> float:
        return left + (value - low) / span * (right - left)

    for number, (word, value) in enumerate(values.items()):
        y = 8 + row * number
        start, end = sorted((at(0.0), at(value)))
        svg.node(root, "rect", x=start, y=y + 3, width=max(end - start, 1), height=row - 8,
                 fill=PALE_WATER, stroke=WATER, stroke_width=1.4)  # fmt: skip
        svg.text(root, 8, y + 15, word.replace("_", " "), 11.5)
        svg.text(root, 392, y + 15, f"{signed(value)} {unit}", 11.5, text_anchor="end",
                 font_weight="700")  # fmt: skip
    svg.line(root, (at(0.0), 4), (at(0.0), height - 8), stroke_width=1.2)
    return svg.written(root)


def waterfall(name: str, title: str, steps: Sequence[tuple[float, str]]) -> str:
    """Steps that add up, as floating bars on one line: ``(change, kind)``, the base first.

    The last bar is the sum, in ink. Falls are hatched, so grey print tells them from rises.
    """
    width, height = 220.0, 26.0
    total = sum(change for change, _ in steps)
    words = " ".join(signed(change) for change, _ in steps) + f" = {signed(total)}"
    root = svg.picture(name, width, height, title, words)
    hatched = svg.hatch(root, f"{name}-fall", SURF, PAPER)
    reached = [0.0]
    for change, _ in steps:
        reached.append(reached[-1] + change)
    low, high = min(reached), max(reached)
    span = (high - low) or 1.0
    column = width / (len(steps) + 1)

    def at(value: float) -> float:
        return height - 3 - (value - low) / span * (height - 6)

    svg.line(root, (0, at(max(low, 0.0))), (width, at(max(low, 0.0))), stroke=HAIR,
             stroke_width=0.8)  # fmt: skip
    for number, (change, _) in enumerate(steps):
        top, bottom = sorted((at(reached[number]), at(reached[number + 1])))
        svg.node(root, "rect", x=number * column + 2, y=top, width=column - 4,
                 height=max(bottom - top, 1), fill=PALE_WATER if change >= 0 else hatched,
                 stroke=WATER if change >= 0 else SURF, stroke_width=1)  # fmt: skip
    top, bottom = sorted((at(0.0 if low <= 0 <= high else low), at(total)))
    svg.node(root, "rect", x=len(steps) * column + 2, y=top, width=column - 4,
             height=max(bottom - top, 1.5), fill=INK)  # fmt: skip
    return svg.written(root)
