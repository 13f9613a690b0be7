"""Puts the answer together: from accounts and the plan to the set-up as the boat is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal

from rules.accounts import Account, Line, quantised
from rules.model import Target
from service.advice.answer import OWN_PLACE, AtRest, Moving, Seating, Setup, Shifting, TankSetting
from service.advice.case import Case
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.loading_plan import Limit, Plan
from service.advice.requests import Person
from service.advice.wanted import asked_of_tanks
from service.boats.model import Boat, Side
from service.hydrostatics.stability import upright

KMH = 1.0 / 3.6
"""One km/h in m/s; rules speak of km/h."""

LESS = {
    Limit.FLOATS: "less, to keep the boat afloat and upright",
    Limit.FREEBOARD: "less, to keep the sides high",
    Limit.BOW: "less, to keep the bow high",
    Limit.GM: "less, to keep the boat stable",
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
MOST_NAMED = 3
"""People named, at most, for whom water has to be on the other side."""


def accounts_of(case: Case, plan: Plan) -> dict[str, Account]:
    """The account of each number: speed, plates, lean, trim, and ``tanks.<id>`` in percent."""
    accounts = {
        target.value: account
        for target in _OF_THE_BOAT
        if (account := case.reasoning.account(target)) is not None
    }
    asked = asked_of_tanks(case)
    numbers = {tank.id: number for number, tank in enumerate(case.condition.boat.tanks)}
    for tank in case.boat.tanks:
        number, name = numbers[tank.id], f"tanks.{tank.id}"
        accounts[name] = _tank_account(case, plan, number, Account(name, "%", asked[number]))
    return accounts


def _tank_account(case: Case, plan: Plan, number: int, account: Account) -> Account:
    """``account``, what rules and log ask of the tank, then what limits and balance change."""
    limits, tank = "ballast.within_limits", case.condition.boat.tanks[number]
    label, kind = "to a step of the gauge", "rounding"
    if account.value > quantised(100.0 * tank.max_fill, _TENTH):
        label, kind = "no more than the tank holds", "bound"
    raised = quantised(plan.raised[number], _TENTH)
    account = account.plus(Line("ballast.steps", label, raised, kind))
    if plan.for_room[number]:
        change = quantised(plan.for_room[number], _TENTH)
        account = account.plus(Line(limits, "no more than the load limit takes", change, "bound"))
    change = quantised(plan.left_out[number], _TENTH)
    account = account.plus(Line(limits, LESS[plan.left_out_for], change, "bound"))
    change = quantised(plan.for_balance[number], _TENTH)
    label = _against_people(plan) if plan.crossed else "moved for lean and trim"
    return account.plus(Line("balance.lean", label, change))


def _against_people(plan: Plan) -> str:
    """Who makes the surf side the lighter one: those furthest out on it, by name."""
    out = sorted(_moments(plan.condition), reverse=True)[:MOST_NAMED]
    names = ", ".join(person for moment, person in out if moment > 0.0)
    return f"against {names} on the surf side" if names else "against the weight on the surf side"


def _moments(condition: LoadingCondition) -> Iterator[tuple[float, str]]:
    """By how much each person turns the boat to the surf side (kg·m), and who it is."""
    weights = condition.people_weights(condition.people)
    for person, weight in zip(condition.people, weights, strict=True):
        yield weight.mass * weight.y, person.label


def setup_of(case: Case, plan: Plan, accounts: Mapping[str, Account]) -> Setup:
    """The set-up in the boat's own axes and in the order in which it lists its parts."""

    def fraction(target: Target) -> float | None:
        return float(accounts[target].value) / 100.0 if target in accounts else None

    off, surf = fraction(Target.OFF_SIDE_PLATE), fraction(Target.SURF_SIDE_PLATE)
    if case.condition.boat.plates.port is None:  # in the surf frame port is the surf side
        surf = None
    seating = _seating(case, plan)
    return Setup(
        surf_side=case.side,
        speed=float(accounts[Target.SPEED].value) * KMH,
        centre_plate=fraction(Target.CENTRE_PLATE),
        port_plate=surf if case.side is Side.PORT else off,
        starboard_plate=off if case.side is Side.PORT else surf,
        tanks=_tanks(case, plan),
        seating=seating,
        loads=tuple(_shifted(case, plan)),
        listed=case.listed,
        moving=_moving(case, sum(entry.moves for entry in seating)),
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
        for tank, fill, now in zip(
            case.condition.boat.tanks, plan.fills, case.condition.fills, strict=True
        )
    }
    return tuple(settings[tank.id] for tank in case.boat.tanks)


def _seating(case: Case, plan: Plan) -> tuple[Seating, ...]:
    """Everybody, in the order given."""

    def place(person: Person) -> str | None:
        return OWN_PLACE if person.x is not None else person.seat

    return tuple(
        Seating(
            person=before,
            role=case.roles.role_of(index, before),
            origin=place(before),
            goal=place(after),
            moves=before.placed and place(before) != place(after),
            gain=plan.gains.get(index),
        )
        for index, (before, after) in enumerate(
            zip(case.condition.people, plan.people, strict=True)
        )
    )


def _moving(case: Case, people: int) -> Moving | None:
    number = case.base.number
    if not people:
        return None
    return Moving(people, people * number("seating.move_time"), number("seating.notice"))


def _shifted(case: Case, plan: Plan) -> Iterator[Shifting]:
    """Movable loads that go elsewhere, in the boat's own axes."""
    for before, after in zip(case.condition.loads, plan.loads, strict=True):
        if after.seat is not None and before.seat is None:
            y = case.side.across(before.y)
            yield Shifting(before.name, before.mass, before.x, y, before.z, after.seat)


def at_rest_of(boat: Boat, side: Side, attitude: Attitude, density: float) -> AtRest:
    """The attitude, found in the surf frame of ``side``, in the boat's own axes."""
    floating, board = attitude.floating, attitude.freeboard
    if side is Side.STARBOARD:
        board = board and replace(board, port=board.starboard, starboard=board.port)
    amidships = None
    if floating.sinkage is not None and floating.trim is not None:
        middle = (boat.hull.x_min + boat.hull.x_max) / 2.0
        amidships = floating.sinkage - math.sin(floating.trim) * middle
    return AtRest(
        status=floating.status,
        iterations=floating.iterations,
        loading=replace(attitude.loading, y=side.across(attitude.loading.y)),
        density=density,
        displacement=attitude.loading.mass,
        draft_origin=floating.sinkage,
        draft_amidships=amidships,
        heel=None if floating.heel is None else side.across(floating.heel),
        trim=floating.trim,
        freeboard=board,
        hydrostatics=upright(boat.hull, attitude.loading, density, floating.upright),
    )
