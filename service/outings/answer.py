"""What an outing is answered, in SI."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rules.model import Verdict
from service.advice.loading_condition import Attitude
from service.outings.between import Between
from service.outings.setups import Turn
from service.outings.trip import Stand, Trip


class Missed(StrEnum):
    """Why a rider does not get what was wanted."""

    SHORTER = "shorter"  # the time is shared
    FEWER_TURNS = "fewer_turns"
    NO_TURN = "no_turn"
    WISH = "wish"  # a place in the order that could not be had
    REST = "rest"


class Remark(StrEnum):
    """What else people must know."""

    FUEL_OUT = "fuel_out"
    FUEL_SHIFTS = "fuel_shifts"  # a set-up leaves its band as fuel burns off
    NO_SEATS_AFT = "no_seats_aft"
    NO_DRIVER = "no_driver"  # of the crew, who stay aboard
    BROKEN = "broken"  # a state on the way breaks a limit
    UNSAFE_OUT = "unsafe_out"
    UNSAFE_RIDING = "unsafe_riding"  # with the fuel at the start or end of a turn
    UNSAFE_HOME = "unsafe_home"


@dataclass(frozen=True, slots=True)
class Short:
    """Something that did not fit: which rider, why, and by how much (s, or turns)."""

    rider: int
    why: Missed
    by: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """One turn: the change-over before it, and the ride. Times in s from the start.

    ``fuel`` at its start and end (fractions); ``lies`` how the boat lies at each, in the trip's
    frame.
    """

    turn: Turn
    between: Between
    change: float
    starts: float
    ends: float
    fuel: tuple[float, float]
    lies: tuple[Attitude, Attitude]


@dataclass(frozen=True, slots=True)
class Homeward:
    """The way home: level, people aft, drained; from ``change`` to ``ends`` (s)."""

    stand: Stand
    between: Between
    change: float
    starts: float
    ends: float
    fuel: float
    lies: Attitude


@dataclass(frozen=True, slots=True)
class Loss:
    """What one rider loses by a compromise: the common number less their own.

    Speed in m/s, plates as fractions (``None`` where none is fitted), water in m³ summed over
    the tanks, lean (towards the wave) and trim in degrees.
    """

    rider: int
    speed: float
    centre_plate: float | None
    off_side_plate: float | None
    water: float
    lean: float | None
    trim: float | None
    other_side: bool


@dataclass(frozen=True, slots=True)
class Outing:
    """The whole plan.

    ``cost`` and ``bound`` (s): change-over time with the preference for early beginners, and what
    no order is below. ``pumping`` (s) as the pumps run, ``water_in`` and ``water_out`` in m³,
    ``riding`` (s) of each rider, ``fairness`` as of Jain: 1 where everybody gets the same part
    of what they wanted.
    """

    trip: Trip
    verdict: Verdict
    lines: tuple[Line, ...]
    home: Homeward
    out: Attitude
    cost: float
    bound: float
    pumping: float
    water_in: float
    water_out: float
    side_changes: int
    riding: tuple[float, ...]
    fairness: float | None
    short: tuple[Short, ...]
    remarks: tuple[tuple[Remark, int | None], ...]
    losses: tuple[Loss, ...]
