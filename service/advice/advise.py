"""The main job: crew, ballast and rider in, an explained set-up out.

The rules fire in stages. What they say about the loading is worked out by the solver, the speed
and the plates are added up from what fired, and the last stage looks at the attitude that the
hydrostatics gives for exactly the advised set-up.
"""

from __future__ import annotations

import math
from dataclasses import replace

from rules.base import RuleBase
from rules.model import Stage, Target
from service.advice import facts as tell
from service.advice.answer import Advice, Sighted
from service.advice.assembly import KMH, accounts_of, at_rest_of, setup_of
from service.advice.case import Case, cautions_of, open_case, verdict_of
from service.advice.changeover import Changeover, OnTheWay, changeover
from service.advice.loading_plan import Plan, plan_loading
from service.advice.requests import AdviceRequest, Person
from service.advice.sensitivities import sensitivities
from service.advice.under_way import running_estimate
from service.advice.wanted import level_trim, room, wanted, water_wanted
from service.boats.model import Side
from service.hydrostatics.equilibrium import Status
from service.running.waves import wave_pattern


def advise(request: AdviceRequest, base: RuleBase) -> Advice:
    """Explained set-up advice for one rider.

    Every valid request gets a verdict and a full set-up; a load that sinks or capsizes is an
    answer too. Deterministic, and mirrored requests get exactly mirrored answers.
    """
    case = open_case(request, base)
    reasoning = case.reasoning
    reasoning.run(Stage.LIMITS, Stage.NEED, Stage.LOADING)

    level = level_trim(case)
    aim = wanted(case, level)
    plan = plan_loading(case.condition, aim)
    reasoning.facts["plan"] = plan_facts(case, plan)
    reasoning.run(Stage.BASE, Stage.CORRECTIONS)

    speed = reasoning.number(Target.SPEED) * KMH
    reasoning.facts["attitude"] = tell.attitude_facts(
        aim, plan, way_home(case, plan), level, water_wanted(case), speed
    )
    reasoning.run(Stage.CHECKS)
    return _answer(case, plan, told=request.ballast is not None)


def plan_facts(case: Case, plan: Plan) -> tell.Fact:
    """The load that the plates are set for.

    Its water is what the rules want and the limit leaves, before any is let out of the off side
    or moved for balance: so one person more never makes the load smaller.
    """
    number = case.base.number
    tanks = case.condition.boat.tanks
    let_out = case.reasoning.number(Target.OFF_SIDE_BALLAST) / 100.0
    even = water_wanted(case) - case.density * math.fsum(
        let_out * tank.capacity for tank in tanks if tank.y < 0
    )
    limit = room(case)
    carried = even if limit is None else min(even, limit)
    factory = case.density * math.fsum(
        number("ballast.factory_fill") / 100.0 * tank.capacity for tank in tanks
    )
    light_crew = number("ballast.light_crew") * number("defaults.person_mass")
    aboard = case.condition.people_mass + case.condition.gear_mass
    return {
        "water_mass": carried,
        "load_beyond_light": aboard - light_crew + carried - factory,
        "displacement": plan.attitude.loading.mass,
    }


def way_home(case: Case, plan: Plan) -> Status:
    """What becomes of the boat with the same water and the rider back aboard, amid the seats."""
    aboard = replace(plan.condition, people=(*plan.people, Person(case.rider.mass)))
    return aboard.attitude().floating.status


def _changeover(case: Case, plan: Plan) -> Changeover:
    """From what is in the tanks and on the seats now to the plan, by an order that is safe."""
    number = case.base.number
    limits = OnTheWay(
        least_freeboard=number("attitude.freeboard_caution"),
        most_lean=number("attitude.lean_caution"),
        least_gm=number("attitude.gm_stop"),
        drain_first=float(case.reasoning.facts["load"]["with_water_over"] or 0.0) > 0.0,
    )
    return changeover(case.condition, plan.condition, limits)


def _answer(case: Case, plan: Plan, *, told: bool) -> Advice:
    accounts = accounts_of(case, plan)
    setup = setup_of(case, plan, accounts)
    off_plate = setup.starboard_plate if case.side is Side.PORT else setup.port_plate
    fired = case.reasoning.fired
    return Advice(
        boat=case.boat,
        rider=case.rider,
        verdict=verdict_of(fired),
        setup=setup,
        at_rest=at_rest_of(case.boat, case.side, plan.attitude, case.density),
        running=running_estimate(
            case.condition.boat,
            plan.attitude.loading,
            setup.speed,
            case.density,
            setup.centre_plate or 0.0,
            off_plate or 0.0,
        ),
        wave=wave_pattern(setup.speed, case.condition.water.depth),
        accounts=accounts,
        firings=tuple(fired),
        facts=case.reasoning.facts,
        found=frozenset(case.reasoning.found),
        cautions=cautions_of(fired),
        watch_for=tuple(Sighted(f.rule.id, watch) for f in fired for watch in f.rule.watch),
        sensitivities=tuple(sensitivities(case, plan)),
        assumed=tuple(case.gaps.assumed),
        base=case.base,
        rounds=plan.rounds,
        obstacles=plan.obstacles,
        changeover=_changeover(case, plan) if told else None,
        seats=tuple(seat.id for seat in case.condition.boat.seats),
        tanks=tuple(tank.id for tank in case.condition.boat.tanks),
        loads=case.condition.loads,
    )
