"""What is asked of an outing, in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from service.advice.requests import KeptSetup, Load, Person, Rider, Saved, Water
from service.boats.model import Boat, Side


class Place(StrEnum):
    """A wish for a place in the order."""

    FIRST = "first"
    LAST = "last"
    NOT_FIRST = "not_first"
    NOT_LAST = "not_last"


class Mode(StrEnum):
    """A set-up for each rider, or a compromise that leaves the tanks alone between riders."""

    EACH = "each"
    ONE_PER_SIDE = "one_per_side"
    ONE_FOR_ALL = "one_for_all"


class Pumps(StrEnum):
    """Whether pumps may run together, as far as the boat stays safe, or one after the other."""

    TOGETHER = "together"
    ONE_BY_ONE = "one_by_one"


@dataclass(frozen=True, slots=True)
class OutingRider:
    """One rider: ``wanted`` s of riding, split into ``turns``.

    ``rest``: turns of others between two of their own. ``surf_side`` only to override the stance.
    ``saved`` is a set-up that was told; where none was, ``own`` are those kept of the rider, the
    best one first. ``age`` in years.
    """

    name: str
    rider: Rider
    wanted: float | None = None
    turns: int = 1
    rest: int = 1
    place: tuple[Place, ...] = ()
    surf_side: Side | None = None
    saved: Saved | KeptSetup | None = None
    own: tuple[KeptSetup, ...] = ()
    seat: str | None = None
    age: float | None = None


@dataclass(frozen=True, slots=True)
class OutingRequest:
    """Everything an outing is told. Times in s, ``fuel_use`` in m³/s while under way.

    ``crew`` stays aboard all the time, the driver among them; riders are aboard unless they ride.
    ``ballast`` and ``fuel`` are fractions of capacity, as the boat lies at the start.
    """

    boat: Boat
    riders: tuple[OutingRider, ...]
    crew: tuple[Person, ...] | None = None
    ballast: Mapping[str, float] | None = None
    loads: tuple[Load, ...] = ()
    water: Water = field(default_factory=Water)
    fuel: float | None = None
    start: datetime | None = None
    total_time: float | None = None
    way: float | None = None
    boarding: float | None = None
    fuel_use: float | None = None
    least_turn: float | None = None
    mode: Mode = Mode.EACH
    pumps: Pumps | None = None
