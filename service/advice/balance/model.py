"""What the rules ask of the loading, and the plan that answers it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from rules.base import RuleBase
from service.advice.crew import CrewRules, bow_limits
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import Load, Person
from service.boats.model import Boat, SeatRole


@dataclass(frozen=True, slots=True)
class Band:
    """A wanted angle (degrees) and how far it may be off."""

    wanted: float
    either_side: float

    def off(self, angle: float) -> float:
        """How far ``angle`` is outside the band; negative below it, 0 inside."""
        beyond = abs(angle - self.wanted) - self.either_side
        return math.copysign(max(beyond, 0.0), angle - self.wanted)

    def holds(self, angle: float, unseen: float = 0.0) -> bool:
        """Whether ``angle`` is inside, give or take ``unseen`` degrees."""
        return abs(angle - self.wanted) <= self.either_side + unseen + 1e-9


@dataclass(frozen=True, slots=True)
class Practice:
    """How people sit and tanks are filled, from the rule base.

    ``step``: the fraction of a tank that gauges show. ``notice`` (degrees): nobody moves for less;
    ``unseen`` (degrees): what is that little out of a band is not worth a word.
    ``edge`` (kg of water) is what half a band's width outside the wanted band is worth,
    ``soft`` the part of the half-band in which nothing is, but for the ``pull`` (kg of water a
    half-band) that chooses between seats of one kind. ``seat_cost`` (kg of water) by role.
    ``bow_people``, ``bow_mass`` (kg): the most in the bow; ``no_worry`` (kg): from there on each
    kilogram costs ``bow_worry``. ``child_apart``: a child without an adult beside it.
    """

    crew: CrewRules
    step: float
    notice: float
    unseen: float
    edge: float
    soft: float
    pull: float
    seat_cost: tuple[tuple[SeatRole, float], ...]
    bow_people: int
    bow_mass: float
    no_worry: float
    bow_worry: float
    child_apart: float

    @classmethod
    def of(cls, base: RuleBase, boat: Boat) -> Practice:
        number, crew = base.number, CrewRules.of(base)
        people, mass = bow_limits(boat, crew)
        costs = base.parameters["seating.order"].value
        assert isinstance(costs, dict)  # noqa: S101  # the topic file says so
        return cls(
            crew=crew,
            step=boat.fill_step or number("ballast.step") / 100.0,
            notice=number("seating.notice"),
            unseen=number("balance.unseen"),
            edge=number("balance.edge"),
            soft=number("balance.soft_edge"),
            pull=number("seating.pull"),
            seat_cost=tuple((role, float(costs[role.value])) for role in SeatRole),
            bow_people=people,
            bow_mass=mass,
            no_worry=number("attitude.bow_mass"),
            bow_worry=number("seating.bow_worry"),
            child_apart=number("seating.child_apart"),
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the rules ask of the loading. ``room`` (kg) bounds the water; ``None`` is unbounded.

    ``fills`` are the fractions to start from in the tanks' order. The others are limits. A loading
    that breaks ``least_freeboard`` (m) or ``least_gm`` (m, must be more than it) carries no water.
    ``least_bow`` (m, the lower bow), ``most_lean`` (degrees, to either side) and ``ample_gm`` (m)
    are held too where any water level does.
    """

    practice: Practice
    lean: Band
    trim: Band
    fills: tuple[float, ...]
    room: float | None
    least_freeboard: float
    least_bow: float | None = None
    least_gm: float = 0.0
    most_lean: float | None = None
    ample_gm: float | None = None


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
    """The loading condition as it is to be, and how the boat floats with it.

    ``raised`` (percent) is the rounding of each tank's wanted fill to a step; ``for_room``,
    ``left_out`` and ``for_balance`` are the changes after that, which with it add up to the fills.
    ``left_out_for`` is what would be broken with the water left out in its tanks. ``gains``: by
    index of the people who leave a place that was given, how much nearer (degrees) lean and trim
    come to what is wanted; ``None`` where they move for another reason. ``crossed``: the surf side
    gets less than the off side. ``rounds`` counts the equilibria it took.
    """

    condition: LoadingCondition
    raised: tuple[float, ...]
    for_room: tuple[float, ...]
    left_out: tuple[float, ...]
    for_balance: tuple[float, ...]
    attitude: Attitude
    gains: Mapping[int, float | None] = field(default_factory=dict)
    obstacles: tuple[Obstacle, ...] = ()
    rounds: int = 1
    left_out_for: Limit | None = None
    crossed: bool = False

    @property
    def people(self) -> tuple[Person, ...]:
        return self.condition.people

    @property
    def fills(self) -> tuple[float, ...]:
        return self.condition.fills

    @property
    def loads(self) -> tuple[Load, ...]:
        return self.condition.loads
