"""What the ridden runs tell: how far this boat, and this rider, like a number off the rule base.

For each number of the set-up a Bayesian linear regression (:mod:`.regression`): ``d`` is what it
was when it rode less what the rule base says, ``x`` is 1 and what was aboard, ``β`` the boat's
offset and how it changes, ``u`` the rider's own. The prior mean of all is nought: the rule base is
right until the runs say otherwise.

What was set in the end is one row a run. A run that rode well tells more than one that did not
(:data:`SCATTER_BY_RATING`). Where it was tuned and got fewer than five stars it stopped short, on
the side that it came from; then its changes count in its stead. They say on which side of them
the right setting lies, and together they count once a run, since all of it is one occasion.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from service.calibration.regression import Array, Compared, Groups, Measured, regress

CONFIDENCE = 0.95
FEATURES = ("offset", "people", "water", "rider_mass")
"""``x``: 1; people aboard over 6, in fours; ballast water over 1000 kg, in half tonnes; the rider's
mass over 80 kg, in twenties of kg. At nought the offset is that of a usual run."""
_USUAL = np.array([0.0, 6.0, 1000.0, 80.0])
_SPAN = np.array([1.0, 4.0, 500.0, 20.0])

SCATTER_BY_RATING: Mapping[int, float] = {5: 1.0, 4: 1.25, 3: 2.0, 2: 4.0}
"""How much further than after five stars the settings may be from the right ones. A run of one
star says that they were wrong, not what is right: they are left out, and only its changes count.
This project's own choice."""

_WELL = SCATTER_BY_RATING[4]
"""All runs of fewer stars together count as one run: set alike they went wrong alike, and a hundred
of them do not make it right."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number that may be learned, in its own unit; this project's own choices.

    ``offset`` is the standard deviation, before any run, of the boat's own offset; the changes
    with what is aboard, and riders' own offsets, have half of it. ``scatter``: that of single
    runs. ``most``: no further than this from the rule base, whatever the runs say. ``rising``:
    features with which the number must not fall, as more load never means less off-side plate;
    where the runs say that it does, the offset stays level. ``level``: features with which the
    offset does not change at all.
    """

    name: str
    says: str
    unit: str
    offset: float
    scatter: float
    most: float
    rising: tuple[str, ...] = ()
    level: tuple[str, ...] = ()

    @property
    def looked_at(self) -> Array:
        """(4,) 1 for features that it may change with."""
        return np.array([float(name not in self.level) for name in FEATURES])


_WATER_STAYS = ("people", "water")
"""Of water the rules ask the same whoever is aboard, and so does a log: one person more never
makes the load smaller. What has to stay out for people is the limits' to say."""

NUMBERS: Mapping[str, Number] = {
    number.name: number
    for number in (
        Number("speed", "speed", "km/h", 0.6, 0.3, 0.9),
        Number("centre_plate", "centre plate", "%", 8.0, 5.0, 15.0),
        Number("off_side_plate", "off-side plate", "%", 8.0, 5.0, 15.0, ("people", "water")),
        Number("ballast", "water in every tank", "%", 8.0, 5.0, 20.0, level=_WATER_STAYS),
        Number("off_side_ballast", "off-side tanks", "%", 8.0, 5.0, 15.0, level=_WATER_STAYS),
        Number("forward_ballast", "forward tanks", "%", 8.0, 5.0, 15.0, level=_WATER_STAYS),
    )
}
"""Water is learned as what is asked of the loading, which tanks, limits and balance then bound:
percent of capacity in every tank, and beyond that on the off side and forward."""


@dataclass(frozen=True, slots=True)
class Context:
    """People aboard, the rider not among them; ballast water and the rider's mass (kg)."""

    people: float
    water: float
    rider_mass: float

    @property
    def features(self) -> Array:
        """(4,) as :data:`FEATURES` are reckoned."""
        return _features(np.array([[self.people, self.water, self.rider_mass]])).ravel()


USUAL = Context(*_USUAL[1:].tolist())
"""Where the boat's offset stands alone."""


def _features(contexts: Array) -> Array:
    """(n, 4) of (n, 3)."""
    features: Array = (np.column_stack((np.ones(len(contexts)), contexts)) - _USUAL) / _SPAN
    return features


@dataclass(frozen=True, slots=True)
class Changed:
    """One change on the water: of which number, from and to what, and whether it helped."""

    number: str
    origin: float
    goal: float
    helped: bool


@dataclass(frozen=True, slots=True)
class Ridden:
    """One run. ``final`` less ``advised`` is what the regression sees, number by number.

    ``advised`` is what the rule base says without this boat's log. Numbers that one of the two
    lacks are not looked at. ``rating`` is ``None`` where nobody gave one: then its changes count
    alone. ``day``: when, in days from any one moment; a run's age is reckoned from the boat's
    latest, so that the same log says the same tomorrow.
    """

    context: Context
    advised: Mapping[str, float]
    final: Mapping[str, float]
    rating: int | None
    rider: str | None = None
    day: float = 0.0
    changes: tuple[Changed, ...] = ()
    row: tuple[float, ...] = field(init=False, repr=False, compare=False)
    """The run as numbers, made once: context, day, scatter by rating, deviations."""

    def __post_init__(self) -> None:
        row = (
            self.context.people, self.context.water, self.context.rider_mass, self.day,
            SCATTER_BY_RATING.get(self.rating or 0, math.inf),
            *(self.final.get(n, math.nan) - self.advised.get(n, math.nan) for n in NUMBERS),
        )  # fmt: skip
        object.__setattr__(self, "row", row)

    def sides(self, number: str) -> list[tuple[float, float]]:
        """Where the right deviation lies by the changes: ``(middle, ±1)``, above or below it.

        Of several the nearest on each side, so at most two.
        """
        if number not in self.advised:
            return []
        told = [
            ((change.origin + change.goal) / 2.0 - self.advised[number],
             (change.goal > change.origin) is change.helped)
            for change in self.changes
            if change.number == number and change.origin != change.goal
        ]  # fmt: skip
        above = [middle for middle, up in told if up]
        below = [middle for middle, up in told if not up]
        return [*([(max(above), 1.0)] if above else []), *([(min(below), -1.0)] if below else [])]


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """The posterior for one number: boat's coefficients (4,) with covariance, riders' offsets.

    ``runs`` were looked at, ``changes`` counted beside their final settings; ``weight`` is what
    all is worth in fresh five-star runs. ``riders``: runs, offset and its standard error.
    ``freedom``: degrees of freedom of the interval. ``doubted`` are the indices of runs that
    count for less than a quarter of what their rating says.
    """

    number: Number
    runs: int
    weight: float
    coefficients: Array
    covariance: Array
    riders: Mapping[str, tuple[int, float, float]]
    scatter: float
    freedom: float
    doubted: tuple[int, ...] = ()
    changes: int = 0

    @property
    def width(self) -> float:
        """Half-width of the 95 % interval in standard errors."""
        return float(stdtrit(self.freedom, 0.5 + CONFIDENCE / 2.0))

    def boat(self, context: Context) -> tuple[float, float]:
        """The boat's offset with this aboard and the half-width of its 95 % interval."""
        x = context.features * self.number.looked_at
        least = [0.0 if name in self.number.rising else -math.inf for name in FEATURES]
        return float(x @ np.maximum(self.coefficients, least)), self.width * math.sqrt(
            x @ self.covariance @ x
        )

    def rider(self, rider: str) -> tuple[float, float] | None:
        """The rider's own offset and the half-width of its 95 % interval; ``None``: never seen."""
        if rider not in self.riders:
            return None
        _, value, error = self.riders[rider]
        return value, self.width * error


def learn(runs: Sequence[Ridden], number: Number, half_life: float | None = None) -> Offsets | None:
    """What the runs say of one number; ``None`` where none says anything.

    ``half_life`` (days): after that time a run counts for half; ``None``: for ever in full.
    """
    return _Table(runs, half_life).learn(number)


def learn_all(runs: Sequence[Ridden], half_life: float | None = None) -> Mapping[str, Offsets]:
    """What the runs say of every number they say something of."""
    table = _Table(runs, half_life)
    found = {name: table.learn(number) for name, number in NUMBERS.items()}
    return {name: offsets for name, offsets in found.items() if offsets is not None}


class _Table:
    """Runs as columns: features (n, 4), scatter by rating, age's weight, riders; deviations."""

    def __init__(self, runs: Sequence[Ridden], half_life: float | None) -> None:
        columns = np.array([run.row for run in runs]).reshape(-1, 5 + len(NUMBERS))
        self.features = _features(columns[:, :3])
        self.scale = columns[:, 4]
        self.fresh = np.ones(len(runs))
        if half_life is not None and len(runs):
            self.fresh = 0.5 ** ((columns[:, 3].max() - columns[:, 3]) / half_life)
        self.deviations = dict(zip(NUMBERS, columns[:, 5:].T, strict=True))
        self.riders = sorted({run.rider for run in runs if run.rider is not None})
        place: dict[str | None, int] = {rider: n for n, rider in enumerate(self.riders)}
        place[None] = len(self.riders)
        self.rider: Groups = np.array([place[run.rider] for run in runs], dtype=np.intp)
        self.changed: dict[str, list[tuple[int, Ridden]]] = {}
        for index, run in enumerate(runs):
            for name in {change.number for change in run.changes}:
                self.changed.setdefault(name, []).append((index, run))

    def learn(self, number: Number) -> Offsets | None:
        every, x = self.deviations[number.name], self.features * number.looked_at
        measured = np.isfinite(every) & np.isfinite(self.scale)
        sides = list(self._sides(number.name, measured))
        used = np.flatnonzero(measured)
        if not len(used) and not sides:
            return None
        at = np.array([index for index, *_ in sides], dtype=np.intp)
        middles, above, shares = np.array([side[1:] for side in sides]).reshape(-1, 3).T
        told = measured.copy()
        told[at] = True
        runs = np.flatnonzero(told)
        seen, group = np.unique(self.rider[runs], return_inverse=True)
        groups = int(np.sum(seen < len(self.riders)))
        of_rider = np.zeros(len(self.riders) + 1, dtype=np.intp)
        of_rider[seen] = np.arange(len(seen))
        precision, counts = self.scale[used] ** -2.0, self.fresh[used]
        badly = self.scale[used] > _WELL
        counts[badly] /= max(float(counts[badly].sum()), 1.0)
        stated = counts * precision
        spread = np.array([1.0, *[0.5] * (len(FEATURES) - 1)])
        found = regress(
            Measured(x[used], every[used], precision, counts, of_rider[self.rider[used]]),
            Compared(x[at], middles, above, shares * self.fresh[at], of_rider[self.rider[at]]),
            groups,
            number.offset * spread,
            number.offset / 2.0,
            number.scatter,
        )
        of_each = np.bincount(group)
        return Offsets(
            number=number,
            runs=len(runs),
            weight=float(stated.sum() + found.told.sum()),
            coefficients=found.coefficients,
            covariance=found.covariance,
            riders={
                self.riders[rider]: (
                    int(of_each[k]), float(found.offsets[k]), float(found.errors[k])
                )
                for k, rider in enumerate(seen[:groups].tolist())
            },
            scatter=found.scatter,
            freedom=found.freedom,
            doubted=tuple(used[found.weight < stated / 4.0].tolist()),
            changes=len(sides),
        )  # fmt: skip

    def _sides(
        self, name: str, measured: NDArray[np.bool_]
    ) -> Iterator[tuple[int, float, float, float]]:
        """Index of the run, middle, side and share of what the changes say.

        Runs whose changes count are taken out of ``measured``.
        """
        for index, run in self.changed.get(name, ()):
            told = run.sides(name)
            if told and not (measured[index] and self.scale[index] == 1.0):
                measured[index] = False
                yield from ((index, middle, side, 1.0 / len(told)) for middle, side in told)
