"""The use case: riders, crew, water and time in; who rides when, and what changes, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rules.base import RuleBase
from rules.model import Verdict
from service.advice.changeover import Patience
from service.advice.loading_condition import Attitude
from service.advice.requests import Role
from service.outings.answer import Homeward, Line, Loss, Missed, Outing, Remark, Short
from service.outings.begin import begin
from service.outings.between import Between, with_fuel
from service.outings.compromise import Compromise, compromise, water_moved
from service.outings.homes import way_home
from service.outings.order import BROKEN, Ordered
from service.outings.ordering import HOPELESS, PATIENCE, Changes, kept, ordered, proved
from service.outings.requests import Mode, OutingRequest
from service.outings.setups import Turn, own_turn
from service.outings.sharing import Shares, share, worth_a_turn
from service.outings.staying import better, shifts, staying
from service.outings.trip import Trip

AGAIN = 1
"""Rounds of set-ups made again for the fuel that is left, at most."""
READABLE = 0.1
"""Degrees outside its band that fuel may bring: nobody reads heel and trim closer on the water."""
UNSAFE = {Remark.BROKEN, Remark.UNSAFE_OUT, Remark.UNSAFE_RIDING, Remark.UNSAFE_HOME}
_VERDICTS = list(Verdict)


@dataclass(frozen=True, slots=True)
class _Draft:
    """An order with its times; ``turns`` are those of each rider."""

    turns: tuple[int, ...]
    order: Ordered
    shares: Shares
    changes: Changes


def plan_outing(request: OutingRequest, base: RuleBase) -> Outing:
    """The order with the least change-over time that keeps the wishes, and its timetable.

    Deterministic; mirrored outings get exactly mirrored plans. Whatever does not fit is left out
    and said, and what is unsafe gets its verdict; neither is an error.
    """
    trip = begin(request, base)
    found = _planned(trip)
    return better(found, _planned(staying(trip))) if shifts(found) else found


def _planned(trip: Trip) -> Outing:
    fuel = _reckoned_fuel(trip)
    common: Compromise | None = None
    if trip.request.mode is Mode.EACH:
        turns = [own_turn(trip, rider, fuel) for rider in range(len(trip.riders))]
    else:
        common = compromise(trip, fuel)
        turns = list(common.turns)
    home, enough = way_home(trip, [turn.stand for turn in turns])
    remarks: list[tuple[Remark, int | None]] = [] if enough else [(Remark.NO_SEATS_AFT, None)]
    shifted: list[int] = []
    known: dict[tuple[int, int], Between] = {}
    hopeless = all(turn.verdict is Verdict.DO_NOT_GO for turn in turns)
    patience = Patience(HOPELESS if hopeless else PATIENCE)
    for again in range(AGAIN + 1):
        stands = [*(turn.stand for turn in turns), trip.now, home]
        draft = _draft(trip, Changes(trip, stands, fuel, known, patience))
        lines, homeward = _timetable(trip, turns, draft)
        shifted = [
            n for n, line in enumerate(lines) if not all(_holds(trip, line, a) for a in line.lies)
        ]
        anew = {lines[n].turn.rider: lines[n].fuel[0] for n in shifted}
        anew = {rider: round(left, 3) for rider, left in anew.items()}
        if common is not None or again == AGAIN or patience.lost:
            break
        if all(turns[rider].fuel == left for rider, left in anew.items()):
            break
        for rider, left in anew.items():
            turns[rider] = own_turn(trip, rider, left)
        known = {pair: found for pair, found in known.items() if not anew.keys() & set(pair)}
    remarks += [(Remark.FUEL_SHIFTS, number) for number in shifted]
    return _outing(trip, draft, lines, homeward, remarks, common)


def _reckoned_fuel(trip: Trip) -> float:
    """What is left half-way, as a fraction in tenths of a percent: what set-ups are made for."""
    time = math.fsum(trip.wanted) + 2.0 * trip.way
    if trip.request.total_time is not None:
        time = min(time, trip.request.total_time)
    return round(max(trip.fuel - _burnt(trip, time) / 2.0, 0.0), 3)


def _burnt(trip: Trip, seconds: float) -> float:
    """Fraction of the fuel tank that ``seconds`` under way take."""
    capacity = trip.boat.fuel.capacity
    return trip.fuel_use * seconds / capacity if capacity > 0.0 else 0.0


def _draft(trip: Trip, changes: Changes) -> _Draft:
    """Leaves out turns until the rest is worth riding, one at a time.

    First goes a turn of whoever has most of them, of several that of the last in the list.
    """
    turns = [rider.turns for rider in trip.riders]
    total = trip.request.total_time
    if total is not None:
        # Even without any change-over.
        while any(turns) and _least_time(trip, turns) > total:
            _leave_one_out(turns)
    while True:
        if not any(turns):
            return _Draft(tuple(turns), Ordered((), 0, 0), Shares((0.0,) * len(turns)), changes)
        order = ordered(changes, turns)
        if _shared(trip, changes, turns, order).worth(trip, turns):
            order = proved(changes, turns, order)
            shares = _shared(trip, changes, turns, order)
            if shares.worth(trip, turns):
                return _Draft(tuple(turns), order, shares, changes)
        _leave_one_out(turns)


def _shared(trip: Trip, changes: Changes, turns: Sequence[int], order: Ordered) -> Shares:
    path = [-2, *order.order, -1]
    change = math.fsum(changes.exact(a, b).seconds for a, b in pairwise(path))
    return share(trip, turns, change + 2.0 * trip.boarding * sum(turns) + 2.0 * trip.way)


def _least_time(trip: Trip, turns: Sequence[int]) -> float:
    riding = math.fsum(
        count * worth_a_turn(trip, rider, count) for rider, count in enumerate(turns) if count
    )
    return riding + 2.0 * trip.boarding * sum(turns) + 2.0 * trip.way


def _leave_one_out(turns: list[int]) -> None:
    most = max(turns)
    turns[max(rider for rider, count in enumerate(turns) if count == most)] -= 1


def _timetable(
    trip: Trip, turns: Sequence[Turn], draft: _Draft
) -> tuple[tuple[Line, ...], Homeward]:
    """Times from the start, with the fuel that is left at each."""
    stands = draft.changes.stands
    clock, under_way = trip.way, trip.way
    lines: list[Line] = []
    last = -2
    for number, rider in enumerate(draft.order.order):
        fuel = trip.fuel - _burnt(trip, under_way)
        change = _change(trip, draft, last, rider, max(fuel, 0.0))
        starts = clock + change.seconds + trip.boarding * (2.0 if number else 1.0)
        length = draft.shares.riding[rider] / draft.turns[rider]
        under_way += length
        left = trip.fuel - _burnt(trip, under_way)
        lies = (
            trip.lies(stands[rider], max(fuel, 0.0)), trip.lies(stands[rider], max(left, 0.0))
        )  # fmt: skip
        lines.append(Line(turns[rider], change, clock, starts, starts + length, (fuel, left), lies))
        clock, last = starts + length, rider
    fuel = trip.fuel - _burnt(trip, under_way)
    change = _change(trip, draft, last, -1, max(fuel, 0.0))
    starts = clock + change.seconds + (trip.boarding if lines else 0.0)
    end = starts + trip.way
    left = trip.fuel - _burnt(trip, under_way + trip.way)
    lies_home = trip.lies(stands[-1], max(fuel, 0.0))
    return tuple(lines), Homeward(stands[-1], change, clock, starts, end, left, lies_home)


def _change(trip: Trip, draft: _Draft, before: int, after: int, fuel: float) -> Between:
    """The change-over that the order was found with, confirmed for the fuel that is left."""
    changes = draft.changes
    found = changes.exact(before, after)
    ends = changes.stands[before], changes.stands[after]
    return with_fuel(trip, found, *ends, fuel, changes.patience)


def _holds(trip: Trip, line: Line, attitude: Attitude) -> bool:
    """Whether a set-up with other fuel still does what it was made for, and is as safe."""
    turn, planned = line.turn, line.turn.attitude
    board, was = attitude.freeboard, planned.freeboard
    if was is None or planned.lean is None or planned.trim is None:
        return True  # nothing to hold
    if board is None or attitude.lean is None or attitude.trim is None:
        return False
    if attitude.floats is not planned.floats:
        return False
    number = trip.base.number
    lines = (
        (board.least, was.least, number("attitude.freeboard_caution")),
        (board.least, was.least, number("attitude.freeboard_stop")),
        (board.bow, was.bow, number("attitude.bow_freeboard_caution")),
    )
    lean = attitude.lean * turn.side.sign * trip.side.sign
    return (
        abs(turn.aim.lean.off(lean)) <= abs(turn.aim.lean.off(planned.lean)) + READABLE
        and abs(turn.aim.trim.off(attitude.trim)) <= abs(turn.aim.trim.off(planned.trim)) + READABLE
        and all(now >= line or before < line for now, before, line in lines)
    )


def _outing(
    trip: Trip, draft: _Draft, lines: Sequence[Line], home: Homeward,
    remarks: list[tuple[Remark, int | None]], common: Compromise | None,
) -> Outing:  # fmt: skip
    changes = [*(line.between for line in lines), home.between]
    if not any(person.role is Role.DRIVER for person in trip.people):
        remarks.insert(0, (Remark.NO_DRIVER, None))
    remarks += [(Remark.BROKEN, number) for number, change in enumerate(changes) if change.broken]
    remarks += [(Remark.FUEL_OUT, n) for n, line in enumerate(lines) if line.fuel[1] < 0.0][:1]
    if home.fuel < 0.0 and not any(kind is Remark.FUEL_OUT for kind, _ in remarks):
        remarks.append((Remark.FUEL_OUT, None))
    out = trip.lies(trip.now, trip.fuel)
    remarks += [
        (kind, None)
        for kind, attitude in ((Remark.UNSAFE_OUT, out), (Remark.UNSAFE_HOME, home.lies))
        if not _safe(trip, attitude)
    ]
    remarks += [
        (Remark.UNSAFE_RIDING, number)
        for number, line in enumerate(lines)
        if not all(_safe(trip, attitude) for attitude in line.lies)
    ]
    verdict = max((line.turn.verdict for line in lines), key=_VERDICTS.index, default=Verdict.GO)
    if any(kind in UNSAFE or kind is Remark.NO_DRIVER for kind, _ in remarks):
        verdict = Verdict.DO_NOT_GO
    pumps = [pump for change in changes for pump in change.pumps]
    sides = [line.turn.side for line in lines]
    order = draft.order
    shown = order.cost % BROKEN
    return Outing(
        trip=trip,
        verdict=verdict,
        lines=tuple(lines),
        home=home,
        out=out,
        cost=shown / 1000.0,
        bound=max(order.bound - (order.cost - shown), 0) / 1000.0,
        pumping=math.fsum(change.pumping for change in changes),
        water_in=math.fsum(max(pump.volume, 0.0) for pump in pumps),
        water_out=math.fsum(max(-pump.volume, 0.0) for pump in pumps),
        side_changes=sum(a is not b for a, b in pairwise(sides)),
        riding=draft.shares.riding,
        fairness=_fairness(trip, draft.shares.riding),
        short=tuple(_short(trip, draft)),
        remarks=tuple(remarks),
        losses=() if common is None else _losses(common),
    )


def _safe(trip: Trip, attitude: Attitude) -> bool:
    board, lean = attitude.freeboard, attitude.lean
    if not attitude.floats or board is None or lean is None:
        return False
    number = trip.base.number
    return board.least >= number("attitude.freeboard_stop") and abs(lean) <= number(
        "attitude.lean_stop"
    )


def _fairness(trip: Trip, riding: Sequence[float]) -> float | None:
    """Jain's index of the parts of what each wanted (Jain, Chiu and Hawe 1984, from memory)."""
    parts = [got / wanted for got, wanted in zip(riding, trip.wanted, strict=True)]
    squares = math.fsum(part * part for part in parts)
    return math.fsum(parts) ** 2 / (len(parts) * squares) if squares > 0.0 else None


def _short(trip: Trip, draft: _Draft) -> list[Short]:
    found = []
    order = draft.order.order
    for rider, asked in enumerate(trip.riders):
        got = draft.turns[rider]
        if not got:
            found.append(Short(rider, Missed.NO_TURN, trip.wanted[rider]))
            continue
        if got < asked.turns:
            found.append(Short(rider, Missed.FEWER_TURNS, float(asked.turns - got)))
        missing = trip.wanted[rider] - draft.shares.riding[rider]
        if missing > 0.5:
            found.append(Short(rider, Missed.SHORTER, missing))
        found += [Short(rider, Missed.WISH) for wish in asked.place if not kept(wish)(order, rider)]
        at = [n for n, who in enumerate(order) if who == rider]
        if any(b - a <= asked.rest for a, b in pairwise(at)):
            found.append(Short(rider, Missed.REST))
    return found


def _losses(common: Compromise) -> tuple[Loss, ...]:
    losses = []
    for turn, own, other in zip(common.turns, common.own, common.other_side, strict=True):
        off = f"{turn.side.other.value}_plate"

        def less(one: float | None, two: float | None) -> float | None:
            return None if one is None or two is None else one - two

        volumes = [{t.tank: t.volume for t in each.setup.tanks} for each in (turn, own)]
        losses.append(
            Loss(
                rider=turn.rider,
                speed=turn.setup.speed - own.setup.speed,
                centre_plate=less(turn.setup.centre_plate, own.setup.centre_plate),
                off_side_plate=less(getattr(turn.setup, off), getattr(own.setup, off)),
                water=water_moved(volumes[0], volumes[1]),
                lean=less(turn.attitude.lean, own.attitude.lean),
                trim=less(turn.attitude.trim, own.attitude.trim),
                other_side=other,
            )
        )
    return tuple(losses)
