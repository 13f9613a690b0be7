"""What a request is predicted to cost, in seconds of processor time, from counts alone.

The figures are those of the machine that they were measured on; ``python -m tests.bench.prices``
measures and prints them. What matters is how they stand to one another: everything that is
decided by them is a multiple of the cheapest. They are of the worst that was found for the
counts, within the factor that ``tests/production/test_prices.py`` states.
"""

from __future__ import annotations

from collections.abc import Sequence

from service.advice.requests import AdviceRequest, LoadingRequest, Person
from service.advice.tuning.requests import TuningRequest
from service.boats.model import Boat
from service.outings.requests import OutingRequest

ADVICE = 0.01
"""An advice for a boat that is told by her particulars."""
HULL_POINT = 1 / 1500
"""For each point of the stations it takes so much more of that."""
SEATING, SEATING_SQUARE = 5e-5, 1.2e-7
"""For each pair of a person, or of a load that can be moved, and a seat; and for its square."""
ANGLE, ANGLE_DETAIL, ANGLE_POINT = 0.0006, 1 / 4, 1 / 600
"""An angle of the righting arm: so much more for each point of one station, and of all."""
BOOKING = 0.01
"""A booking of a batch."""
LOOK, LOOK_POINT = 0.002, 1 / 3000
"""A look of a tuning session."""
OUTING, CHANGE = 0.05, 0.0014
"""An outing, and each of the change-overs that there may be between all who are aboard."""
FEW_TURNS, PROOF = 16, 0.00015
"""Beyond so many turns the proof of the order goes with the cube of their number."""
FEW_TANKS, TANK, MOST_SEARCHED = 9, 0.4, 40.0
"""With more tanks a change-over is searched for, which costs so much for each, up to an end."""


def advice(request: AdviceRequest) -> float:
    """``POST /v1/advice``."""
    movable = sum(load.movable for load in request.loads)
    return _advice(request.boat, _count(request.crew) + movable)


def loading(request: LoadingRequest) -> float:
    """``POST /v1/loading``."""
    angles = 19 if request.angles is None else len(request.angles)
    detail = max(len(points) for _, points in request.boat.hull.stations)
    curve = _hull(request.boat, ANGLE_POINT) + ANGLE_DETAIL * detail
    return 0.5 * ADVICE * _hull(request.boat, HULL_POINT) + ANGLE * angles * curve


def tuning(request: TuningRequest) -> float:
    """``POST /v1/tuning``: an advice, what may be changed, and every look of the session."""
    movable = sum(load.movable for load in request.loads)
    people = _count(request.crew) + movable
    looks = LOOK * len(request.history) * _hull(request.boat, LOOK_POINT)
    return 2.0 * _advice(request.boat, people) + looks


def outing(request: OutingRequest) -> float:
    """``POST /v1/outing-plans``: the set-ups, the change-overs and the proof of the order."""
    turns = sum(rider.turns for rider in request.riders)
    movable = sum(load.movable for load in request.loads)
    people = _count(request.crew) + len(request.riders) + movable
    changes = CHANGE * (_count(request.crew) + turns) ** 2
    tanks = max(len(request.boat.tanks) - FEW_TANKS, 0)
    searched = min(TANK * tanks * (turns + 1), MOST_SEARCHED)
    proof = PROOF * turns**3 if turns > FEW_TURNS else 0.0
    rest = (OUTING + changes + searched + proof) * _hull(request.boat, HULL_POINT)
    return len(request.riders) * _advice(request.boat, people) + rest


def _advice(boat: Boat, people: int) -> float:
    pairs = people * max(len(boat.seats), 1)
    return (ADVICE + SEATING * pairs + SEATING_SQUARE * pairs**2) * _hull(boat, HULL_POINT)


def _hull(boat: Boat, each: float) -> float:
    return 1.0 + each * sum(len(points) for _, points in boat.hull.stations)


def _count(people: Sequence[Person] | None) -> int:
    return 1 if people is None else len(people)
