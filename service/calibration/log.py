"""What the ridden runs tell: how far this boat, and this rider, like a number off the rule base.

Bayesian linear regression in closed form. For each number of the set-up, run ``i`` says
``dᵢ = xᵢ·β + u(riderᵢ) + error``: ``d`` is what it was when it rode less what the rule base says,
``x`` is 1 and what was aboard, ``β`` the boat's offset and how it changes, ``u`` the rider's own.
The prior mean of all is nought: the rule base is right until the runs say otherwise.

A run that rode well tells more than one that did not (:data:`SCATTER_BY_RATING`). Errors are
Student's t with four degrees of freedom, so that one wrong log pulls little: a fixed number of
reweightings (expectation maximisation), each of them again closed form, so always the same
answer. The scatter is estimated along with it, from a stated start.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

Array = NDArray[np.float64]

CONFIDENCE = 0.95
FEATURES = ("offset", "people", "water", "rider_mass")
"""``x``: 1; people aboard over 6, in fours; ballast water over 1000 kg, in half tonnes; the rider's
mass over 80 kg, in twenties of kg. At nought the offset is that of a usual run."""

SCATTER_BY_RATING: Mapping[int, float] = {5: 1.0, 4: 1.25, 3: 2.0, 2: 4.0}
"""How much further than after five stars the settings may be from the right ones. A run of one
star says that they were wrong, not what is right: it is left out. This project's own choice."""

_FREEDOM = 4.0
_TOLD = (_FREEDOM + 1.0) / (_FREEDOM + 3.0)
"""Fisher information of Student's t over that of the weights; without it the bands are too
narrow (K. L. Lange, R. J. A. Little, J. M. G. Taylor, JASA 84 (1989) 881–896; from memory, the
tests measure it)."""
_REWEIGHTINGS = 12
_START = 6.0
"""How many runs the scatter first assumed is worth."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number that may be learned, in its own unit; this project's own choices.

    ``offset`` is the standard deviation, before any run, of the boat's own offset; the changes
    with what is aboard, and riders' own offsets, have half of it. ``scatter``: that of single
    runs. ``most``: no further than this from the rule base, whatever the runs say. ``rising``:
    features with which the number must not fall, as more load never means less off-side plate;
    where the runs say that it does, the offset stays level.
    """

    name: str
    says: str
    unit: str
    offset: float
    scatter: float
    most: float
    rising: tuple[str, ...] = ()


NUMBERS: Mapping[str, Number] = {
    number.name: number
    for number in (
        Number("speed", "speed", "km/h", 0.6, 0.3, 0.9),
        Number("centre_plate", "centre plate", "%", 8.0, 5.0, 15.0),
        Number("off_side_plate", "off-side plate", "%", 8.0, 5.0, 15.0, ("people", "water")),
    )
}
"""Water is not among them: it is bounded by limits and freeboard, which no rating may move."""


@dataclass(frozen=True, slots=True)
class Context:
    """People aboard, the rider not among them; ballast water and the rider's mass (kg)."""

    people: float
    water: float
    rider_mass: float

    @property
    def features(self) -> tuple[float, float, float, float]:
        return (
            1.0, (self.people - 6.0) / 4.0, (self.water - 1000.0) / 500.0,
            (self.rider_mass - 80.0) / 20.0,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ridden:
    """One run. ``final`` less ``advised`` is what the regression sees, number by number.

    ``advised`` is what the rule base says without this boat's log. Numbers that one of the two
    lacks are not looked at. ``day``: when, in days from any one moment; a run's age is reckoned
    from the boat's latest, so that the same log says the same tomorrow.
    """

    context: Context
    advised: Mapping[str, float]
    final: Mapping[str, float]
    rating: int
    rider: str | None = None
    day: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """The posterior for one number: boat's coefficients (4,) with covariance, riders' offsets.

    ``runs`` were looked at, ``weight`` is what they are worth in fresh five-star runs.
    ``riders``: runs, offset, its standard error and its covariance (4,) with the boat's.
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

    @property
    def width(self) -> float:
        """Half-width of the 95 % interval in standard errors."""
        return float(stdtrit(self.freedom, 0.5 + CONFIDENCE / 2.0))

    def boat(self, context: Context) -> tuple[float, float]:
        """The boat's offset with this aboard and the half-width of its 95 % interval."""
        x = np.array(context.features)
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
    return _regress(_Table.of(runs), number, half_life)


def learn_all(runs: Sequence[Ridden], half_life: float | None = None) -> Mapping[str, Offsets]:
    """What the runs say of every number they say something of."""
    table = _Table.of(runs)
    found = {name: _regress(table, number, half_life) for name, number in NUMBERS.items()}
    return {name: offsets for name, offsets in found.items() if offsets is not None}


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Runs as columns: (n, 4) features; (n,) of the rest; deviations by number, NaN where none."""

    features: Array
    scale: Array
    day: Array
    rider: NDArray[np.intp]
    riders: tuple[str, ...]
    deviations: Mapping[str, Array] = field(default_factory=dict)

    @classmethod
    def of(cls, runs: Sequence[Ridden]) -> _Table:
        riders = sorted({run.rider for run in runs if run.rider is not None})
        index = {rider: number for number, rider in enumerate(riders)}
        nobody = len(riders)
        return cls(
            features=np.array([run.context.features for run in runs]).reshape(-1, len(FEATURES)),
            scale=np.array([SCATTER_BY_RATING.get(run.rating, math.inf) for run in runs]),
            day=np.array([run.day for run in runs], dtype=np.float64),
            rider=np.array(
                [nobody if run.rider is None else index[run.rider] for run in runs], dtype=np.intp
            ),
            riders=tuple(riders),
            deviations={
                name: np.array(
                    [
                        run.final.get(name, math.nan) - run.advised.get(name, math.nan)
                        for run in runs
                    ]
                )
                for name in NUMBERS
            },
        )


def _regress(table: _Table, number: Number, half_life: float | None) -> Offsets | None:
    every = table.deviations[number.name]
    used = np.flatnonzero(np.isfinite(every) & np.isfinite(table.scale))
    if not len(used):
        return None
    # Each rider's runs together; those of nobody known come last and belong to no rider.
    used = used[np.argsort(table.rider[used], kind="stable")]
    present, first, counts = np.unique(table.rider[used], return_index=True, return_counts=True)
    riders = int(np.sum(present < len(table.riders)))
    group = np.repeat(np.arange(len(present)), counts)
    columns = np.column_stack((table.features[used], every[used]))
    x, d = columns[:, :-1], columns[:, -1]
    stated = table.scale[used] ** -2.0
    if half_life is not None:
        stated = stated * 0.5 ** ((table.day.max() - table.day[used]) / half_life)
    prior = np.array([1.0, *[0.5] * (len(FEATURES) - 1)]) * number.offset
    variance = number.scatter**2
    weight = stated
    for turn in range(_REWEIGHTINGS + 1):
        # Information [[N, Cᵀ], [C, D]] of boat and riders, D diagonal: by its Schur complement.
        weighed = columns * (_TOLD / variance * weight)[:, None]
        sums = weighed.T @ x
        of_riders = np.add.reduceat(weighed, first)[:riders]
        cross, pull = of_riders[:, :-1], of_riders[:, -1]
        own = cross[:, 0] + (number.offset / 2.0) ** -2.0
        share = cross / own[:, None]
        covariance = np.linalg.inv(sums[:-1] + np.diag(prior**-2.0) - share.T @ cross)
        boat = covariance @ (sums[-1] - share.T @ pull)
        offsets = (pull - cross @ boat) / own
        if turn == _REWEIGHTINGS:
            break
        off = d - x @ boat - np.append(offsets, 0.0)[group]
        squares = off * off
        doubt = (_FREEDOM + 1.0) / (_FREEDOM + stated * squares / variance)
        weight = stated * doubt
        variance = (_START * number.scatter**2 + float(weight @ squares)) / (_START + len(used))
    errors = np.sqrt(1.0 / own + np.einsum("ij,jk,ik->i", share, covariance, share))
    return Offsets(
        number=number,
        runs=len(used),
        weight=float(stated.sum()),
        coefficients=boat,
        covariance=covariance,
        riders={
            table.riders[name]: (int(counts[k]), float(offsets[k]), float(errors[k]))
            for k, name in enumerate(present[:riders])
        },
        scatter=math.sqrt(variance),
        freedom=_START + len(used),
        doubted=tuple(sorted(used[weight < stated / 4.0].tolist())),
    )
