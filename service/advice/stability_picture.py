"""How much the loaded boat has in hand: righting arms, downflooding, everybody to one side.

The lines of a standard are quoted for reference. Comparing a number with one of them is not an
assessment to that standard, which sets its own loads, openings and procedures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import Person
from service.boats.model import Side
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import righting_arms, sheer_immersion_angle
from service.hydrostatics.weights import Loading

Array = NDArray[np.float64]

FURTHEST = math.radians(60.0)
STEP = math.radians(2.0)
NOT_ASSESSED = "reference line, not an assessment to the standard"


@dataclass(frozen=True, slots=True)
class ReferenceLine:
    """A number of the boat beside the line of a standard, both in ``unit``: rad or m.

    ``value`` is ``None`` where the boat has none. ``note`` always says what it is not.
    """

    name: str
    value: float | None
    line: float
    unit: str
    source: str
    note: str = NOT_ASSESSED


@dataclass(frozen=True, slots=True)
class Arms:
    """Righting arms for heel towards one side of the surf frame: radians, m.

    ``angles`` and ``gz`` (``None`` where the hull cannot float) to 60° or to ``downflooding``,
    the heel at which the sheer goes under (``None``: dry all the way to 90°). ``gz`` is positive
    where it turns the boat back upright. ``greatest`` and ``at``: the greatest arm and its angle,
    up to downflooding. ``from_angle`` to ``to_angle``: where the arm is positive without a
    break, the range of stability, ended by downflooding; ``None`` where it never is.
    """

    side: Side
    angles: tuple[float, ...]
    gz: tuple[float | None, ...]
    downflooding: float | None
    greatest: float | None
    at: float | None
    from_angle: float | None
    to_angle: float | None

    @property
    def range(self) -> float:
        if self.from_angle is None or self.to_angle is None:
            return 0.0
        return self.to_angle - self.from_angle


@dataclass(frozen=True, slots=True)
class OffsetLoad:
    """Everybody to one side: how she lies then. ``heel`` (radians) is positive to that side.

    ``seated`` found a place on a seat of that side, ``standing`` stand at its outermost seats.
    """

    side: Side
    floats: bool
    heel: float | None
    least_freeboard: float | None
    seated: int
    standing: int


@dataclass(frozen=True, slots=True)
class StabilityPicture:
    """Both sides of the surf frame: the surf side is ``Side.PORT`` here.

    ``offset`` is the worse of the two sides.
    """

    arms: tuple[Arms, Arms]
    offset: OffsetLoad
    offsets: tuple[OffsetLoad, OffsetLoad]
    downflooding_height: float | None
    lines: tuple[ReferenceLine, ...]


def offset_load_heel_2015(length: float) -> float:
    """Heel (radians) of ISO 12217-1:2015 for the offset-load test; ``length`` of hull L_H in m."""
    return math.radians(11.5 + (24.0 - length) ** 3 / 520.0)


def offset_load_heel_2002(length: float) -> float:
    """The same of the older edition."""
    return math.radians(10.0 + (24.0 - length) ** 3 / 600.0)


def downflooding_height_line(length: float) -> float:
    """About L_H / 15 (m)."""
    return length / 15.0


def stability_picture(condition: LoadingCondition, attitude: Attitude) -> StabilityPicture:
    """Of the boat as loaded; ``attitude`` is the condition's.

    The downflooding openings of the boat are not known: the sheer is taken for the only one. The
    length over all stands for L_H, the length of the hull.
    """
    hull, loading, water = condition.boat.hull, attitude.loading, condition.density
    arms = (_arms(hull, loading, water, Side.PORT), _arms(hull, loading, water, Side.STARBOARD))
    offsets = (
        _offset(condition, Side.PORT),
        _offset(condition, Side.STARBOARD),
    )
    worst = max(offsets, key=_severity)
    length = condition.boat.length_overall
    board = attitude.freeboard
    height = None if board is None else board.least
    heel = worst.heel if worst.floats else None
    return StabilityPicture(
        arms=arms,
        offset=worst,
        offsets=offsets,
        downflooding_height=height,
        lines=(
            ReferenceLine(
                "offset_load_heel",
                heel,
                offset_load_heel_2015(length),
                "rad",
                "ISO 12217-1:2015, 11.5 + (24 − L_H)³/520 degrees (as read second-hand)",
            ),
            ReferenceLine(
                "offset_load_heel",
                heel,
                offset_load_heel_2002(length),
                "rad",
                "ISO 12217-1, older edition, 10 + (24 − L_H)³/600 degrees (as read second-hand)",
            ),
            ReferenceLine(
                "downflooding_height",
                height,
                downflooding_height_line(length),
                "m",
                "ISO 12217-1, about L_H/15 (as read second-hand)",
            ),
        ),
    )


def _arms(hull: Hull, loading: Loading, water: float, side: Side) -> Arms:
    name: Literal["port", "starboard"] = "port" if side is Side.PORT else "starboard"
    sign = -1.0 if side is Side.PORT else 1.0
    flooding = sheer_immersion_angle(hull, loading, water, name)
    end = FURTHEST if flooding is None else min(FURTHEST, flooding)
    angles = np.array([*np.arange(0.0, end - 1e-9, STEP), end])
    masked = righting_arms(hull, loading, water, sign * angles)
    gz = np.where(np.ma.getmaskarray(masked), np.nan, sign * masked.filled(0.0))
    greatest, at = _peak(angles, gz)
    from_angle, to_angle = _positive(angles, gz)
    return Arms(
        side=side,
        angles=tuple(angles.tolist()),
        gz=tuple(None if math.isnan(arm) else arm for arm in gz.tolist()),
        downflooding=flooding,
        greatest=greatest,
        at=at,
        from_angle=from_angle,
        to_angle=to_angle,
    )


def _peak(angles: Array, gz: Array) -> tuple[float | None, float | None]:
    """The greatest arm and its angle, by the parabola through the three points about it."""
    if np.isnan(gz).all():
        return None, None
    i = int(np.nanargmax(gz))
    if 0 < i < len(gz) - 1 and np.isfinite(gz[i - 1 : i + 2]).all():
        fit = np.polynomial.Polynomial.fit(angles[i - 1 : i + 2], gz[i - 1 : i + 2], 2)
        tops = fit.deriv().roots()
        if len(tops) == 1 and angles[i - 1] <= tops[0].real <= angles[i + 1]:
            return float(fit(tops[0].real)), float(tops[0].real)
    return float(gz[i]), float(angles[i])


def _positive(angles: Array, gz: Array) -> tuple[float | None, float | None]:
    """First stretch of positive arms, its ends where the curve crosses zero (linearly)."""
    positive = np.nan_to_num(gz, nan=-1.0) > 0.0
    if not positive.any():
        return None, None
    first = int(np.argmax(positive))
    after = np.flatnonzero(~positive[first:])
    last = len(gz) - 1 if not len(after) else first + int(after[0]) - 1
    start, end = float(angles[first]), float(angles[last])
    if first > 0 and math.isfinite(gz[first - 1]):
        start = _zero(angles, gz, first - 1)
    if last + 1 < len(gz) and math.isfinite(gz[last + 1]):
        end = _zero(angles, gz, last)
    return start, end


def _zero(angles: Array, gz: Array, i: int) -> float:
    part = gz[i] / (gz[i] - gz[i + 1])
    return float(angles[i] + part * (angles[i + 1] - angles[i]))


def _offset(condition: LoadingCondition, side: Side) -> OffsetLoad:
    people, standing = to_one_side(condition, side)
    attitude = replace(condition, people=people).attitude()
    lean, board = attitude.lean, attitude.freeboard
    return OffsetLoad(
        side=side,
        floats=attitude.floats,
        heel=None if lean is None else side.sign * math.radians(lean),
        least_freeboard=None if board is None else board.least,
        seated=len(people) - standing,
        standing=standing,
    )


def to_one_side(condition: LoadingCondition, side: Side) -> tuple[tuple[Person, ...], int]:
    """Everybody on the seats of one side, the outermost first, the heaviest furthest out.

    Where places run out, or there is no seat on that side, people stand at the outermost seats:
    their breadth, either side's, and amidships of them. Also returns how many stand.
    """
    seats, sign = condition.boat.seats, side.sign
    there = [i for i, seat in enumerate(seats) if sign * seat.y > 0.0]
    there.sort(key=lambda i: -sign * seats[i].y)
    places = [i for i in there for _ in range(seats[i].places)]
    breadth = max((abs(seat.y) for seat in seats), default=condition.boat.beam / 2.0)
    outermost = [seat.x for seat in seats if abs(seat.y) >= breadth - 1e-9]
    x = sum(outermost) / len(outermost) if outermost else condition.boat.light.x
    moved = list(condition.people)
    for number, i in enumerate(sorted(range(len(moved)), key=lambda i: -moved[i].kilograms)):
        if number < len(places):
            moved[i] = moved[i].on(seats[places[number]].id)
        else:
            moved[i] = replace(moved[i], seat=None, x=x, y=sign * breadth)
    return tuple(moved), max(len(moved) - len(places), 0)


def _severity(offset: OffsetLoad) -> tuple[float, float, float]:
    heel = math.inf if offset.heel is None else offset.heel
    low = -math.inf if offset.least_freeboard is None else offset.least_freeboard
    return 0.0 if offset.floats else 1.0, heel, -low
