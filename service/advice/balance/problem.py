"""One loading problem in arrays: people, seats, tanks, and what counts as good.

People come first, pumps second. Seats are chosen with the tanks as the rules ask for them, by
*angles* and *places*; then the tanks, for those seats, by *angles* and *water*. All is measured
in kilograms of water:

- angles: lean and trim, each in half-widths of its band from the wanted value. ``edge`` times the
  square of what is beyond the soft part of the band, so that nothing is done for what nobody
  sees; for seats also a slight pull to the middle.
- places: what a place costs by the seat's role, people too many in the bow, children apart.
- water: what the tanks have less, or more, than the rules ask for.
- limits: nothing is worth breaking one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.model import Practice, Wanted
from service.advice.crew import CrewRoles, settle_roles
from service.advice.loading_condition import Attitude, LoadingCondition, amid_seats, bow_begins
from service.advice.requests import Person
from service.boats.model import Tank

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

LIMIT = 4e3
"""kg of water that a metre of freeboard (or of GM, or 100° of heel) under a limit is worth while
people and loads are placed. What is still under it then is for the water to mend."""
CROWD = 1e6
"""kg of water that a person, or a kilogram, too many in the bow is worth."""
HEEL_AS_METRES = 0.01
"""A degree over the heel limit counts as a centimetre of freeboard."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """``start`` and ``most`` are percents in whole steps, ``kg`` the water in one percent of each.

    ``points`` (seats + 1, 3), m: the seats, then where those stand who have none. ``asked`` (kg):
    the water wanted, as far as there is room for it. ``step`` in percent.
    """

    condition: LoadingCondition
    wanted: Wanted
    roles: CrewRoles
    points: Array
    places: Ints
    seat_cost: Array
    usable: NDArray[np.bool_]
    in_bow: NDArray[np.bool_]
    start: Array
    most: Array
    kg: Array
    step: float

    @classmethod
    def of(cls, condition: LoadingCondition, wanted: Wanted) -> Problem:
        boat, practice = condition.boat, wanted.practice
        seats, begins = boat.seats, bow_begins(boat.hull)
        step = 100.0 * practice.step
        costs = dict(practice.seat_cost)
        return cls(
            condition=condition,
            wanted=wanted,
            roles=settle_roles(condition, practice.crew),
            points=np.array([*((s.x, s.y, s.z) for s in seats), amid_seats(boat)]),
            places=np.array([s.places for s in seats], dtype=np.int64),
            seat_cost=np.array([costs[s.role] for s in seats], dtype=np.float64),
            usable=np.array([s.x > boat.hull.x_min for s in seats], dtype=np.bool_),
            in_bow=np.array([s.x > begins for s in seats], dtype=np.bool_),
            start=in_steps(boat.tanks, wanted.fills, step),
            most=most_of(boat.tanks, step),
            kg=condition.density
            * np.array([t.capacity for t in boat.tanks], dtype=np.float64)
            / 100.0,
            step=step,
        )

    @property
    def practice(self) -> Practice:
        return self.wanted.practice

    @property
    def crew_complete(self) -> bool:
        """Whether there is a crew to balance: someone drives, and someone, or a mirror, watches.

        Without one the boat does not go, and no water is moved to and fro for it.
        """
        rules, roles = self.practice.crew, self.roles
        return roles.driver is not None and (roles.observer is not None or rules.mirror)

    def off_by(self, outputs: Array) -> Array:
        """(…, 2): lean and trim in half-widths of their bands from what is wanted."""
        lean, trim = self.wanted.lean, self.wanted.trim
        return np.asarray(
            (outputs[..., :2] - (lean.wanted, trim.wanted)) / (lean.either_side, trim.either_side)
        )

    def angle_cost(self, outputs: Array) -> Array:
        """What lean and trim cost (kg of water): nothing inside the soft part of a band."""
        beyond = np.maximum(np.abs(self.off_by(outputs)) - self.practice.soft, 0.0)
        return np.asarray(self.practice.edge * (beyond**2).sum(axis=-1))

    def pull(self, outputs: Array) -> Array:
        """What draws people to the middle of the bands (kg of water)."""
        return np.asarray(self.practice.pull * (self.off_by(outputs) ** 2).sum(axis=-1))

    def out_of_band(self, outputs: Array) -> bool:
        return bool((np.abs(self.off_by(outputs)) > 1.0 + 1e-9).any())

    def degrees_off(self, outputs: Array) -> Array:
        """Degrees of lean and trim together from what is wanted."""
        lean, trim = self.wanted.lean.wanted, self.wanted.trim.wanted
        return np.asarray(np.abs(outputs[..., :2] - (lean, trim)).sum(axis=-1))

    def loaded(self, people: Sequence[Person], percents: Array) -> LoadingCondition:
        """The condition with these people and percents in the tanks."""
        fills = tuple((percents / 100.0).tolist())
        return replace(self.condition, people=tuple(people), fills=fills)


def most_of(tanks: Sequence[Tank], step: float) -> Array:
    """The fullest whole step (percent) of each tank."""
    return np.array([step * math.floor(100.0 * t.max_fill / step + 1e-9) for t in tanks])


def in_steps(tanks: Sequence[Tank], fills: Sequence[float], step: float) -> Array:
    """The whole steps (percent) nearest to these fills (fractions), as far as the tanks go."""
    steps = np.floor(100.0 * np.array(fills, dtype=np.float64) / step + 0.5 + 1e-9)
    return np.clip(step * steps, 0.0, most_of(tanks, step))


def broken(wanted: Wanted, attitude: Attitude) -> float:
    """By how much firm limits are broken, in metres; 0 where all hold, 10 more where not afloat."""
    board, gm = attitude.freeboard, attitude.floating.gm
    if board is None or gm is None:
        return 20.0
    under = max(wanted.least_freeboard - board.least, 0.0)
    if gm <= wanted.least_gm:
        under += max(wanted.least_gm - gm, 1e-6)
    return under if attitude.floats else 10.0 + under


def crossed(wanted: Wanted, attitude: Attitude) -> float:
    """By how much the other limits are broken, in metres; 0 where all hold."""
    board, gm, lean = attitude.freeboard, attitude.floating.gm, attitude.lean
    if board is None or gm is None or lean is None:
        return 20.0
    off = 0.0
    if wanted.least_bow is not None:
        off += max(wanted.least_bow - board.bow, 0.0)
    if wanted.most_lean is not None:
        off += HEEL_AS_METRES * max(abs(lean) - wanted.most_lean, 0.0)
    if wanted.ample_gm is not None:
        off += max(wanted.ample_gm - gm, 0.0)
    return off
