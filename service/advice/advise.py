"""The main job: crew, ballast and rider in, an explained set-up out.

The rules fire in stages. What they say about the loading is worked out by the solver, the speed
and the plates are added up from what fired, and the last stage looks at the attitude that the
hydrostatics gives for exactly the advised set-up.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from rules.accounts import Account, Line, quantised, settle
from rules.base import RuleBase
from rules.engine import evaluate
from rules.model import TARGET_UNITS, Firing, Severity, Stage, Target, Verdict
from service.advice import facts as tell
from service.advice.answer import (
    Advice,
    AtRest,
    Seating,
    Setup,
    Sighted,
    TankSetting,
    Warned,
)
from service.advice.loading_plan import Band, Plan, Wanted, plan_loading
from service.advice.requests import AdviceRequest
from service.advice.sensitivities import sensitivities
from service.advice.situation import Cargo, FilledRider, Gaps, Occupant, cargo_of, fill_rider
from service.advice.under_way import running_estimate
from service.advice.weighing import (
    Attitude,
    ballast_mass,
    fixed_weights,
    gear_mass,
    lie,
    person_weight,
    tank_weights,
    water_density,
)
from service.boats.model import Boat, Side
from service.hydrostatics.stability import upright
from service.hydrostatics.weights import Loading
from service.running.waves import wave_pattern

KMH = 1.0 / 3.6
STAY = "own place"
"""Where somebody is who came with coordinates instead of a seat."""
VERDICTS = list(Verdict)
SEVERITIES = list(Severity)


@dataclass(slots=True)
class _Reasoning:
    """Facts as they become known, and what has fired so far."""

    base: RuleBase
    facts: dict[str, tell.Fact]
    fired: list[Firing]
    found: set[str]

    def run(self, *stages: Stage) -> None:
        fired, self.found = evaluate(self.base, self.facts, stages, self.found)
        self.fired += fired

    def account(self, target: Target) -> Account | None:
        return settle(self.base, self.fired, target, TARGET_UNITS[target])

    def number(self, target: Target) -> float:
        account = self.account(target)
        return 0.0 if account is None else float(account.value)

    def side(self) -> Side:
        return next(Side(firing.rule.side) for firing in self.fired if firing.rule.side)


def advise(request: AdviceRequest, base: RuleBase) -> Advice:
    """Explained set-up advice for one rider.

    Every valid request gets a verdict and a full set-up; a load that sinks or capsizes is an
    answer too. Deterministic, and mirrored requests get exactly mirrored answers.
    """
    gaps = Gaps(base)
    rider = fill_rider(request.rider, gaps)
    side = _surf_side(base, request, rider)
    cargo = cargo_of(request, side, gaps)
    water = water_density(cargo)
    masses = [person.mass for person in cargo.people]
    reasoning = _Reasoning(
        base,
        {
            "boat": tell.boat_facts(request.boat, side),
            "load": tell.load_facts(
                request.boat, masses, rider.mass, request.loads, ballast_mass(cargo, water)
            ),
            "rider": tell.rider_facts(rider, request.surf_side),
            "water": tell.water_facts(cargo),
        },
        [],
        set(),
    )
    reasoning.run(Stage.LIMITS, Stage.NEED, Stage.LOADING)

    level_trim = _level_trim(cargo, water, base)
    wanted = _wanted(reasoning, cargo, rider, water, level_trim)
    plan = plan_loading(cargo, wanted, water, base.number("defaults.fuel_density"))
    water_wanted = _water_wanted(cargo, reasoning, water, None)
    reasoning.facts["plan"] = _plan_facts(reasoning, cargo, rider, plan, water)
    reasoning.run(Stage.BASE, Stage.CORRECTIONS)

    speed = reasoning.number(Target.SPEED) * KMH
    home = _way_home(cargo, rider, plan, water)
    reasoning.facts["attitude"] = tell.attitude_facts(
        cargo, wanted, plan, home, level_trim, water_wanted, water, speed
    )
    reasoning.run(Stage.CHECKS)
    return _answer(reasoning, request.boat, rider, side, cargo, plan, water, gaps)


def _surf_side(base: RuleBase, request: AdviceRequest, rider: FilledRider) -> Side:
    """The side that the rules choose; they need the rider alone for it."""
    facts = {"rider": tell.rider_facts(rider, request.surf_side)}
    fired, _ = evaluate(base, facts, [Stage.NEED])
    return next(Side(firing.rule.side) for firing in fired if firing.rule.side)


def _level_trim(cargo: Cargo, water: float, base: RuleBase) -> float | None:
    """Trim (degrees) with tanks as the factory fills them and nobody aboard: the builder's."""
    full = [base.number("ballast.factory_fill") / 100.0] * len(cargo.boat.tanks)
    weights = [
        weight
        for weight in fixed_weights(cargo, base.number("defaults.fuel_density"))
        if weight.name in ("light boat", "fuel")
    ]
    return lie(cargo.boat, [*weights, *tank_weights(cargo.boat, full, water)], water).trim


def _wanted(
    reasoning: _Reasoning, cargo: Cargo, rider: FilledRider, water: float, level: float | None
) -> Wanted:
    base = reasoning.base
    return Wanted(
        lean=Band(reasoning.number(Target.LEAN), base.number("balance.lean_band")),
        trim=Band(
            (level or 0.0) + reasoning.number(Target.BOW_UP), base.number("balance.bow_band")
        ),
        fills=tuple(float(fill) / 100.0 for fill in _starting_fills(reasoning, cargo)),
        room=_room(cargo, rider),
        least_freeboard=base.number("attitude.freeboard_caution"),
    )


def _starting_fills(reasoning: _Reasoning, cargo: Cargo) -> list[Decimal]:
    """Percent of capacity that the rules ask of each tank, before limits and balance."""
    ballast = reasoning.account(Target.BALLAST)
    off_side = reasoning.account(Target.OFF_SIDE_BALLAST)
    even = ballast.value if ballast else Decimal(0)
    less = off_side.value if off_side else Decimal(0)
    return [even + (less if tank.y < 0 else 0) for tank in cargo.boat.tanks]


def _room(cargo: Cargo, rider: FilledRider) -> float | None:
    """Mass (kg) of ballast water that the maker's limit leaves, the rider aboard."""
    limits = cargo.boat.limits
    if limits.load_mass is None or limits.includes_ballast is False:
        return None
    people = math.fsum(person.mass for person in cargo.people) + rider.mass
    return max(limits.load_mass - people - gear_mass(cargo.loads), 0.0)


def _water_wanted(cargo: Cargo, reasoning: _Reasoning, water: float, room: float | None) -> float:
    """Mass (kg) of water that the rules ask for before limits, bounded by ``room``."""
    fills = _starting_fills(reasoning, cargo)
    wanted = water * math.fsum(
        float(fill) / 100.0 * tank.capacity
        for fill, tank in zip(fills, cargo.boat.tanks, strict=True)
    )
    return wanted if room is None else min(wanted, room)


def _plan_facts(
    reasoning: _Reasoning, cargo: Cargo, rider: FilledRider, plan: Plan, water: float
) -> tell.Fact:
    """Water is what the rules want and the limit leaves, not what the solver moved.

    So one person more never makes the load smaller, whatever water is moved for balance.
    """
    base = reasoning.base
    off_side = reasoning.number(Target.OFF_SIDE_BALLAST) / 100.0
    bled = water * math.fsum(off_side * t.capacity for t in cargo.boat.tanks if t.y < 0)
    factory = base.number("ballast.factory_fill") / 100.0
    factory_water = water * factory * math.fsum(tank.capacity for tank in cargo.boat.tanks)
    light_crew = base.number("ballast.light_crew") * base.number("defaults.person_mass")
    people = math.fsum(person.mass for person in cargo.people)
    gear = gear_mass(cargo.loads)
    wanted = _water_wanted(cargo, reasoning, water, None) - bled
    room = _room(cargo, rider)
    carried = wanted if room is None else min(wanted, room)
    return {
        "water_mass": carried,
        "load_beyond_light": people + gear - light_crew + carried - factory_water,
        "displacement": plan.attitude.loading.mass,
    }


def _way_home(cargo: Cargo, rider: FilledRider, plan: Plan, water: float) -> Attitude:
    """How the boat lies with the same water and the rider back aboard, amid the seats."""
    weights = [*plan.weights, person_weight(Occupant(rider.mass), cargo)]
    return lie(cargo.boat, weights, water)


def _answer(
    reasoning: _Reasoning, boat: Boat, rider: FilledRider, side: Side, cargo: Cargo, plan: Plan,
    water: float, gaps: Gaps,
) -> Advice:  # fmt: skip
    accounts = _accounts(reasoning, boat, cargo, plan)
    setup = _setup(accounts, boat, side, cargo, plan, water)
    off_plate = setup.starboard_plate if side is Side.PORT else setup.port_plate
    return Advice(
        boat=boat,
        rider=rider,
        verdict=verdict_of(reasoning.fired),
        setup=setup,
        at_rest=at_rest_of(boat, side, plan.attitude, water),
        running=running_estimate(
            cargo.boat, plan.attitude.loading, setup.speed, water,
            setup.centre_plate or 0.0, off_plate or 0.0,
        ),
        wave=wave_pattern(setup.speed, cargo.water.depth),
        accounts=accounts,
        firings=tuple(reasoning.fired),
        facts=reasoning.facts,
        found=frozenset(reasoning.found),
        cautions=cautions_of(reasoning.fired),
        watch_for=tuple(
            Sighted(f.rule.id, watch) for f in reasoning.fired for watch in f.rule.watch
        ),
        sensitivities=tuple(
            sensitivities(boat, cargo, plan, side, reasoning.base.number("defaults.person_mass"), water)
        ),
        assumed=tuple(gaps.assumed),
        base=reasoning.base,
    )  # fmt: skip


def _accounts(reasoning: _Reasoning, boat: Boat, cargo: Cargo, plan: Plan) -> dict[str, Account]:
    accounts: dict[str, Account] = {}
    for target in (
        Target.SPEED, Target.CENTRE_PLATE, Target.OFF_SIDE_PLATE, Target.SURF_SIDE_PLATE,
        Target.LEAN, Target.BOW_UP,
    ):  # fmt: skip
        account = reasoning.account(target)
        if account is not None:
            accounts[target.value] = account
    for tank in boat.tanks:
        number = next(n for n, seen in enumerate(cargo.boat.tanks) if seen.id == tank.id)
        y = cargo.boat.tanks[number].y
        accounts[f"tanks.{tank.id}"] = _tank_account(reasoning, tank.id, y, plan, number)
    return accounts


def _tank_account(
    reasoning: _Reasoning, tank_id: str, y: float, plan: Plan, number: int
) -> Account:
    ballast = reasoning.account(Target.BALLAST)
    lines = ballast.lines if ballast else ()
    off_side = reasoning.account(Target.OFF_SIDE_BALLAST)
    if off_side is not None and y < 0:
        lines += off_side.lines
    account = Account(f"tanks.{tank_id}", "%", lines)
    tenth = Decimal("0.1")
    for rule, label, change in (
        (
            "ballast.water_left_out",
            "no more than the tank and the limit take",
            plan.for_room[number],
        ),
        ("ballast.water_left_out", "less, to keep the sides high", plan.for_freeboard[number]),
        ("balance.lean", "moved for lean and trim, in whole percent", plan.for_balance[number]),
    ):
        account = account.plus(Line(rule, label, quantised(change, tenth)))
    return account


def _setup(
    accounts: Mapping[str, Account], boat: Boat, side: Side, cargo: Cargo, plan: Plan, water: float
) -> Setup:
    def fraction(name: str) -> float | None:
        return float(accounts[name].value) / 100.0 if name in accounts else None

    off, surf = fraction(Target.OFF_SIDE_PLATE), fraction(Target.SURF_SIDE_PLATE)
    plates = cargo.boat.plates
    surf = surf if plates.port is not None else None
    return Setup(
        surf_side=side,
        speed=float(accounts[Target.SPEED].value) * KMH,
        centre_plate=fraction(Target.CENTRE_PLATE),
        port_plate=surf if side is Side.PORT else off,
        starboard_plate=off if side is Side.PORT else surf,
        tanks=tuple(
            sorted(
                (
                    TankSetting(t.id, fill, now, fill * t.capacity, fill * t.capacity * water)
                    for t, fill, now in zip(cargo.boat.tanks, plan.fills, cargo.fills, strict=True)
                ),
                key=lambda setting: [tank.id for tank in boat.tanks].index(setting.tank),
            )
        ),
        seating=_seating(boat, cargo, plan),
    )


def _seating(boat: Boat, cargo: Cargo, plan: Plan) -> tuple[Seating, ...]:
    """Everybody, grouped by where they come from and where they go, in the boat's own order."""
    seats = cargo.boat.seats
    order = [seat.id for seat in boat.seats]

    def place(person: Occupant) -> str | None:
        if person.seat is not None:
            return seats[person.seat].id
        return STAY if person.x is not None else None

    groups = Counter(
        (place(before), place(after))
        for before, after in zip(cargo.people, plan.people, strict=True)
    )

    def by_goal(group: tuple[str | None, str | None]) -> tuple[int, ...]:
        return tuple(order.index(name) if name in order else len(order) for name in reversed(group))

    return tuple(Seating(groups[group], *group) for group in sorted(groups, key=by_goal))


def at_rest_of(boat: Boat, side: Side, attitude: Attitude, water: float) -> AtRest:
    """The attitude, found in the surf frame of ``side``, in the boat's own axes."""
    floating, whole = attitude.floating, attitude.loading
    sign = 1.0 if side is Side.PORT else -1.0
    board = attitude.freeboard
    if board is not None and side is Side.STARBOARD:
        board = type(board)(
            bow=board.bow, stern=board.stern, port=board.starboard, starboard=board.port,
            least=board.least,
        )  # fmt: skip
    hydrostatics = upright(boat.hull, attitude.loading, water)
    middle = (boat.hull.x_min + boat.hull.x_max) / 2.0
    amidships = None
    if floating.sinkage is not None and floating.trim is not None:
        amidships = floating.sinkage - math.sin(floating.trim) * middle
    return AtRest(
        status=floating.status,
        loading=Loading(whole.mass, whole.x, sign * whole.y + 0.0, whole.z, whole.free_surface),
        density=water,
        displacement=attitude.loading.mass,
        draft_origin=floating.sinkage,
        draft_amidships=amidships,
        heel=None if floating.heel is None else sign * floating.heel + 0.0,
        trim=floating.trim,
        freeboard=board,
        hydrostatics=hydrostatics,
    )


def verdict_of(fired: Sequence[Firing]) -> Verdict:
    """The gravest verdict of the rules that fired."""
    verdicts = [firing.rule.verdict for firing in fired if firing.rule.verdict is not None]
    return max(verdicts, key=VERDICTS.index, default=Verdict.GO)


def cautions_of(fired: Sequence[Firing]) -> tuple[Warned, ...]:
    """The gravest first, otherwise in firing order."""
    warned = [Warned(f.rule.id, caution) for f in fired for caution in f.rule.cautions]
    return tuple(sorted(warned, key=lambda w: -SEVERITIES.index(w.caution.severity)))
