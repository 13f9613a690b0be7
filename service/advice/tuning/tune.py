"""The next single change on the water: rules propose, the order of attack chooses, limits check.

A change whose lever is at its end, which would leave a limit, or which leads to a state that was
tried already is passed over; only an undoing leads back, once. So no state is met three times.
"""

from __future__ import annotations

from collections.abc import Sequence

from rules.base import RuleBase
from rules.engine import evaluate
from rules.model import Facts, Firing, Stage, Verdict
from rules.tuning import TuningBase
from service.advice import facts as tell
from service.advice.advise import advise
from service.advice.case import cautions_of, verdict_of
from service.advice.tuning.answer import Action, Change, Tuning
from service.advice.tuning.choice import Choice
from service.advice.tuning.history import was_put_back
from service.advice.tuning.limits import loading_rules
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.run import Advise, Run, run_of
from service.advice.tuning.seeing import believed, seen_once, weaker
from service.advice.tuning.state import KMH
from service.advice.weighing import Attitude
from service.running.waves import depth_froude

PROPOSALS = 3
"""The change to make, and two alternatives."""


def tune(
    request: TuningRequest, base: RuleBase, tuning: TuningBase, advised: Advise = advise
) -> Tuning:
    """What to do next on the water.

    Deterministic; mirrored requests get mirrored answers. ``advised`` gives the set-up that this
    request would be advised, for what was not told and as a yardstick for what was.
    """
    run = run_of(request, base, advised)
    attitude = run.lie(run.state)
    facts = _facts(request, run, attitude, tuning)
    fired, found = evaluate(tuning.rules, facts, [Stage.LIMITS, Stage.NEED, Stage.CORRECTIONS])
    checked, loading = loading_rules(run, request, attitude)
    question = next((firing.rule.asks for firing in fired if firing.rule.asks), "")
    choice = Choice(run, tuning, attitude, request.history, fired)
    changes: list[Change] = []
    if Verdict.DO_NOT_GO in (verdict_of(fired), verdict_of(checked)):
        action, changes = Action.STOP, choice.remedy()
    elif question:
        action = Action.ASK
    else:
        changes = choice.next(found, PROPOSALS) if request.seen else []
        action = Action.CHANGE if changes else Action.LEAVE
    change = changes[0] if changes else None
    return Tuning(
        boat=request.boat,
        rider=run.advice.rider,
        side=run.side,
        action=action,
        state=run.state,
        attitude=attitude,
        seen=tuple((seen, tuning.signs[seen.sign]) for seen in request.seen),
        change=change,
        look_again=action is Action.CHANGE and seen_once(request.seen, request.history),
        alternatives=tuple(changes[1:]),
        question=question if action is Action.ASK else "",
        firings=_behind(fired, action, change),
        facts=facts,
        cautions=cautions_of(fired),
        main_cautions=cautions_of(checked),
        main_facts=loading,
        passed_over=tuple(choice.passed_over),
        assumed=run.assumed,
        tuning=tuning,
        main=base,
    )


def _behind(fired: Sequence[Firing], action: Action, change: Change | None) -> tuple[Firing, ...]:
    """The rules behind what is answered: those that stop or ask, or that propose the change."""
    if action is Action.ASK:
        return tuple(firing for firing in fired if firing.rule.asks)
    stops = [firing for firing in fired if firing.rule.verdict is Verdict.DO_NOT_GO]
    move = change.move.name if change else ""
    session = {"put_back": "undo"}.get(move, move)
    return (
        *stops,
        *(
            firing
            for firing in fired
            if firing.rule.finds == session != ""
            or move in [proposal.move for proposal in firing.rule.proposals]
        ),
    )


def _facts(request: TuningRequest, run: Run, attitude: Attitude, tuning: TuningBase) -> Facts:
    state, advised, rider = run.state, run.advised, run.advice.rider
    seen = believed(request.seen, request.history)
    depth, history = state.depth, request.history
    return {
        "rider": {"mass": rider.mass, "board": rider.board.value, "level": rider.level.value},
        "water": {
            "depth": depth,
            "depth_froude": None
            if depth is None
            else float(depth_froude(state.speed / KMH, depth)),
        },
        "boat": {
            "lean": attitude.lean,
            "lean_over": run.lean_over(attitude),
            "bow_over": run.bow_over(attitude),
            "bow_mass": tell.bow_mass(run.cargo, run.weights(state)),
            "off_side_water": run.water(state.fills, only_off_side=True),
            "water_short": run.water(advised.fills) - run.water(state.fills),
        },
        "set": {
            "speed_over": state.speed - advised.speed,
            "centre_over": _over(state.centre, advised.centre),
            "off_side_over": _over(state.off_side, advised.off_side),
            "surf_side_plate": state.surf_side,
        },
        "last": {
            "did": history[-1].did.value if history else "none",
            "undone": "yes" if was_put_back(history) else "no",
            "weaker": "yes" if weaker(request.seen, history) else "no",
        },
        "seen": {sign: str(seen.get(sign, "none")) for sign in tuning.signs},
    }


def _over(now: float | None, advised: float | None) -> float | None:
    return None if now is None or advised is None else now - advised
