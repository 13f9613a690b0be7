"""What makes one loading better than another.

Loadings are compared by one number, which ranks these levels one after the other:

1. no limit broken: freeboards, stability, heel (the room for water and the tanks' own limits
   hold always, and a loading that breaks one of the firm limits carries no water at all);
2. people in the bow third beyond those that are no worry;
3. how far lean and trim are outside their bands, then water short of nearly all that was asked;
4. people moved from a place they have, bags shifted, litres pumped beyond the starting fills, and
   tanks that are then neither full nor empty nor as asked;
5. minutes of pumping, part-filled tanks, people and shifted bags in the bow third, distance from
   the middle of the bands.

The unit is the litre pumped. Each weight says what the level is worth against it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.model import Wanted
from service.advice.balance.spots import Spots
from service.advice.situation import Bag, Cargo, Occupant
from service.advice.weighing import (
    Attitude,
    bags_of,
    bow_begins,
    fixed_weights,
    immovable,
    lie,
    person_weight,
    slack,
    tank_weights,
)
from service.boats.model import Tank
from service.hydrostatics.weights import Weight

Array = NDArray[np.float64]
Real = TypeVar("Real", float, Array)

LIMIT = 1e10
"""A metre of freeboard (or of GM, or 100° of heel) under the limit: a millimetre outweighs ten
half bands, more than any loading is off by."""
OFF = 1e6
"""Half a band's width outside a band: a thousandth of it outweighs ten kilograms of water."""
SHORT = 100.0
"""A kilogram of water short: it outweighs ten people moved, or 100 litres sent elsewhere."""
MOVE = 10.0
"""Somebody changing seats takes about ten seconds, in which a pump moves some ten litres (common
practice: "people first, pumps second"). To turn the boat as one person does takes many more."""
CARRY = 15.0
"""A bag shifted: dearer than somebody who walks there, cheaper than two (common practice: people
first, then bags, then pumps)."""
MINUTE = 0.01
"""A minute of pumping. This and the rest stay under a litre together: they only break ties."""
ODD = 5.0
"""A tank brought to a part-fill that was not asked for: full and empty show themselves, an odd
figure has to be watched for, and has a free surface."""
SLACK = 0.05
"""A part-filled tank, for its free surface."""
FORWARD = 3e5
"""A kilogram of people too many in the bow third: somebody there outweighs ten half bands."""
BOW = 0.01
"""Somebody or a shifted bag in the bow third, first in the way of a wave over the bow."""
MIDDLE = 0.001
"""Half a band's width from the middle of a band, lean and trim together."""

PUMP_UNKNOWN = 0.001
"""m³/s (60 L/min, common practice) where a pump's rate is not known; for ties only."""
HEEL_AS_METRES = 0.01
"""A degree over the heel limit counts as a centimetre of freeboard."""
LINES, YIELDING = 0.3, 1e-3
"""What the other limits are worth against the firm ones, and where both cannot be had."""
OVER = 1e8
"""Any of these others broken, be it by a hair: it outweighs all bands and water."""


def total(
    limits: Real, off: Real, short: Real, moved: Real, carried: Real, litres: Real, odd: Real,
    minutes: Real, slack: Real, bow: Real, middle: Real,
) -> Real:  # fmt: skip
    """The weighted sum, for numbers or arrays of them."""
    return (
        LIMIT * limits + OFF * off + SHORT * short + MOVE * moved + CARRY * carried + litres
        + ODD * odd + MINUTE * minutes + SLACK * slack + BOW * bow + MIDDLE * middle
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cost:
    """The levels of one loading; units as the weights above.

    ``limits``: by how much the firm ones are broken, ``lines``: the others; ``weight`` of these.
    """

    limits: float
    lines: float
    forward: float
    off: float
    short: float
    moved: int
    carried: int
    litres: float
    odd: int
    minutes: float
    slack: int
    bow: int
    middle: float
    weight: float = LINES

    @property
    def total(self) -> float:
        """What holds the firm limits comes before all that does not, then what holds the lines."""
        steps = LIMIT * (self.limits > 0.0) + OVER * (self.lines > 0.0)
        return steps + FORWARD * self.forward + total(
            self.limits + self.weight * self.lines, self.off, self.short, float(self.moved),
            float(self.carried), self.litres, float(self.odd), self.minutes, float(self.slack),
            float(self.bow), self.middle,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One loading problem. ``start`` and ``most`` are in whole percent; ``asked`` and ``least`` in
    kg: the water wanted, and what is near enough to it.

    ``aboard``: the people and then the movable loads, as they are now; ``fixed`` all else.
    ``bow_spots``: which of the ``spots`` lie in the bow third, ``bow``: where (x, m) it begins.
    ``lines``: the weight of lines. ``driver`` (kg): from here on somebody may drive, and
    ``beside``: whether others may sit at the helm too, beside a driver.
    """

    cargo: Cargo
    aboard: tuple[Occupant, ...]
    spots: Spots
    wanted: Wanted
    water: float
    fixed: tuple[Weight, ...]
    start: Array
    most: Array
    kg: Array  # of water in one percent of each tank
    litres: Array  # the same
    seconds: Array  # (2, tanks): of pumping for one percent more, and for one percent less
    present: Array  # percents that are in the tanks now
    asked: float
    least: float
    bow_spots: NDArray[np.bool_]
    bow: float
    driver: float
    beside: bool
    lines: float = LINES

    @classmethod
    def of(cls, cargo: Cargo, wanted: Wanted, water: float, fuel_density: float) -> Task:
        tanks, hull, spots = cargo.boat.tanks, cargo.boat.hull, Spots.of(cargo)
        most = _most(tanks)
        start = starting(tanks, wanted.fills)
        kg = water * np.array([t.capacity for t in tanks], dtype=np.float64) / 100.0
        rates = np.array(
            [[rate or PUMP_UNKNOWN for rate in (t.fill_rate, t.drain_rate)] for t in tanks]
        ).reshape(-1, 2)
        asked = float(start @ kg)
        if wanted.room is not None:
            asked = min(asked, max(wanted.room, 0.0))
        driver = min(wanted.least_driver, max((p.mass for p in cargo.people), default=0.0))
        at_seats, bow = np.array(spots.seat) >= 0, bow_begins(hull)
        return cls(
            cargo, (*cargo.people, *bags_of(cargo)), spots, wanted, water,
            tuple(fixed_weights(immovable(cargo), fuel_density)), start, most, kg,
            1000.0 * kg / water, kg / water / rates.T, 100.0 * np.array(cargo.fills), asked,
            (1.0 - wanted.spare) * asked, at_seats & (spots.points[:, 0] > bow), bow,
            driver, _beside(cargo, spots.helm, driver),
        )  # fmt: skip

    def drives(self, one: Occupant) -> bool:
        """Whether somebody may be given the helm."""
        return not isinstance(one, Bag) and one.mass >= self.driver

    def reach(self, one: Occupant) -> tuple[int, ...]:
        """The spots that somebody, or a bag, may go to."""
        spots = self.spots.reach(one)
        if isinstance(one, Bag) or self.beside or self.drives(one):
            return spots
        return tuple(spot for spot in spots if spot != self.spots.helm)

    def odd(self, percents: Array) -> Array:
        """How many tanks are neither empty, full, overfull nor as asked; ``percents`` (…, n)."""
        plain = (percents == 0.0) | (percents == np.minimum(self.most, 100.0))
        plain = plain | (percents == self.most) | (percents == self.start)
        return np.asarray((~plain).sum(axis=-1))

    def minutes(self, percents: Array) -> Array:
        """Of pumping, one tank after the other, from what is in them now; ``percents`` (…, n)."""
        change = percents - self.present
        more, less = self.seconds
        return np.asarray((np.maximum(change, 0) @ more + np.maximum(-change, 0) @ less) / 60.0)

    def too_far_forward(self, people: Array | float) -> Array:
        """Of so many kg of ``people`` in the bow third those that are too many."""
        most = self.wanted.most_forward
        return np.maximum(np.asarray(people) - (np.inf if most is None else most), 0.0)

    def forward(self, aboard: Iterable[Occupant]) -> float:
        """Mass (kg) of people in the bow third."""
        return math.fsum(
            one.mass for one in aboard if not isinstance(one, Bag) and self._is_forward(one)
        )

    def _is_forward(self, person: Occupant) -> bool:
        if person.seat is not None:
            return bool(self.bow_spots[person.seat])
        return person.x is not None and person.x > self.bow

    def weights(self, aboard: Sequence[Occupant], percents: Sequence[float]) -> list[Weight]:
        fills = [percent / 100.0 for percent in percents]
        return [
            *self.fixed,
            *(person_weight(one, self.cargo) for one in aboard),
            *tank_weights(self.cargo.boat, fills, self.water),
        ]

    def lie(self, aboard: Sequence[Occupant], percents: Sequence[float]) -> Attitude:
        return lie(self.cargo.boat, self.weights(aboard, percents), self.water)

    def cost(
        self, aboard: Sequence[Occupant], percents: Sequence[float], attitude: Attitude
    ) -> Cost:
        """Of the loading that gives ``attitude`` on the nonlinear equilibrium."""
        now = np.array(percents, dtype=np.float64)
        moved = [
            isinstance(before, Bag)
            for before, after in zip(self.aboard, aboard, strict=True)
            if before.placed and before != after
        ]
        off = middle = 1e3
        if attitude.lean is not None and attitude.trim is not None:
            lean, trim = self.wanted.lean, self.wanted.trim
            off = (
                abs(lean.off(attitude.lean)) / lean.either_side
                + abs(trim.off(attitude.trim)) / trim.either_side
            )
            middle = (
                abs(attitude.lean - lean.wanted) / lean.either_side
                + abs(attitude.trim - trim.wanted) / trim.either_side
            )
        return Cost(
            limits=broken(self.wanted, attitude),
            lines=crossed(self.wanted, attitude),
            forward=float(self.too_far_forward(self.forward(aboard))),
            off=off,
            short=max(self.least - float(now @ self.kg), 0.0),
            moved=moved.count(False),
            carried=moved.count(True),
            litres=float(np.abs(now - self.start) @ self.litres),
            odd=int(self.odd(now)),
            minutes=float(self.minutes(now)),
            slack=slack(now / 100.0),
            bow=sum(one.seat is not None and bool(self.bow_spots[one.seat]) for one in aboard),
            middle=middle,
            weight=self.lines,
        )


def _beside(cargo: Cargo, helm: int | None, driver: float) -> bool:
    """Whether somebody sits at the helm, or will, and leaves a place beside."""
    if helm is None:
        return False
    told = sum(person.seat == helm for person in cargo.people)
    to_come = any(person.x is None and person.mass >= driver for person in cargo.people)
    return told > 0 or (to_come and cargo.boat.seats[helm].places > 1)


def starting(tanks: Sequence[Tank], fills: Sequence[float]) -> Array:
    """Whole percents (tanks) to start from, where these ``fills`` (fractions) are wanted."""
    whole = np.floor(100.0 * np.array(fills, dtype=np.float64) + 0.5 + 1e-9)
    return np.clip(whole, 0.0, _most(tanks))


def _most(tanks: Sequence[Tank]) -> Array:
    return np.array([math.floor(100.0 * t.max_fill + 1e-9) for t in tanks], dtype=np.float64)


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
