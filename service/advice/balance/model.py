"""What the rules ask of the loading, and the plan that answers it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from service.advice.situation import Bag, Occupant
from service.advice.weighing import Attitude
from service.hydrostatics.weights import Weight


@dataclass(frozen=True, slots=True)
class Band:
    """A wanted angle (degrees) and how far it may be off."""

    wanted: float
    either_side: float

    def off(self, angle: float) -> float:
        """How far ``angle`` is outside the band; negative below it, 0 inside."""
        beyond = abs(angle - self.wanted) - self.either_side
        return math.copysign(max(beyond, 0.0), angle - self.wanted)

    def holds(self, angle: float) -> bool:
        return abs(angle - self.wanted) <= self.either_side + 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the rules ask of the loading. ``room`` (kg) bounds the water; ``None`` is unbounded.

    ``fills`` are the fractions to start from in the tanks' order. The others are limits. A loading
    that breaks ``least_freeboard`` (m) or ``least_gm`` (m, must be more than it) carries no water.
    ``least_bow`` (m, the lower bow), ``most_lean`` (degrees, to either side) and ``ample_gm`` (m)
    come before bands and water too; where no loading holds them, the nearest to them is taken.
    After these comes ``most_forward``, the kg of people in the bow third that are no worry.
    ``spare`` is the part of the water that may be left out without being short. Nobody lighter
    than ``least_driver`` (kg) is given the helm, unless everybody aboard is: then the heaviest.
    """

    lean: Band
    trim: Band
    fills: tuple[float, ...]
    room: float | None
    least_freeboard: float
    least_bow: float | None = None
    least_gm: float = 0.0
    most_lean: float | None = None
    ample_gm: float | None = None
    most_forward: float | None = None
    spare: float = 0.0
    least_driver: float = 0.0


class Limit(StrEnum):
    """What a plan falls short of; the unit of :attr:`Obstacle.off` behind it."""

    FLOATS = "floats"  # 1
    FREEBOARD = "least_freeboard"  # m
    BOW = "bow_freeboard"  # m
    GM = "gm"  # m
    MOST_LEAN = "most_lean"  # degrees
    LEAN = "lean"  # degrees
    TRIM = "trim"  # degrees
    ROOM = "room"  # kg of water
    WATER = "water"  # kg of water left out for the sake of freeboard or balance
    PLACES = "places"  # people


class HelpKind(StrEnum):
    BAG = "bag"  # mass (kg) put at x, y
    FEWER = "fewer_people"  # this many people fewer on the seat
    LESS_WATER = "less_water"  # kg
    MORE_ROOM = "more_room"  # kg


@dataclass(frozen=True, slots=True)
class Help:
    """One thing that would do: ``amount`` in kg, or people for ``fewer_people``.

    ``x, y`` (m) of the surf frame, ``y`` positive to the surf side; ``seat`` the seat's index.
    """

    kind: HelpKind
    amount: float
    x: float | None = None
    y: float | None = None
    seat: int | None = None


@dataclass(frozen=True, slots=True)
class Obstacle:
    """What could not be had, by how much, and what would help.

    ``off`` is the plan's distance from the band or limit, signed for lean and trim: positive is
    too far to the surf side, or the bow too high. For the limits it is what is missing.
    """

    limit: Limit
    off: float
    help: tuple[Help, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """A seating and fills with the attitude they give.

    ``for_room``, ``left_out`` and ``for_balance`` are the changes to each tank's starting fill
    (percent of capacity), which with it add up to ``fills`` in whole percent. ``left_out_for`` is
    what would be broken, or out of its band, with the water left out in its tanks. ``moved`` is
    how many people leave a place they had, ``bags`` the movable loads, some of them at seats.
    ``rounds`` counts the confirmations it took.
    """

    people: tuple[Occupant, ...]
    fills: tuple[float, ...]
    for_room: tuple[float, ...]
    left_out: tuple[float, ...]
    for_balance: tuple[float, ...]
    attitude: Attitude
    weights: tuple[Weight, ...]
    moved: int = 0
    bags: tuple[Bag, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    rounds: int = 1
    left_out_for: Limit | None = None
