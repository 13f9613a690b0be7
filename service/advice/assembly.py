"""Puts the answer together: from accounts and the plan to the set-up as the boat is."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal

from rules.accounts import Account, Line, quantised
from rules.model import Target
from service.advice.answer import AtRest, Seating, Setup, Shifting, TankSetting
from service.advice.case import Case
from service.advice.loading_plan import Limit, Plan
from service.advice.situation import Occupant
from service.advice.wanted import asked_of_tanks, room, starting_fills
from service.advice.weighing import Attitude
from service.boats.model import Boat, Side
from service.hydrostatics.stability import upright

KMH = 1.0 / 3.6
"""One km/h in m/s; rules speak of km/h."""

STAY = "own place"
"""Where somebody is who came with coordinates instead of a seat."""

LESS = {
    Limit.FLOATS: "less, to keep her afloat and upright",
    Limit.FREEBOARD: "less, to keep the sides high",
    Limit.BOW: "less, to keep the bow high",
    Limit.GM: "less, to keep her stable",
    Limit.MOST_LEAN: "less, so as not to lean too far",
    Limit.LEAN: "less, for the lean that is wanted",
    Limit.TRIM: "less, for the bow where it is wanted",
    None: "less, for lean and trim",
}
"""What an account says of water left out, by what it would put amiss."""

_OF_THE_BOAT = (
    Target.SPEED,
    Target.CENTRE_PLATE,
    Target.OFF_SIDE_PLATE,
    Target.SURF_SIDE_PLATE,
    Target.LEAN,
    Target.BOW_UP,
)
_TENTH = Decimal("0.1")


def accounts_of(case: Case, plan: Plan) -> dict[str, Account]:
    """The account of each number: speed, plates, lean, trim, and ``tanks.<id>`` in percent."""
    accounts = {
        target.value: account
        for target in _OF_THE_BOAT
        if (account := case.reasoning.account(target)) is not None
    }
    asked = asked_of_tanks(case)
    numbers = {tank.id: number for number, tank in enumerate(case.cargo.boat.tanks)}
    for tank in case.boat.tanks:
        number, name = numbers[tank.id], f"tanks.{tank.id}"
        accounts[name] = _tank_account(case, plan, number, Account(name, "%", asked[number]))
    return accounts


def _tank_account(case: Case, plan: Plan, number: int, account: Account) -> Account:
    """``account``, what rules and log ask of the tank, then what limits and balance change."""
    limits = "ballast.within_limits"
    if plan.for_room[number]:
        change = quantised(plan.for_room[number], _TENTH)
        account = account.plus(Line(limits, _takes(case, number), change, "bound"))
    change = quantised(plan.left_out[number], _TENTH)
    account = account.plus(Line(limits, LESS[plan.left_out_for], change, "bound"))
    change = quantised(plan.for_balance[number], _TENTH)
    return account.plus(Line("balance.lean", "moved for lean and trim, in whole percent", change))


def _takes(case: Case, number: int) -> str:
    """What has no room for all the water asked of a tank: the tank, the load limit, or both."""
    tanks = case.cargo.boat.tanks
    asked = [float(fill) / 100.0 for fill in starting_fills(case)]
    held = case.density * math.fsum(
        min(fill, tank.max_fill) * tank.capacity for fill, tank in zip(asked, tanks, strict=True)
    )
    limit = room(case)
    if limit is None or held <= limit:
        return "no more than the tank holds"
    if asked[number] <= tanks[number].max_fill:
        return "no more than the load limit takes"
    return "no more than the tank and the load limit take"


def setup_of(case: Case, plan: Plan, accounts: Mapping[str, Account]) -> Setup:
    """The set-up in the boat's own axes and in the order in which it lists its parts."""

    def fraction(target: Target) -> float | None:
        return float(accounts[target].value) / 100.0 if target in accounts else None

    off, surf = fraction(Target.OFF_SIDE_PLATE), fraction(Target.SURF_SIDE_PLATE)
    if case.cargo.boat.plates.port is None:  # in the surf frame port is the surf side
        surf = None
    return Setup(
        surf_side=case.side,
        speed=float(accounts[Target.SPEED].value) * KMH,
        centre_plate=fraction(Target.CENTRE_PLATE),
        port_plate=surf if case.side is Side.PORT else off,
        starboard_plate=off if case.side is Side.PORT else surf,
        tanks=_tanks(case, plan),
        seating=_seating(case, plan),
        loads=tuple(_shifted(case, plan)),
    )


def _tanks(case: Case, plan: Plan) -> tuple[TankSetting, ...]:
    settings = {
        tank.id: TankSetting(
            tank.id,
            fill,
            now,
            fill * tank.capacity,
            fill * tank.capacity * case.density,
            (fill - now) * tank.capacity,
        )
        for tank, fill, now in zip(case.cargo.boat.tanks, plan.fills, case.cargo.fills, strict=True)
    }
    return tuple(settings[tank.id] for tank in case.boat.tanks)


def _seating(case: Case, plan: Plan) -> tuple[Seating, ...]:
    """Everybody, grouped by mass, by where they come from and where they go."""
    seats = case.cargo.boat.seats
    order = [seat.id for seat in case.boat.seats]

    def place(person: Occupant) -> str | None:
        if person.seat is not None:
            return seats[person.seat].id
        return STAY if person.x is not None else None

    groups = Counter(
        (before.mass, place(before), place(after))
        for before, after in zip(case.cargo.people, plan.people, strict=True)
    )

    def by_goal(group: tuple[float, str | None, str | None]) -> tuple[float, ...]:
        mass, *ends = group
        places = [order.index(name) if name in order else len(order) for name in reversed(ends)]
        return (*places, -mass)

    return tuple(Seating(groups[group], *group) for group in sorted(groups, key=by_goal))


def _shifted(case: Case, plan: Plan) -> Iterator[Shifting]:
    """Movable loads that go elsewhere, in the boat's own axes."""
    sign = 1.0 if case.side is Side.PORT else -1.0
    for bag in plan.bags:
        if bag.seat is not None:
            load = case.cargo.loads[bag.load]
            seat = case.cargo.boat.seats[bag.seat].id
            yield Shifting(load.name, load.mass, load.x, sign * load.y + 0.0, load.z, seat)


def at_rest_of(boat: Boat, side: Side, attitude: Attitude, density: float) -> AtRest:
    """The attitude, found in the surf frame of ``side``, in the boat's own axes."""
    floating, board = attitude.floating, attitude.freeboard
    sign = 1.0
    if side is Side.STARBOARD:
        sign = -1.0
        board = board and replace(board, port=board.starboard, starboard=board.port)
    amidships = None
    if floating.sinkage is not None and floating.trim is not None:
        middle = (boat.hull.x_min + boat.hull.x_max) / 2.0
        amidships = floating.sinkage - math.sin(floating.trim) * middle
    return AtRest(
        status=floating.status,
        iterations=floating.iterations,
        loading=replace(attitude.loading, y=sign * attitude.loading.y + 0.0),
        density=density,
        displacement=attitude.loading.mass,
        draft_origin=floating.sinkage,
        draft_amidships=amidships,
        heel=None if floating.heel is None else sign * floating.heel + 0.0,
        trim=floating.trim,
        freeboard=board,
        hydrostatics=upright(boat.hull, attitude.loading, density, floating.upright),
    )
