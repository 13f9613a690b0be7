"""What is known of a boat, from where, how surely, and what is worth measuring next."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.calibration.fit import WIDTH, Fit
from service.calibration.log import USUAL, Context, Offsets
from service.calibration.predict import NotFloatingError, predict
from service.calibration.survey import Condition, Direct, Freeboard, Heel, Survey, Unknown

Array = NDArray[np.float64]

WEIGHBRIDGE = 20.0
"""Standard deviation (kg) of the light mass from a weighbridge, the trailer taken off."""
TAPE_ASHORE = 0.003
"""Standard deviation (m) of the depth, keel to sheer, by tape ashore."""
BREADTHS_ASHORE = 0.003
"""Standard deviation of the breadths, as a share of them, by tape ashore."""
MOVED = 75.0
"""Mass (kg) moved from side to side in the inclining proposed: one person. All four are this
project's own choice."""

ABOARD, RIDERS = (2.0, 6.0, 10.0), (55.0, 80.0, 105.0)
"""People aboard, and the rider's mass (kg), of the runs proposed."""

_BOAT = slice(Unknown.MASS, Unknown.DEPTH)


@dataclass(frozen=True, slots=True)
class Known:
    """One unknown: its value and the half-width of its 95 % interval, before and now.

    ``found``: the readings told more than the particulars had.
    """

    unknown: Unknown
    value: float
    band: float
    value_before: float
    band_before: float
    found: bool


@dataclass(frozen=True, slots=True)
class Proposal:
    """Something to measure; ``readings`` are what would be read, their values unused."""

    name: str
    says: str
    readings: Survey


@dataclass(frozen=True, slots=True)
class Gain:
    """What a proposal would bring: half-widths of the 95 % intervals now and then, (7,) each.

    ``share``: by how much the uncertainty of mass and centre together would shrink, 0 to 1, as
    the mean of the four in the sense of their determinant.
    """

    proposal: Proposal
    now: Array
    then: Array
    share: float


def known(found: Fit) -> tuple[Known, ...]:
    """Mass and centre of the light boat and the corrections of her form."""
    return tuple(
        Known(
            unknown=unknown,
            value=float(found.unknowns[unknown]),
            band=WIDTH * float(found.sd[unknown]),
            value_before=float(found.before[unknown]),
            band_before=WIDTH * float(found.before_sd[unknown]),
            found=found.identified(unknown),
        )
        for unknown in Unknown
        if unknown is not Unknown.ZERO
    )


def proposals(found: Fit, conditions: Mapping[str, Condition]) -> Iterator[Proposal]:
    """What could be measured; ``conditions``: known loadings by name, as "with full tanks"."""
    hull = found.form
    places = (("stern", hull.x_min), ("middle", (hull.x_min + hull.x_max) / 2), ("bow", hull.x_max))
    for name, loading in conditions.items():
        condition = replace(loading, freeboards=(), heels=())
        every = tuple(
            Freeboard(x, side, 0.0) for _, x in places for side in ("port", "starboard")
        )  # fmt: skip
        for place, x in places:
            for side in ("port", "starboard"):
                yield Proposal(
                    f"freeboard_{place}_{side}",
                    f"one freeboard at the {place}, {side} side, {name}",
                    Survey((replace(condition, freeboards=(Freeboard(x, side, 0.0),)),)),
                )
        yield Proposal(
            "freeboards",
            f"freeboards at stern, middle and bow on both sides, {name}",
            Survey((replace(condition, freeboards=every),)),
        )
        moment = MOVED * hull.beam / 2.0
        heels = tuple(Heel(0.0, share * moment) for share in (0.0, 0.5, 1.0, 0.0, -0.5, -1.0))
        yield Proposal(
            "inclining",
            f"an inclining, {name}: {MOVED:.0f} kg moved {hull.beam / 4:.1f} and "
            f"{hull.beam / 2:.1f} m to each side, the heel read six times",
            Survey((replace(condition, heels=heels),)),
        )
    yield Proposal(
        "weighbridge",
        "the light boat on a weighbridge",
        Survey(direct=(Direct(Unknown.MASS, 0.0, WEIGHBRIDGE),)),
    )
    yield Proposal(
        "depth",
        "the depth from keel to sheer by tape, ashore",
        Survey(direct=(Direct(Unknown.DEPTH, 0.0, TAPE_ASHORE),)),
    )
    yield Proposal(
        "breadth",
        "the breadth over the chines by tape, ashore",
        Survey(direct=(Direct(Unknown.BREADTH, 0.0, BREADTHS_ASHORE),)),
    )


def gains(found: Fit, offered: Iterable[Proposal]) -> list[Gain]:
    """What each proposal would bring, the most first; those she would not float for left out."""
    reckoned = [gain for proposal in offered if (gain := _gain(found, proposal)) is not None]
    return sorted(reckoned, key=lambda gain: (-gain.share, gain.proposal.says))


def _gain(found: Fit, proposal: Proposal) -> Gain | None:
    try:
        _, by = predict(found.form, found.unknowns, proposal.readings)
    except NotFloatingError:
        return None
    now = found.covariance
    # The update by k readings; k is small, and mass and metres differ too much to invert ``now``.
    gain = now @ by.T @ np.linalg.inv(np.diag(proposal.readings.sd**2) + by @ now @ by.T)
    then = now - gain @ by @ now
    shrink = np.linalg.slogdet(_scaled(then, now))[1] - np.linalg.slogdet(_scaled(now, now))[1]
    return Gain(
        proposal,
        WIDTH * np.sqrt(np.diag(now)),
        WIDTH * np.sqrt(np.diag(then)),
        1.0 - math.exp(shrink / 8.0),
    )


def _scaled(covariance: Array, unit: Array) -> Array:
    """Mass and centre alone, in standard deviations of ``unit``."""
    sd = np.sqrt(np.diag(unit)[_BOAT])
    scaled: Array = covariance[_BOAT, _BOAT] / np.outer(sd, sd)
    return scaled


@dataclass(frozen=True, slots=True)
class Ride:
    """A run that would be worth riding, and what it would bring if it rode well.

    ``share``: by how much the uncertainty of the boat's offsets would shrink, 0 to 1, as the mean
    of all their coefficients in the sense of the determinant.
    """

    context: Context
    share: float


def rides(learned: Mapping[str, Offsets]) -> list[Ride]:
    """What one more run of five stars would bring by who is aboard, the most first.

    Someone rides whose own offsets nobody knows. ``learned`` by number; without any there is
    nothing to compare.
    """
    found = []
    for people, mass in itertools.product(ABOARD, RIDERS):
        context = Context(people, USUAL.water, mass)
        gain, of = 0.0, 0
        for offsets in learned.values():
            x = context.features * offsets.number.looked_at
            noise = offsets.scatter**2 + (offsets.number.offset / 2.0) ** 2
            gain += math.log1p(float(x @ offsets.covariance @ x) / noise)
            of += int(offsets.number.looked_at.sum())
        if of:
            found.append(Ride(context, 1.0 - math.exp(-gain / (2.0 * of))))
    return sorted(found, key=lambda ride: (-ride.share, ride.context.people))
