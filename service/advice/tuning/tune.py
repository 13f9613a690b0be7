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
from service.advice.advise import advise
from service.advice.case import cautions_of, is_listed, verdict_of
from service.advice.loading_condition import Attitude
from service.advice.tuning.answer import Action, Change, Tuning
from service.advice.tuning.choice import Choice
from service.advice.tuning.experience import Experience, gained
from service.advice.tuning.history import LOOK, looks_since, was_put_back
from service.advice.tuning.limits import loading_rules
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.run import Advise, Run, run_of
from service.advice.tuning.seeing import contradicting, seen_once
from service.advice.tuning.state import KMH
from service.running.waves import froude_at

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
    experience = gained(run, tuning, attitude, request.history, request.seen)
    facts = _facts(request, run, attitude, tuning, experience)
    fired, found = evaluate(tuning.rules, facts, [Stage.LIMITS, Stage.NEED, Stage.CORRECTIONS])
    checked, loading = loading_rules(run, request, attitude)
    question = next((firing.rule.asks for firing in fired if firing.rule.asks), "")
    two = () if question else contradicting(request.seen, tuning.signs)
    choice = Choice(run, tuning, attitude, request.history, fired, experience)
    changes: list[Change] = []
    if Verdict.DO_NOT_GO in (verdict_of(fired), verdict_of(checked)):
        action = Action.STOP
        changes = [] if _by_depth(checked) else choice.remedy()
    elif question or two:
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
        look_again=_look_again(request, tuning, action, change, experience),
        alternatives=tuple(changes[1:]),
        question=question if action is Action.ASK else "",
        contradicting=two if action is Action.ASK else (),
        firings=_behind(fired, action, change),
        facts=facts,
        cautions=cautions_of(fired),
        main_cautions=cautions_of(checked),
        main_facts=loading,
        passed_over=tuple(choice.passed_over),
        assumed=run.assumed,
        tuning=tuning,
        main=base,
        listed=is_listed(request.crew),
    )


def _by_depth(checked: Sequence[Firing]) -> bool:
    """Whether there is too little water: no seat mends that."""
    return any(f.rule.topic == "depth" and f.rule.verdict is Verdict.DO_NOT_GO for f in checked)


def _look_again(
    request: TuningRequest, tuning: TuningBase, action: Action, change: Change | None,
    experience: Experience | None,
) -> bool:  # fmt: skip
    """Whether to look once more first: at what is new, or speaks against all that was seen.

    Not before a change that is made at once, and never more often than ``tuning_session.looks``
    between two changes.
    """
    if action not in (Action.CHANGE, Action.LEAVE) or (change and change.move.at_once):
        return False
    if looks_since(request.history) >= tuning.rules.number("tuning_session.looks"):
        return False
    contradicted = experience is not None and experience.contradicted
    return contradicted or seen_once(request.seen, request.history)


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


def _facts(
    request: TuningRequest, run: Run, attitude: Attitude, tuning: TuningBase,
    experience: Experience | None,
) -> Facts:  # fmt: skip
    state, advised, rider = run.state, run.advised, run.advice.rider
    seen = {s.sign: s.strength for s in request.seen}
    changes = [past for past in request.history if past.lever != LOOK]
    borne_out = None if experience is None else experience.borne_out
    depth = state.depth
    return {
        "rider": {"mass": rider.mass, "board": rider.board.value, "level": rider.level.value},
        "water": {
            "depth": depth,
            "depth_froude": froude_at(state.speed / KMH, depth),
        },
        "boat": {
            "lean": attitude.lean,
            "lean_over": run.lean_over(attitude),
            "bow_over": run.bow_over(attitude),
            "bow_mass": run.loaded(state).bow_mass,
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
            "did": changes[-1].did.value if changes else "none",
            "undone": "yes" if was_put_back(changes) else "no",
            "borne_out": {None: "untold", True: "yes", False: "no"}[borne_out],
        },
        "seen": {sign: str(seen.get(sign, "none")) for sign in tuning.signs},
    }


def _over(now: float | None, advised: float | None) -> float | None:
    return None if now is None or advised is None else now - advised
