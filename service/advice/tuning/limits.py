"""What no change may leave: the maker's limits, lean, freeboard, and that the boat floats."""

from __future__ import annotations

import math

from rules.engine import evaluate
from rules.model import Facts, Firing, Severity, Stage
from service.advice import facts as tell
from service.advice.crew import (
    CrewRules,
    bow_limits,
    crew_facts,
    settle_roles,
    without_adult,
)
from service.advice.loading_condition import Attitude
from service.advice.tuning.answer import Change
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.run import Run

ALWAYS = ("carbon_monoxide", "law")
"""Topics whose cautions are said on the water too, although they hold without a condition."""


def loading_rules(
    run: Run, request: TuningRequest, attitude: Attitude
) -> tuple[list[Firing], Facts]:
    """What the rule base says of the boat as it is loaded now: limits and checks."""
    condition = run.loaded(run.state)
    rules = CrewRules.of(run.base)
    apart = without_adult(condition.people, condition, rules)
    facts = {
        "boat": tell.boat_facts(request.boat, run.side),
        "load": tell.load_facts(condition, run.advice.rider.mass),
        "crew": crew_facts(condition, settle_roles(condition, rules), rules),
        "water": tell.water_facts(condition.water),
        "attitude": tell.resting_facts(condition, attitude, len(apart)),
    }
    fired, _ = evaluate(run.base, facts, [Stage.LIMITS, Stage.CHECKS])
    return [f for f in fired if f.rule.topic in ALWAYS or _grave(f)], facts


def _grave(firing: Firing) -> bool:
    """More than a note: on the water there is no time for those."""
    severities = {caution.severity for caution in firing.rule.cautions}
    return bool(firing.rule.when) and bool(severities - {Severity.NOTE})


def leaves_a_limit(run: Run, now: Attitude, change: Change) -> str:
    """Why a change would leave a limit that the boat is inside of, or leave one further.

    Empty where it does not.
    """
    after, number = change.attitude, run.base.number
    if not after.floats or after.freeboard is None or after.lean is None:
        return "the boat would not float safely"
    board = now.freeboard
    lean_now = abs(now.lean or 0.0)
    if abs(after.lean) > max(number("attitude.lean_caution"), lean_now):
        return "the boat would lean too far"
    for name, least, was in (
        ("side", after.freeboard.least, board.least if board else math.inf),
        ("bow", after.freeboard.bow, board.bow if board else math.inf),
    ):
        line = "freeboard_caution" if name == "side" else "bow_freeboard_caution"
        if least < min(number(f"attitude.{line}"), was):
            return f"the {name} would be too low"
    if change.lever == "people" and (why := _unseats(run, change)):
        return why
    return "the load limit would be exceeded" if _overloads(run, change) else ""


def _unseats(run: Run, change: Change) -> str:
    """Why people must not sit as they would after a change."""
    rules, (was, then) = CrewRules.of(run.base), map(run.loaded, (run.state, change.state))
    most, mass = bow_limits(was.boat, rules)
    if len(then.bow_people()) > max(most, len(was.bow_people())):
        return "the bow would be crowded"
    if then.bow_mass > max(mass, was.bow_mass):
        return "the bow would be too heavy"
    apart = (len(without_adult(each.people, each, rules)) for each in (then, was))
    return "a child would be without an adult" if next(apart) > next(apart) else ""


def _overloads(run: Run, change: Change) -> bool:
    limits = run.condition.boat.limits
    if limits.load_mass is None or limits.includes_ballast is False:
        return False
    then, rider = run.loaded(change.state), run.advice.rider.mass
    more = then.ballast_mass - run.water(run.state.fills)
    load = then.people_mass + rider + then.gear_mass + then.ballast_mass
    return more > 1e-6 and load > limits.load_mass
