"""What is read at the dock, and what is unknown of the boat.

SI units and radians; axes and signs as in :mod:`service.hydrostatics`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.hydrostatics.hull import Hull
from service.hydrostatics.weights import Weight

Array = NDArray[np.float64]
T = TypeVar("T")
SideName = Literal["port", "starboard"]

TAPE = 0.005
"""Standard deviation (m) of a freeboard by tape in calm water. This project's own choice."""

PHONE = math.radians(0.2)
"""Standard deviation (radians) of a heel by phone or pendulum. This project's own choice."""


class Unknown(IntEnum):
    """What is fitted, in the order of every vector and matrix here.

    ``MASS`` (kg) and ``X, Y, Z`` (m): the light boat and her centre. ``DEPTH`` (m): how much higher
    the sheer is than the hull's form says. ``BREADTH``: all breadths over those of the form, less
    one. ``ZERO`` (radians): what the heel instrument shows upright.
    """

    MASS = 0
    X = 1
    Y = 2
    Z = 3
    DEPTH = 4
    BREADTH = 5
    ZERO = 6


@dataclass(frozen=True, slots=True)
class Freeboard:
    """Height (m) of the sheer above the water at ``x`` on one side, plumb, and its sd."""

    x: float
    side: SideName
    height: float
    sd: float = TAPE


@dataclass(frozen=True, slots=True)
class Heel:
    """A heel read (radians, starboard down), and its sd.

    ``moment`` (kg·m): mass times distance moved to port from where the condition has it.
    """

    angle: float
    moment: float = 0.0
    sd: float = PHONE


@dataclass(frozen=True, slots=True)
class Direct:
    """An unknown measured by itself: a weighbridge for ``MASS``, a tape ashore for ``DEPTH``."""

    unknown: Unknown
    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class Condition:
    """One known loading and what was read with it. ``weights``: all but the light boat."""

    weights: tuple[Weight, ...]
    density: float
    freeboards: tuple[Freeboard, ...] = ()
    heels: tuple[Heel, ...] = ()


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything read on one boat. Readings are numbered through in this order."""

    conditions: tuple[Condition, ...] = ()
    direct: tuple[Direct, ...] = ()

    @property
    def values(self) -> Array:
        """(n,): what was read."""
        return np.array([value for value, _ in self._readings()])

    @property
    def sd(self) -> Array:
        """(n,): standard deviation of each reading."""
        return np.array([sd for _, sd in self._readings()])

    def without(self, number: int) -> Survey:
        """The survey less one reading."""
        conditions: list[Condition] = []
        for condition in self.conditions:
            boards, heels = len(condition.freeboards), len(condition.heels)
            conditions.append(
                replace(
                    condition,
                    freeboards=_without(condition.freeboards, number),
                    heels=_without(condition.heels, number - boards),
                )
            )
            number -= boards + heels
        return Survey(tuple(conditions), _without(self.direct, number))

    def _readings(self) -> list[tuple[float, float]]:
        found: list[tuple[float, float]] = []
        for condition in self.conditions:
            found += ((board.height, board.sd) for board in condition.freeboards)
            found += ((heel.angle, heel.sd) for heel in condition.heels)
        return [*found, *((direct.value, direct.sd) for direct in self.direct)]


def _without(items: Sequence[T], number: int) -> tuple[T, ...]:
    return tuple(item for index, item in enumerate(items) if index != number)


@dataclass(frozen=True, slots=True)
class Particulars:
    """How well the boat is known before anything is read: independent standard deviations.

    Shares of the light mass, the hull's length and her beam, or m and radians. All are this
    project's own choice: what a brochure leaves out (equipment, batteries, a tower) is often a
    tenth of the light mass, and is seldom where the hull's middle is.
    """

    mass: float = 0.10
    x: float = 0.04
    y: float = 0.01
    z: float = 0.12
    depth: float = 0.010
    breadth: float = 0.02
    zero: float = math.radians(1.0)

    def sd(self, hull: Hull, light_mass: float) -> Array:
        """(7,), in the order of :class:`Unknown`."""
        return np.array(
            [
                self.mass * light_mass, self.x * hull.length, self.y * hull.beam, self.z,
                self.depth, self.breadth, self.zero,
            ]
        )  # fmt: skip
