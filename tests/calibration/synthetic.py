"""Synthetic boats with known truth, and what is read on them with errors of known size."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from schemas.fleet import demo_fleet
from service.boats.model import Boat, Light
from service.calibration.predict import predict
from service.calibration.survey import Condition, Freeboard, Heel, Particulars, Survey, Unknown
from service.hydrostatics.weights import Weight

Array = NDArray[np.float64]

WATER = 998.0
FLEET = {boat.id: boat for boat in demo_fleet()}


def before(light: Light) -> Array:
    """The unknowns as the particulars have them."""
    return np.array([light.mass, light.x, light.y, light.z, 0.0, 0.0, 0.0])


def fuel(boat: Boat) -> Weight:
    return Weight("fuel", 100.0, boat.fuel.x, boat.fuel.y, boat.fuel.z)


def full_tanks(boat: Boat) -> tuple[Weight, ...]:
    return tuple(Weight(t.id, t.capacity * WATER, t.x, t.y, t.z) for t in boat.tanks)


def boards(boat: Boat) -> tuple[Freeboard, ...]:
    """Five to be read: stern and middle on both sides, and the bow."""
    hull = boat.hull
    middle = (hull.x_min + hull.x_max) / 2.0
    sides: tuple[tuple[float, bool], ...] = (
        (hull.x_min, True), (hull.x_min, False), (middle, True), (middle, False), (hull.x_max, True)
    )  # fmt: skip
    return tuple(Freeboard(x, "port" if port else "starboard", 0.0) for x, port in sides)


def dock(boat: Boat) -> Survey:
    """Freeboards empty and with full tanks, and a person moved about for the heel."""
    empty = (fuel(boat),)
    heels = tuple(Heel(0.0, moment) for moment in (0.0, 75.0, 150.0, -75.0, -150.0))
    return Survey(
        (
            Condition(empty, WATER, boards(boat), heels),
            Condition(empty + full_tanks(boat), WATER, boards(boat)),
        )
    )


def freeboards_once(boat: Boat) -> Survey:
    """The least that a survey can be: freeboards, empty, once."""
    return Survey((Condition((fuel(boat),), WATER, boards(boat)),))


def with_values(survey: Survey, values: Array) -> Survey:
    """The same readings with other values."""
    left = values.tolist()
    conditions = []
    for condition in survey.conditions:
        read = tuple(replace(board, height=left.pop(0)) for board in condition.freeboards)
        angles = tuple(replace(heel, angle=left.pop(0)) for heel in condition.heels)
        conditions.append(replace(condition, freeboards=read, heels=angles))
    return Survey(
        tuple(conditions), tuple(replace(direct, value=left.pop(0)) for direct in survey.direct)
    )


@dataclass(frozen=True, slots=True)
class Case:
    boat: Boat
    truth: Array
    survey: Survey


def drawn(rng: np.random.Generator, plan: Survey, boat: Boat, *, uniform: bool = False) -> Case:
    """A boat as far from her particulars as boats are, read with the stated errors.

    Truth and errors are normal with the stated standard deviations; with ``uniform`` the errors
    are uniform with the same.
    """
    spread = Particulars().sd(boat.hull, boat.light.mass)
    truth = before(boat.light) + spread * rng.standard_normal(len(Unknown))
    exact, _ = predict(boat.hull, truth, plan)
    error = (
        rng.uniform(-1.0, 1.0, len(exact)) * np.sqrt(3.0)
        if uniform
        else rng.standard_normal(len(exact))
    )
    return Case(boat, truth, with_values(plan, exact + plan.sd * error))
