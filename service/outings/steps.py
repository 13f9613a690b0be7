"""What is done in a change-over: people who move, loads that are shifted, tanks that are pumped."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.outings.trip import Spot

MOVE = 10.0
"""Seconds for someone to change seats (common practice)."""
CARRY = 15.0
"""Seconds to shift a bag: more than someone takes who walks there, less than two (common practice;
the loading solver weighs it the same)."""
LIFT = 25.0
"""Kilograms that someone carries at once (the reference mass of ISO 11228-1, from memory). What is
heavier goes in parts, or takes as long."""


@dataclass(frozen=True, slots=True)
class Move:
    """Who goes where. The rider who comes aboard comes from nowhere in particular."""

    person: str
    origin: Spot
    goal: Spot


@dataclass(frozen=True, slots=True)
class Shift:
    """A load (kg) from beside one seat to beside another; ``None`` is where it was told."""

    load: str
    mass: float
    origin: str | None
    goal: str | None

    @property
    def seconds(self) -> float:
        return carrying(self.mass)


@dataclass(frozen=True, slots=True)
class Pumping:
    """A tank from one fill to another (fractions): m³, in or (negative) out; s.

    Those of one ``batch`` run at the same time.
    """

    tank: str
    fill: float
    to_fill: float
    volume: float
    seconds: float
    batch: int


def carrying(mass: float) -> float:
    """Seconds to shift a load of ``mass`` (kg)."""
    return CARRY * max(math.ceil(mass / LIFT), 1)
