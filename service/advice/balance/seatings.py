"""All ways to seat people and lay bags, each once, or a well spread part where there are too many.

People of one mass with the same place to leave are interchangeable: only how many of them sit
where counts. So are bags.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.cost import Array

Ints = NDArray[np.int64]
Shorts = NDArray[np.int16]

EXACT = 2000
"""Up to this many part-seatings all are kept; beyond it only ``SPREAD``."""
SPREAD = 160
"""So many part-seatings go on, at most, spread evenly over the lean and trim that they give."""
KEPT = 800
"""And so many seatings come out of that."""


@dataclass(frozen=True, slots=True)
class Sitter:
    """Somebody to be seated or a bag to be laid: mass (kg), the spot to leave or -1.

    ``reach``: the spots to choose from. ``effort``: what it costs to leave the spot. ``drives``:
    whether they may be the driver.
    """

    mass: float
    home: int
    reach: tuple[int, ...]
    effort: float
    drives: bool


@dataclass(frozen=True, slots=True, eq=False)
class Seatings:
    """``spot`` (k, sitters): where each is. ``mass`` (k, spots): kg at each spot.

    ``moved`` (k): how many left a spot, at what ``effort`` (k); ``bow`` (k): how many are in the
    bow third. ``complete``: whether these are all the seatings there are.
    """

    spot: Ints
    mass: Array
    moved: Ints
    effort: Array
    bow: Ints
    complete: bool


def seatings(
    sitters: Sequence[Sitter],
    places: Sequence[int],
    driver: int | None,
    bow_spots: NDArray[np.bool_],
    tilt: Array,
    most_moved: int | None = None,
) -> Seatings:
    """Every seating of ``sitters``, equals next to each other, on spots with ``places`` free.

    There must be a place for everybody. ``driver`` is a spot that one of the last kind of those
    who drive must take if nobody else did, and others only after that. ``tilt`` (spots, 2): lean
    and trim in half bands by 1 kg at each. With ``most_moved`` only seatings in which no more of
    them leave their spots. Work is bounded: for each sitter ``EXACT`` part-seatings times the
    number of spots at most.
    """
    count = len(places)
    # The driver's comes first: so the first of some equals takes it or none of them does.
    order = np.array(sorted(range(count), key=lambda seat: seat != driver), dtype=np.int16)
    seats = np.arange(count)
    free = np.minimum(np.array(places), len(sitters)).astype(np.int16)[order][None, :]
    chosen = np.zeros((1, len(sitters)), dtype=np.int16)
    last = np.zeros(1, dtype=np.int64)
    moved, bow = np.zeros(1, dtype=np.int16), np.zeros(1, dtype=np.int16)
    effect = np.zeros((2, 1))  # by rows, which numpy adds and compares as they lie in memory
    driven = np.full(1, driver is None)
    reached = {reach: _reached(reach, order) for reach in {sitter.reach for sitter in sitters}}
    forward, turn = bow_spots[order].astype(np.int16), tilt[order].T
    last_driver = max((n for n, one in enumerate(sitters) if one.drives), default=-1)
    complete = True
    for number, sitter in enumerate(sitters):
        first = number == 0 or sitters[number - 1] != sitter
        alike = sum(1 for other in sitters[number:] if other == sitter)
        room = free * reached[sitter.reach]
        allowed = room > 0
        if not first:
            allowed &= seats >= last[:, None]
        # Those of the same kind still to come sit here or further on.
        rest = room[:, ::-1].cumsum(axis=1)[:, ::-1]
        allowed &= rest >= alike
        if not sitter.drives:
            allowed[:, 0] &= driven
        elif first and number + alike > last_driver:
            allowed[~driven, 1:] = False
        if most_moved is not None and sitter.home >= 0:
            allowed &= (moved[:, None] < most_moved) | (order == sitter.home)
        row, seat = np.nonzero(allowed)
        moved = moved[row] + ((order[seat] != sitter.home) & (sitter.home >= 0))
        bow = bow[row] + forward[seat]
        effect = effect[:, row] + sitter.mass * turn[:, seat]
        driven = driven[row] | (seat == 0)
        done = number + 1 == len(sitters)
        if len(row) > (KEPT if done and not complete else EXACT):
            complete = False
            kept = _spread(effect, driven, seat, moved, bow, KEPT if done else SPREAD)
            row, seat = row[kept], seat[kept]
            moved, bow, effect, driven = moved[kept], bow[kept], effect[:, kept], driven[kept]
        last, free, chosen = seat, free[row], chosen[row]
        free[np.arange(len(row)), seat] -= 1
        chosen[:, number] = order[seat]
    mass, effort = np.zeros((len(chosen), count)), np.zeros(len(chosen))
    rows = np.arange(len(chosen))
    for number, sitter in enumerate(sitters):
        mass[rows, chosen[:, number]] += sitter.mass
        if sitter.home >= 0:
            effort += sitter.effort * (chosen[:, number] != sitter.home)
    wide = np.int64
    return Seatings(
        chosen.astype(wide), mass, moved.astype(wide), effort, bow.astype(wide), complete
    )


def with_the_plain_ones(
    sitters: Sequence[Sitter],
    places: Sequence[int],
    driver: int | None,
    bow_spots: NDArray[np.bool_],
    tilt: Array,
    still: Seatings | None,
) -> Seatings:
    """:func:`seatings`; where those are not all, also those that a thinning may have lost:

    with nobody in the bow third, with only one or two that leave a spot, and those in which
    nobody does, ``still``, where the last of the sitters are seated.
    """
    every = seatings(sitters, places, driver, bow_spots, tilt)
    if every.complete:
        return every
    parts = [every]
    aft = np.where(bow_spots, 0, np.array(places))
    # People come last; bags have spots of their own.
    people = [one.reach for one in sitters if not set(one.reach).isdisjoint(sitters[-1].reach)]
    if aft[list({spot for reach in people for spot in reach})].sum() >= len(people):
        parts.append(seatings(sitters, aft.tolist(), driver, bow_spots, tilt))
    if any(sitter.home >= 0 for sitter in sitters):
        parts.append(seatings(sitters, places, driver, bow_spots, tilt, most_moved=2))
    if still is not None:
        parts.append(_with_the_rest(still, sitters))
    return Seatings(
        np.concatenate([part.spot for part in parts]),
        np.concatenate([part.mass for part in parts]),
        np.concatenate([part.moved for part in parts]),
        np.concatenate([part.effort for part in parts]),
        np.concatenate([part.bow for part in parts]),
        complete=False,
    )


def _with_the_rest(still: Seatings, sitters: Sequence[Sitter]) -> Seatings:
    """The seatings of the last of ``sitters`` with all others where they are."""
    others = sitters[: len(sitters) - still.spot.shape[1]]
    homes = np.array([sitter.home for sitter in others], dtype=np.int64)
    mass = np.zeros(still.mass.shape[1])
    np.add.at(mass, homes, [sitter.mass for sitter in others])
    spot = np.concatenate((np.tile(homes, (len(still.spot), 1)), still.spot), axis=1)
    return replace(still, spot=spot, mass=still.mass + mass)


def _reached(reach: Sequence[int], order: Shorts) -> Shorts:
    """1 for each spot of ``order`` that is within reach, 0 for the others."""
    within = np.zeros(len(order), dtype=np.int16)
    within[list(reach)] = 1
    return within[order]


def _spread(
    effect: Array, driven: NDArray[np.bool_], last: Ints, moved: Shorts, bow: Shorts, most: int
) -> Ints:
    """Indices of at most ``most`` rows: the best of each cell of the plane of lean and trim.

    ``effect`` (2, rows). With and without a driver apart; among equals those that leave the others
    more seats.
    """
    low = effect.min(axis=1, keepdims=True)
    rank = (moved.astype(np.int64) * (int(bow.max()) + 1) + bow) * (int(last.max()) + 1) + last
    if rank.max() < np.iinfo(np.int16).max:
        rank = rank.astype(np.int16)  # which numpy sorts by radix
    worst_first = np.argsort(-rank, kind="stable")
    width = float((effect.max(axis=1) - low[:, 0]).max()) / (4.0 * most**0.5) + 1e-12
    while True:
        along, across = np.floor((effect - low) / width).astype(np.int64)
        key = (along * (int(across.max()) + 1) + across) * 2 + driven
        best = np.full(int(key.max()) + 1, -1)
        best[key[worst_first]] = worst_first  # the last written, the best, stays
        kept = best[best >= 0]
        if len(kept) <= most:
            return np.sort(kept)
        width *= 1.5
