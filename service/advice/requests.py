"""What a caller asks, in SI units, with everything left out still ``None``.

The schemas build these; the use cases fill the gaps with stated defaults.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from service.boats.model import Boat, Side


class Stance(StrEnum):
    """Which foot is forward: regular is the left, goofy the right."""

    REGULAR = "regular"
    GOOFY = "goofy"


class Board(StrEnum):
    """Skim-style: thin, small fins, loose. Surf-style: more volume, bigger fins."""

    SKIM = "skim"
    SURF = "surf"


class Level(StrEnum):
    """How experienced the rider is, in rising order."""

    FIRST_TIME = "first_time"
    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    ADVANCED = "advanced"
    EXPERT = "expert"


class Wish(StrEnum):
    """What the rider would like of the wave."""

    STEEPER = "steeper"
    MELLOWER = "mellower"
    LONGER = "longer"
    SHORTER = "shorter"
    MORE_PUSH = "more_push"
    LESS_PUSH = "less_push"


class WaterKind(StrEnum):
    FRESH = "fresh"
    SALT = "salt"


class Role(StrEnum):
    """What someone does aboard: ``crew`` is staff, ``guest`` came along to ride or watch."""

    DRIVER = "driver"
    OBSERVER = "observer"
    CREW = "crew"
    GUEST = "guest"


@dataclass(frozen=True, slots=True)
class Person:
    """One person aboard, the same from request to answer.

    ``number`` counts those listed, from 1. ``mass`` in kg, ``age`` in years; ``None`` was not
    given. Placed on a ``seat`` (id), or at ``x, y`` (m), or not yet. ``rides``: takes turns on the
    wave, so is never the driver.
    """

    mass: float | None = None
    seat: str | None = None
    x: float | None = None
    y: float | None = None
    age: float | None = None
    role: Role | None = None
    name: str | None = None
    number: int = 0
    rides: bool = False

    @property
    def placed(self) -> bool:
        return self.seat is not None or self.x is not None

    @property
    def label(self) -> str:
        """How answers call them."""
        return self.name or f"person {self.number}"

    @property
    def kilograms(self) -> float:
        """The mass once gaps are filled."""
        return self.mass or 0.0

    def on(self, seat: str) -> Person:
        """The same person on a seat."""
        return replace(self, seat=seat, x=None, y=None)


@dataclass(frozen=True, slots=True)
class Load:
    """A bag or gear: mass (kg), centre (m); ``movable`` when people aboard can shift it.

    ``seat``: the one (id) beside which it was shifted, ``None`` where it lies as given.
    """

    mass: float
    x: float
    y: float
    z: float
    name: str = "load"
    movable: bool = False
    seat: str | None = None


@dataclass(frozen=True, slots=True)
class Rider:
    """Who rides. ``id``: of a kept rider, whose own log counts."""

    mass: float | None = None
    stance: Stance | None = None
    board: Board | None = None
    level: Level | None = None
    wants: tuple[Wish, ...] = ()
    id: str | None = None


@dataclass(frozen=True, slots=True)
class Water:
    """Temperature in °C, depth and distance to shore in m; ``None`` where not told."""

    kind: WaterKind | None = None
    temperature: float | None = None
    depth: float | None = None
    distance_to_shore: float | None = None


@dataclass(frozen=True, slots=True)
class Saved:
    """A set-up that worked; ``None`` is what was not told of it, and then the rules tell it.

    Speed in m/s, plates and fills (by tank id) as fractions. ``displacement`` (kg), ``heel`` and
    ``trim`` (radians, axes of the boat) are those at rest with the rider off the boat. ``boat`` is
    the one it was set on, ``None`` for the one of the request; ``id`` that of a kept one.
    """

    boat: Boat | None
    surf_side: Side | None
    speed: float | None
    plates: Mapping[str, float | None]
    tanks: Mapping[str, float] | None
    displacement: float | None
    heel: float | None
    trim: float | None
    id: str | None = None


@dataclass(frozen=True, slots=True)
class KeptSetup:
    """A set-up that is kept, with what was aboard; ``None`` where that was not told. SI units."""

    id: str
    boat: Boat
    surf_side: Side | None = None
    speed: float | None = None
    plates: Mapping[str, float | None] = field(default_factory=dict)
    tanks: Mapping[str, float] | None = None
    crew: tuple[Person, ...] | None = None
    loads: tuple[Load, ...] = ()
    water: Water = field(default_factory=Water)
    fuel: float | None = None


@dataclass(frozen=True, slots=True)
class AdviceRequest:
    """Everything the main job is told. ``ballast`` and ``fuel`` are fractions of capacity.

    ``crew`` is everybody aboard while the rider rides; the rider is not among them. ``saved`` is a
    set-up that was told; where none was, ``own`` are those kept of the rider, the best one first.
    """

    boat: Boat
    rider: Rider
    crew: tuple[Person, ...] | None = None
    ballast: Mapping[str, float] | None = None
    loads: tuple[Load, ...] = ()
    water: Water = field(default_factory=Water)
    fuel: float | None = None
    surf_side: Side | None = None
    saved: Saved | KeptSetup | None = None
    own: tuple[KeptSetup, ...] = ()


@dataclass(frozen=True, slots=True)
class LoadingRequest:
    """The hydrostatic check alone. ``angles`` (radians) are those of the righting-arm curve."""

    boat: Boat
    crew: tuple[Person, ...] | None = None
    ballast: Mapping[str, float] | None = None
    loads: tuple[Load, ...] = ()
    water: Water = field(default_factory=Water)
    fuel: float | None = None
    angles: tuple[float, ...] | None = None
