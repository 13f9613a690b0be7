"""Arms, downflooding, offset load and reference lines.

Reference numbers: references.md's values for ISO 12217-1 (20.95° at L_H 7.0 m, read second-hand;
15.761° at 8.88 m from a published worksheet of the older edition); the box-shaped hull's exact
wall-sided righting arm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from service.advice.loading_condition import LoadingCondition
from service.advice.loading_plan import Plan, plan_loading
from service.advice.requests import Person
from service.advice.stability_picture import (
    FURTHEST,
    NOT_ASSESSED,
    StabilityPicture,
    downflooding_height_line,
    offset_load_heel_2002,
    offset_load_heel_2015,
    stability_picture,
    to_one_side,
)
from service.boats.model import Side, mirrored
from service.hydrostatics.stability import righting_arms
from tests.advice.boats import FLEET, WATER, asked, crew, floated, loading

BOATS = sorted(FLEET)


def planned(boat: str, people: int = 8) -> tuple[LoadingCondition, Plan]:
    found = loading(FLEET[boat], crew(*[84.0] * people))
    return found, plan_loading(found, asked(found))


def pictured(plan: Plan) -> StabilityPicture:
    return stability_picture(plan.condition, plan.attitude)


def test_offset_load_heel_of_the_standard() -> None:
    """ISO 12217-1:2015 at 7.0 m: 20.95°; the older edition's worksheet at 8.88 m: 15.761°."""
    assert math.degrees(offset_load_heel_2015(7.0)) == pytest.approx(20.95, abs=0.005)
    assert math.degrees(offset_load_heel_2002(8.88)) == pytest.approx(15.761, abs=0.0006)
    assert downflooding_height_line(7.5) == pytest.approx(0.5)


@pytest.mark.parametrize("boat", BOATS)
def test_each_line_says_that_it_is_no_assessment(boat: str) -> None:
    picture = pictured(planned(boat)[1])
    assert [line.name for line in picture.lines] == [
        "offset_load_heel", "offset_load_heel", "downflooding_height",
    ]  # fmt: skip
    for line in picture.lines:
        assert line.note == NOT_ASSESSED == "reference line, not an assessment to the standard"
        assert "ISO 12217-1" in line.source
    assert picture.lines[0].value == picture.offset.heel
    assert picture.lines[2].value == picture.downflooding_height


@pytest.mark.parametrize("boat", BOATS)
def test_the_range_begins_where_the_boat_lies(boat: str) -> None:
    """The curve to the side it leans to crosses zero at the boat's own heel."""
    _, plan = planned(boat)
    lean = plan.attitude.lean
    assert lean is not None
    picture = pictured(plan)
    leaning = picture.arms[0] if lean > 0 else picture.arms[1]
    assert leaning.from_angle is not None
    assert math.degrees(leaning.from_angle) == pytest.approx(abs(lean), abs=0.01)
    assert picture.arms[1 if lean > 0 else 0].from_angle == 0.0


@pytest.mark.parametrize("boat", BOATS)
def test_the_curve_ends_at_downflooding_where_the_sheer_is_at_the_water(boat: str) -> None:
    _, plan = planned(boat)
    for arms in pictured(plan).arms:
        assert arms.downflooding is not None
        assert arms.angles[-1] == min(arms.downflooding, FURTHEST)
        assert arms.to_angle == arms.angles[-1]
        assert arms.range == pytest.approx(arms.angles[-1] - (arms.from_angle or 0.0))


@pytest.mark.parametrize("boat", BOATS)
def test_the_greatest_arm_is_no_less_than_any_on_a_fine_curve(boat: str) -> None:
    found, plan = planned(boat, 3)
    for arms, sign in zip(pictured(plan).arms, (-1, 1), strict=True):
        fine = np.linspace(0.0, arms.angles[-1], 121)
        curve = sign * righting_arms(
            found.boat.hull, plan.attitude.loading, WATER, sign * fine
        ).filled(np.nan)
        assert arms.greatest == pytest.approx(float(np.nanmax(curve)), abs=2e-4)
        assert arms.at is not None
        assert abs(arms.at - float(fine[int(np.nanargmax(curve))])) < math.radians(1.0)


def test_the_offset_load_floats_the_same_apart_from_the_picture() -> None:
    found, plan = planned("demo-7m")
    offset = pictured(plan).offsets[0]
    seats = found.boat.seats
    port = sorted((s for s in seats if s.y > 0), key=lambda s: -s.y)
    places = [seat.id for seat in port for _ in range(seat.places)]
    assert (offset.seated, offset.standing) == (7, 1)
    people = [Person(84.0, seat) for seat in places[:7]]
    outermost = max(abs(seat.y) for seat in seats)
    x = float(np.mean([seat.x for seat in seats if abs(seat.y) == outermost]))
    people.append(Person(84.0, x=x, y=outermost))
    attitude = floated(found, people, plan.fills)
    assert attitude.lean is not None
    assert attitude.freeboard is not None
    assert offset.heel == pytest.approx(math.radians(attitude.lean), abs=1e-12)
    assert offset.least_freeboard == pytest.approx(attitude.freeboard.least, abs=1e-12)


@pytest.mark.parametrize("side", list(Side))
def test_nobody_is_left_on_the_other_side(side: Side) -> None:
    found = loading(FLEET["demo-8m"], crew(*[84.0] * 14))
    people, standing = to_one_side(found, side)
    sign = 1.0 if side is Side.PORT else -1.0
    assert all(sign * w.y > 0.0 for w in found.people_weights(people))
    assert standing == sum(p.seat is None for p in people) == 14 - 8


@pytest.mark.parametrize("boat", BOATS)
def test_everybody_to_one_side_is_worse_than_the_plan(boat: str) -> None:
    _, plan = planned(boat)
    picture = pictured(plan)
    board, lean = plan.attitude.freeboard, plan.attitude.lean
    assert board is not None
    assert lean is not None
    assert picture.offset.heel == max(o.heel or 0.0 for o in picture.offsets)
    assert picture.offset.heel is not None
    assert math.degrees(picture.offset.heel) > abs(lean)
    assert picture.offset.least_freeboard is not None
    assert picture.offset.least_freeboard < board.least
    # The lean is to the surf side, so everybody to that side is the worse case.
    assert picture.offset.side is Side.PORT


def test_a_mirrored_boat_gives_the_same_picture_in_the_surf_frame() -> None:
    people = crew(*[84.0] * 5)
    found = loading(FLEET["demo-7m"], people)
    other = loading(mirrored(FLEET["demo-7m"]), people, side=Side.STARBOARD)
    first, second = (pictured(plan_loading(c, asked(c))) for c in (found, other))
    assert first == second


def test_a_load_that_sinks_the_boat_has_no_arms() -> None:
    found = loading(FLEET["demo-6m"], crew(*[900.0] * 13))
    plan = plan_loading(found, asked(found))
    picture = pictured(plan)
    assert all(arms.greatest is None and arms.range == 0.0 for arms in picture.arms)
    assert not picture.offset.floats
    assert all(line.value is None for line in picture.lines)


def test_high_weight_shortens_the_range() -> None:
    found = loading(FLEET["demo-7m"], crew(84.0, 84.0))
    plan = plan_loading(found, asked(found))
    high = replace(plan, attitude=replace(
        plan.attitude, loading=replace(plan.attitude.loading, z=plan.attitude.loading.z + 0.3)
    ))  # fmt: skip
    low, raised = (pictured(p).arms[0] for p in (plan, high))
    assert raised.greatest is not None
    assert low.greatest is not None
    assert raised.greatest < low.greatest
    assert raised.range < low.range
