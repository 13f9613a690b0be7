"""The loading plan: the boat from above, from the side and from astern, on one scale.

Pure: numbers in, SVG out. Bow to the right, so port is at the top, and all long views share one
axis. What matters is told by shape, hatching and words; colour only repeats it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from schemas.units import Dimension, System
from schemas.written import plain, shown
from service.pages import labels, marks, svg
from service.pages import texts as t
from service.pages.scene import Attitude, Place, Scene, Water
from service.pages.svg import HAIR, HULL, INK, PAPER, QUIET, SURF, WATER, Point
from service.pages.words import attitude_words, describe, height, sitting, unplaced

WIDTH = 400.0
LEFT, RIGHT = 58.0, 386.0
"""Where the transom and the stem stand (pixels)."""

Array = NDArray[np.float64]
Draw = Callable[[ET.Element, float], float]


def loading_plan(scene: Scene, system: System, name: str = "plan") -> str:
    """The picture as SVG text. ``name`` begins its ids."""
    return svg.written(_Plan(scene, system, name).root)


class _Plan:
    """One drawing in the making: the scale, and how far down the page it has come."""

    def __init__(self, scene: Scene, system: System, name: str) -> None:
        hull = scene.boat.hull
        self.scene, self.system, self.name = scene, system, name
        self.scale = min((RIGHT - LEFT) / hull.length, 150.0 / hull.beam)
        self.start = hull.x_min
        title = t.PLAN_TITLE.format(boat=scene.boat.name)
        self.root = svg.picture(name, WIDTH, 0, title, describe(scene, system))
        self.hatch = svg.hatch(self.root, f"{name}-water")
        bottom = self._head()
        for view in (self._water, self._people, self._side, self._astern):
            bottom = view(bottom)
        self._close(bottom)

    def _close(self, height: float) -> None:
        whole = svg.number(height)
        self.root.set("height", whole)
        self.root.set("viewBox", f"0 0 {svg.number(WIDTH)} {whole}")
        paper = self.root.find("rect")
        if paper is not None:
            paper.set("height", whole)

    def _x(self, metres: float) -> float:
        return LEFT + (metres - self.start) * self.scale

    def _length(self, metres: float) -> str:
        return height(metres, self.system)

    def _head(self) -> float:
        name = self.scene.boat.name
        svg.text(self.root, 14, 20, name if len(name) <= 40 else name[:39] + "…", 15,
                 font_weight="700")  # fmt: skip
        head = t.PLAN_HEAD if self.scene.usable else t.PLAN_HEAD_NOT
        svg.text(self.root, 14, 35, head, 11, fill=QUIET if self.scene.usable else INK,
                 font_weight="400" if self.scene.usable else "700")  # fmt: skip
        marks.gravity(self.root, 170, 31)
        svg.text(self.root, 181, 35, t.PLAN_GRAVITY, 10.5, fill=QUIET)
        self._scale_bar()
        return 42

    def _scale_bar(self) -> None:
        length, words = (1.0, "1 m") if self.system is System.METRIC else (0.9144, "3 ft")
        end = RIGHT
        start = end - length * self.scale
        svg.line(self.root, (start, 30), (end, 30), stroke_width=1.5)
        for x in (start, end):
            svg.line(self.root, (x, 26), (x, 34), stroke_width=1.5)
        svg.text(self.root, (start + end) / 2, 23, words, 10.5, text_anchor="middle")

    def _section(self, top: float, head: str, key: str = "") -> float:
        svg.line(self.root, (14, top + 4), (RIGHT, top + 4), stroke=INK, stroke_width=0.8)
        svg.text(self.root, 14, top + 18, head, 12, font_weight="700")
        if key:
            svg.text(self.root, RIGHT, top + 18, key, 10, fill=QUIET, text_anchor="end")
        return top + 24

    # From above

    def _from_above(
        self, top: float, of: Iterable[tuple[float, float, tuple[str, ...]]], draw: Draw
    ) -> float:
        """The boat's outline with ``draw`` in it and labels ``(x, y, lines)`` (m) around it."""
        half = self.scene.boat.hull.beam / 2 * self.scale
        above: list[tuple[float, float, tuple[str, ...]]] = []
        below: list[tuple[float, float, tuple[str, ...]]] = []
        for item in sorted(of, key=lambda item: -abs(item[1])):
            port = item[1] > 0 or (item[1] == 0 and len(above) <= len(below))
            (above if port else below).append(item)

        def rows(
            items: list[tuple[float, float, tuple[str, ...]]], middle: float
        ) -> list[list[tuple[labels.Label, float]]]:
            made = [
                labels.Label(self._x(x), middle - y * self.scale, lines) for x, y, lines in items
            ]
            return labels.rows_of(made, 50, WIDTH - 6)

        middle = top + labels.height_of(rows(above, 0)) + 6 + half
        group = svg.node(self.root, "g")
        self._outline(group, middle)
        upper, lower = rows(above, middle), rows(below, middle)
        labels.draw(group, upper, middle - half - 4, above=True)
        labels.draw(group, lower, middle + half + 4, above=False)
        draw(group, middle)
        return middle + half + 4 + labels.height_of(lower) + 2

    def _outline(self, group: ET.Element, middle: float) -> None:
        outline = self.scene.boat.hull.outline
        port = [(self._x(x), middle - y * self.scale) for x, y in outline]
        starboard = [(x, 2 * middle - y) for x, y in reversed(port)]
        svg.node(group, "path", d=svg.path([*port, *starboard], closed=True), fill=HULL,
                 stroke=INK, stroke_width=1.6, stroke_linejoin="round")  # fmt: skip
        svg.line(group, (LEFT, middle), (port[-1][0], middle), stroke=HAIR, stroke_width=0.8,
                 stroke_dasharray="7 3 2 3")  # fmt: skip

    def _water(self, top: float) -> float:
        top = self._section(top, t.PLAN_WATER, t.PLAN_WATER_KEY)
        tanks = [(tank.x, tank.y, self._tank_lines(tank)) for tank in self.scene.water]

        def draw(group: ET.Element, middle: float) -> float:
            for tank in self.scene.water:
                self._tank(group, tank, middle)
            self._plates(group, middle)
            self._wave(group, middle)
            centre = self.scene.at_rest.loading
            marks.gravity(group, self._x(centre.x), middle - centre.y * self.scale)
            return middle

        return self._from_above(top, tanks, draw)

    def _tank_lines(self, tank: Water) -> tuple[str, ...]:
        now, fill = plain(tank.now * 100, 0), plain(tank.fill * 100, 0)
        volume = shown(tank.volume, Dimension.VOLUME, self.system, 0)
        return labels.short(tank.name), f"{now} → {fill} %", volume

    def _tank(self, group: ET.Element, tank: Water, middle: float) -> None:
        """The tank to scale, its fill from aft forward; a square where its size is unknown."""
        known = tank.length > 0 and tank.width > 0
        length, width = (tank.length, tank.width) if known else (0.6, 0.6)
        x, y = self._x(tank.x - length / 2), middle - (tank.y + width / 2) * self.scale
        full, high = length * self.scale, width * self.scale
        svg.node(group, "rect", x=x, y=y, width=full, height=high, fill=PAPER)
        fill, now = min(tank.fill, 1.0), min(tank.now, 1.0)
        svg.node(group, "rect", x=x, y=y, width=full * fill, height=high, fill=self.hatch)
        if tank.now > 0:
            at = x + full * now
            svg.line(group, (at, y - 2), (at, y + high + 2), stroke_width=1.8,
                     stroke_dasharray="3 2")  # fmt: skip
        svg.node(group, "rect", x=x, y=y, width=full, height=high, fill="none", stroke=WATER,
                 stroke_width=1.4, **({} if known else {"stroke_dasharray": "2 2"}))  # fmt: skip
        words = plain(tank.fill * 100, 0)
        wide = svg.width_of(words, 12) + 6
        cx, cy = x + full / 2, y + high / 2
        svg.node(group, "rect", x=cx - wide / 2, y=cy - 8, width=wide, height=16, rx=2,
                 fill=PAPER, stroke=WATER, stroke_width=0.8)  # fmt: skip
        svg.text(group, cx, cy + 4.3, words, 12, text_anchor="middle", font_weight="700")

    def _plates(self, group: ET.Element, middle: float) -> None:
        for _, y, chord, span, travel in self.scene.plates:
            top = middle - (y + span / 2) * self.scale
            long = max(chord * self.scale, 8)
            svg.node(group, "rect", x=LEFT - long, y=top, width=long, height=span * self.scale,
                     fill=INK if travel else PAPER, stroke=INK, stroke_width=1.2)  # fmt: skip
            words = f"{plain(travel * 100, 0)} %" if travel else t.PLATE_UP
            svg.text(group, LEFT - long - 4, middle - y * self.scale + 4, words, 11,
                     text_anchor="end", font_weight="700")  # fmt: skip

    def _wave(self, group: ET.Element, middle: float) -> None:
        """Crests on the side where the ridden wave stands, beside the plates."""
        if self.scene.surf_side is None:
            return
        sign = -1 if self.scene.surf_side == "port" else 1
        base = middle + sign * (self.scene.boat.hull.beam / 2 * self.scale)
        for number in range(3):
            x, y = 12.0 + 9 * number, base + sign * (17 + 2 * number)
            svg.node(group, "path", d=f"M{x:.1f} {y:.1f} q4 {-11 * sign} 17 {-13 * sign}",
                     fill="none", stroke=SURF, stroke_width=2.6,
                     stroke_linecap="round")  # fmt: skip
        svg.text(group, 12, base + (33 if sign > 0 else -25), t.PLAN_WAVE, 11, font_weight="700")

    def _people(self, top: float) -> float:
        top = self._section(top, t.PLAN_PEOPLE, t.PLAN_PEOPLE_KEY)
        places = [(place.x, place.y, self._place_lines(place)) for place in self.scene.places]

        def draw(group: ET.Element, middle: float) -> float:
            for place in self.scene.places:
                self._place(group, place, middle)
            for move in self.scene.moves:
                self._move(group, move.start, move.end, str(len(move.moving)), middle)
            for shift in self.scene.shifts:
                self._move(group, shift.start, shift.end, t.PLAN_LOAD_MARK, middle)
            return middle

        bottom = self._from_above(top, places, draw)
        for words in unplaced(self.scene):
            svg.text(self.root, 14, bottom + 9, words, 11, font_weight="700")
            bottom += 14
        return bottom

    def _place_lines(self, place: Place) -> tuple[str, ...]:
        """The seat and who sits there; of a head count what it is used for, in one line."""
        said = sitting(place, labels.LONGEST, listed=self.scene.listed)
        name = labels.short(place.name)
        if self.scene.listed:
            return name, *map(labels.short, said)
        return (" ".join([name, *(f"({each})" for each in said)]),)

    def _place(self, group: ET.Element, place: Place, middle: float) -> None:
        x, y = self._x(place.x), middle - place.y * self.scale
        taken = len(place.seated) > 0
        svg.node(group, "circle", cx=x, cy=y, r=9.5 if taken else 6.5, fill=INK if taken else PAPER,
                 stroke=INK if taken else QUIET, stroke_width=1.4)  # fmt: skip
        if taken:
            svg.text(group, x, y + 4.3, str(len(place.seated)), 12, text_anchor="middle",
                     fill=PAPER, font_weight="700")  # fmt: skip

    def _move(self, group: ET.Element, start: Place, goal: Place, mark: str, middle: float) -> None:
        a = np.array([self._x(start.x), middle - start.y * self.scale])
        b = np.array([self._x(goal.x), middle - goal.y * self.scale])
        way = b - a
        far = float(np.hypot(*way))
        if far < 1:
            return
        way /= far
        a, b = a + way * 8, b - way * 12
        across = np.array([-way[1], way[0]])
        bend = (a + b) / 2 + across * min(far * 0.18, 16)
        end = b - bend
        end = end / np.hypot(*end)
        wing = np.array([-end[1], end[0]])
        head = [b, b - 8 * end + 4.5 * wing, b - 8 * end - 4.5 * wing]
        d = svg.path([tuple(a)]) + f" Q{bend[0]:.1f} {bend[1]:.1f} {b[0]:.1f} {b[1]:.1f}"
        for colour, width in ((PAPER, 5.0), (SURF, 2.2)):
            svg.node(group, "path", d=d, fill="none", stroke=colour, stroke_width=width)
        svg.node(group, "path", d=svg.path([tuple(point) for point in head], closed=True),
                 fill=SURF, stroke=PAPER, stroke_width=0.8)  # fmt: skip
        at = (a + 2 * bend + b) / 4
        svg.node(group, "circle", cx=at[0], cy=at[1], r=6.5, fill=PAPER, stroke=SURF)
        svg.text(group, at[0], at[1] + 4, mark, 11, text_anchor="middle",
                 font_weight="700")  # fmt: skip

    # As she lies in the water

    def _side(self, top: float) -> float:
        top = self._section(top, t.PLAN_SIDE)
        rest, attitude = self.scene.at_rest, self.scene.attitude
        if attitude is None or rest.freeboard is None:
            words = t.PLAN_NO_ATTITUDE.format(state=t.STATES[rest.status.value])
            svg.text(self.root, 14, top + 20, words, 13, font_weight="700")
            return top + 34
        hull = self.scene.boat.hull
        sheer = hull.sheer * np.array([1.0, -1.0, 1.0])
        keel = np.array([(x, 0.0, points[0, 1]) for x, points in hull.stations])
        high = float(attitude.above_water(sheer).max()) * self.scale
        deep = float(-attitude.above_water(keel).min()) * self.scale
        water = top + 18 + high

        def at(points: Array) -> list[Point]:
            along, above = attitude.forward(points), attitude.above_water(points)
            return [(self._x(x), water - z * self.scale) for x, z in zip(along, above, strict=True)]

        group = svg.node(self.root, "g")
        marks.sea(group, 14, RIGHT, water, deep + 10)
        body = [*at(sheer), *reversed(at(keel))]
        svg.node(group, "path", d=svg.path(body, closed=True), fill=HULL, stroke=INK,
                 stroke_width=1.6, stroke_linejoin="round", fill_opacity=0.8)  # fmt: skip
        marks.waterline(group, 14, RIGHT, water)
        loading = rest.loading
        marks.gravity(group, *at(np.array([[loading.x, loading.y, loading.z]]))[0])
        ends = at(sheer[[0, -1]])
        board = rest.freeboard
        for (x, y), value, pattern, anchor, away in (
            (ends[0], board.stern, t.PLAN_STERN_FREEBOARD, "end", -6.0),
            (ends[1], board.bow, t.PLAN_BOW_FREEBOARD, "end", -10.0),
        ):
            words = pattern.format(length=self._length(value))
            marks.height(group, x if away < -6 else x - 6, y, water)
            if away < -6:
                svg.text(group, x - 4, y - 5, words, 11, text_anchor=anchor, font_weight="600")
            else:
                svg.text(group, 14, y - 7, words, 11, font_weight="600")
        return water + deep + 14

    def _astern(self, top: float) -> float:
        rest, attitude = self.scene.at_rest, self.scene.attitude
        if attitude is None or rest.freeboard is None:
            return top + 4
        top = self._section(top, t.PLAN_ASTERN)
        hull = self.scene.boat.hull
        middle = (hull.x_min + hull.x_max) / 2
        amidships = int(np.argmin(np.abs(hull.sheer[:, 0] - middle)))
        sections = [self._ring(amidships), self._ring(0)]
        edges = [float(np.interp(middle, hull.sheer[:, 0], hull.sheer[:, k])) for k in (1, 2)]
        deck = np.array([(middle, edges[0], edges[1]), (middle, -edges[0], edges[1])])
        every = np.concatenate([*sections, deck])
        above = attitude.above_water(every)
        high, deep = float(above.max()) * self.scale, float(-above.min()) * self.scale
        water, centre = top + 8 + high, 128.0

        def at(points: Array) -> list[Point]:
            return [
                (centre - u * self.scale, water - z * self.scale)
                for u, z in zip(attitude.to_port(points), attitude.above_water(points), strict=True)
            ]

        group = svg.node(self.root, "g")
        left, right = 14.0, 242.0
        marks.sea(group, left, right, water, deep + 8)
        for number, ring in enumerate(sections):
            svg.node(group, "path", d=svg.path(at(ring), closed=True), fill=HULL, stroke=INK,
                     stroke_width=1.6 if number else 0.9, stroke_linejoin="round",
                     fill_opacity=0.8)  # fmt: skip
        marks.waterline(group, left, right, water)
        loading = rest.loading
        marks.gravity(group, *at(np.array([[loading.x, loading.y, loading.z]]))[0])
        port, starboard = at(deck)
        svg.line(group, port, starboard, id_=f"{self.name}-deck", stroke_width=1.0,
                 stroke_dasharray="4 2")  # fmt: skip
        for (x, y), value, away in (
            (port, rest.freeboard.port, -1), (starboard, rest.freeboard.starboard, 1)
        ):  # fmt: skip
            marks.height(group, x + 7 * away, y, water)
            svg.text(group, x + 11 * away, water - 4, self._length(value), 11,
                     text_anchor="end" if away < 0 else "start", font_weight="600")  # fmt: skip
        self._figures(top, attitude)
        return max(water + deep + 12, top + 96)

    def _ring(self, number: int) -> Array:
        """A whole section in body axes, (n, 3): port sheer over the keel to starboard sheer."""
        x, points = self.scene.boat.hull.stations[number]
        port = [(x, y, z) for y, z in reversed(points)]
        return np.array([*port, *((x, -y, z) for y, z in points)])

    def _figures(self, top: float, attitude: Attitude) -> None:
        rest, system = self.scene.at_rest, self.system
        lean, trim = attitude_words(
            round(math.degrees(attitude.heel), 4), round(math.degrees(attitude.trim), 4)
        )
        least = rest.freeboard.least if rest.freeboard else 0.0
        rows = [
            (t.PLAN_HEEL, lean),
            (t.PLAN_TRIM, trim),
            (t.PLAN_LEAST, self._length(least)),
            (t.PLAN_DRAFT, self._length(rest.draft_amidships or 0.0)),
            (t.PLAN_MASS, shown(rest.displacement, Dimension.MASS, system, 0)),
        ]
        for number, (label, value) in enumerate(rows):
            y = top + 10 + 18 * number
            svg.text(self.root, 252, y, label, 10, fill=QUIET)
            svg.text(self.root, RIGHT, y, value, 11.5, text_anchor="end", font_weight="700")
            svg.line(self.root, (252, y + 4.5), (RIGHT, y + 4.5), stroke=HAIR, stroke_width=0.6)
