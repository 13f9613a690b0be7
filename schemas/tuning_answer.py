"""``POST /v1/tuning``: what is answered, written in the request's units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rules.base import VERSION
from rules.model import Firing
from rules.tuning import Sign, TuningBase
from schemas import written
from schemas.advice_answer import assumed, warned
from schemas.people import enumeration
from schemas.rule_answer import rule_sets
from schemas.units import Dimension, System, unit_name, unit_names
from service.advice.loading_condition import Attitude
from service.advice.requests import Person
from service.advice.tuning.answer import Action, Change, Tuning
from service.advice.tuning.state import State
from service.boats.model import Side

LEAVE = "Nothing wrong is seen: leave it as it is."
GOOD_AT_ONCE = (
    "Nothing wrong is seen, which speaks against what was seen before: look again before it is "
    "believed."
)
LOOK_FIRST = "Look again. Still there? Then {change}"
CONTRADICTION = (
    "Both cannot be so, and what mends the one makes the other worse. Which of the two is it: "
    '"{first}" ({first_name}), or "{second}" ({second_name})?'
)
NOTHING_ASKED = (
    "What is seen asks for no lever, or for opposite ones alike: look again, name only what is "
    "plainest, and check that seats and tanks are as told."
)
STOP_FIRST = "Stop, then"
"""Nobody changes seats at speed."""
NOTHING_LEFT = (
    "Every lever that would help is at its end, at a limit or has been tried: leave it as it is, "
    "or start again from the advice."
)


def present(tuning: Tuning, system: System) -> dict[str, Any]:
    """The whole answer as JSON-ready data."""
    change = tuning.change
    rules, moves = tuning.tuning.rules, (change, *tuning.alternatives)
    return {
        "action": tuning.action.value,
        "message": _message(tuning, system),
        "boat": {"id": tuning.boat.id, "name": tuning.boat.name},
        "surf_side": tuning.side.value,
        "seen": [
            {"strength": seen.strength.value, **sign_shown(sign)} for seen, sign in tuning.seen
        ],
        "change": None if change is None else _change(tuning, change, system),
        "look_again": tuning.look_again,
        "alternatives": [_change(tuning, other, system) for other in moves[1:] if other],
        "question": _question(tuning),
        "reasons": [_reason(tuning, firing, system) for firing in tuning.firings],
        "cautions": [
            *(warned(entry, rules, tuning.facts, system) for entry in tuning.cautions),
            *(warned(e, tuning.main, tuning.main_facts, system) for e in tuning.main_cautions),
        ],
        "passed_over": [{"move": past.move, "why": past.why} for past in tuning.passed_over],
        "assumed": [assumed(gap, system) for gap in tuning.assumed],
        "rule_set": rule_sets(tuning.main, tuning.tuning),
        "units": unit_names(system),
    }  # fmt: skip


def present_signs(base: TuningBase) -> dict[str, Any]:
    """Everything that can be seen, and everything that can be moved, in the order of attack."""
    return {
        "signs": [
            sign_shown(sign) | {"about": sign.about, "contradicts": list(sign.contradicts)}
            for sign in base.signs.values()
        ],
        "moves": [
            {"move": m.name, "lever": m.lever, "rank": m.rank, "does": m.does, "look": m.look,
             "wrong_if": m.wrong_if}
            for m in sorted(base.moves.values(), key=lambda move: move.rank)
        ],
        "rule_set": {"version": VERSION, "tuning": base.hash},
    }  # fmt: skip


def sign_shown(sign: Sign) -> dict[str, Any]:
    return {
        "sign": sign.name,
        "says": sign.says,
        "look_alike": {"sign": sign.look_alike, "tell": sign.tell},
        "gone": sign.gone,
    }


def _message(tuning: Tuning, system: System) -> str:
    match tuning.action:
        case Action.STOP:
            entry, base, facts = next(
                (entry, base, facts)
                for entries, base, facts in (
                    (tuning.cautions, tuning.tuning.rules, tuning.facts),
                    (tuning.main_cautions, tuning.main, tuning.main_facts),
                )
                for entry in entries
                if base.rules[entry.rule].verdict == "do_not_go"
            )
            caution = warned(entry, base, facts, system)
            return f"Stop. {caution['text']} {caution['action']}"
        case Action.ASK:
            return _asked(tuning)
        case Action.CHANGE if tuning.change is not None:
            text = text_of(tuning, tuning.change, system)
            return LOOK_FIRST.format(change=lower(text)) if tuning.look_again else text
        case _ if tuning.seen:
            return NOTHING_LEFT if tuning.passed_over else NOTHING_ASKED
        case _:
            return GOOD_AT_ONCE if tuning.look_again else LEAVE


def lower(text: str) -> str:
    """As it reads on after a colon."""
    return text[:1].lower() + text[1:]


def _question(tuning: Tuning) -> dict[str, Any] | None:
    """The question and the signs that answer it."""
    text = _asked(tuning)
    named = [sign for name, sign in tuning.tuning.signs.items() if f"({name})" in text]
    return {"text": text, "signs": [sign_shown(sign) for sign in named]} if text else None


def _asked(tuning: Tuning) -> str:
    if not tuning.contradicting:
        return tuning.question
    first, second = tuning.contradicting
    return CONTRADICTION.format(
        first=first.says.rstrip("."),
        first_name=first.name,
        second=second.says.rstrip("."),
        second_name=second.name,
    )


def _change(tuning: Tuning, change: Change, system: System) -> dict[str, Any]:
    move, moved = change.move, _moved(tuning.state, change.state)
    wait = tuning.tuning.rules.number("tuning_session.wait")
    return {
        "lever": change.lever,
        "move": move.name,
        "from": _value(change, change.origin, system),
        "to": _value(change, change.goal, system),
        "unit": _unit(change, system),
        "people": change.people,
        "persons": [person.number for person in moved],
        "masses": [written.number(person.mass, Dimension.MASS, system) for person in moved],
        "tanks": [{"tank": t, "from": before, "to": after} for t, before, after in change.tanks],
        "text": text_of(tuning, change, system),
        "why": f"It {move.does}.",
        "expect": {
            "look": move.look,
            "gone": _gone(tuning, change),
            "once": _once(change) or None,
            "after": {"value": wait, "unit": "s"},
        },
        "wrong_if": move.wrong_if,
        "undo": _undo(tuning, change, system),
        "predicted": _predicted(tuning, change, system),
    }


def _gone(tuning: Tuning, change: Change) -> str | None:
    """What is seen when the sign that this change is for is mended."""
    asking = {
        field.name
        for rule in tuning.tuning.rules.rules.values()
        if change.move.name in [proposal.move for proposal in rule.proposals]
        for field in rule.facts
        if field.kind == "seen"
    }
    return next((sign.gone for _, sign in tuning.seen if sign.name in asking), None)


def _once(change: Change) -> str:
    """From when on it is looked at."""
    kinds = {"people": "back at speed", "tanks": "with the tanks as told"}
    return change.move.once or kinds.get(change.lever.partition(".")[0], "")


_DIMENSIONS: Mapping[str, tuple[Dimension, float, str]] = {
    "speed": (Dimension.SPEED, 3.6, "km/h"),
    "percentage": (Dimension.PERCENT, 100.0, "%"),
    "length": (Dimension.LENGTH, 1.0, "m"),
}
"""Dimension, how many of the tuning's units are one inside, and the name the rules have for it."""


def _value(change: Change, value: float | str | None, system: System) -> float | str | None:
    if value is None or isinstance(value, str):
        return value
    dimension, scale, _ = _DIMENSIONS[change.quantity]
    return written.number(value / scale, dimension, system)


def _unit(change: Change, system: System) -> str | None:
    if change.quantity in _DIMENSIONS:
        return unit_name(_DIMENSIONS[change.quantity][0], system)
    return "people" if change.quantity == "seat" else None


def _read(change: Change, value: float | str | None, system: System) -> str:
    """A value as people read it."""
    if not isinstance(value, float | int):
        return str(value)
    return written.quantity(value, _DIMENSIONS[change.quantity][2], system)


def text_of(tuning: Tuning, change: Change, system: System) -> str:
    """What to do, in one sentence."""
    lever, move = change.lever, change.move
    span = f"{_read(change, change.origin, system)} to {_read(change, change.goal, system)}"
    more = isinstance(change.goal, float) and change.goal > float(change.origin or 0.0)
    back = {"put_back": "Put it back: ", "half_way_back": "Half way back: "}.get(move.name, "")
    kind, _, name = lever.partition(".")
    if kind == "speed":
        text = f"Go {'faster' if more else 'slower'}, {span} by GPS"
    elif kind == "plates":
        side = {tuning.side.value: " (surf side)", tuning.side.other.value: " (off side)"}
        text = f"{name.capitalize()} plate{side.get(name, '')} {'down' if more else 'up'}, {span}"
    elif lever == "tanks":
        tanks = ", ".join(
            f"{tank} {_read(change, before, system)} to {_read(change, after, system)}"
            for tank, before, after in change.tanks
        )
        if back:
            return f"{back}{tanks}."
        text = f"{'More' if more else 'Less'} water: {tanks}"
    elif kind == "tanks":
        text = f"{'Fill' if more else 'Let water out of'} {name}, {span}"
    elif kind == "people":
        who = _named(tuning, change) or written.quantity(change.people, "people", system)
        text = f"{STOP_FIRST} {who} from {change.origin} to {change.goal}"
    elif kind == "depth":
        text = f"Go where it is {_read(change, change.goal, system)} deep or more"
    else:
        text = move.do
    return f"{back}{lower(text)}." if back else f"{text}."


def _moved(before: State, after: State) -> list[Person]:
    """Those who change seats, where they sat before, in the order in which they were listed."""
    pairs = zip(before.people, after.people, strict=True)
    moved = (was for was, now in pairs if was.seat != now.seat)
    return sorted(moved, key=lambda person: person.number)


def _named(tuning: Tuning, change: Change) -> str:
    """Who changes seats; empty for a head count. The figures hold for these people only."""
    moved = _moved(tuning.state, change.state)
    return enumeration([person.label for person in moved]) if tuning.listed else ""


def _undo(tuning: Tuning, change: Change, system: System) -> str:
    if change.move.lever == "last":
        return "Leave it there; go on with the next lever."
    if change.move.lever == "surf_side_plate":
        return "Leave it up; go on with the next lever."
    if change.quantity == "seat":
        who = _named(tuning, change)
        way = f"back from {change.goal} to {change.origin}"
        return f"{STOP_FIRST} {who} {way}." if who else f"{STOP_FIRST} {way}."
    if change.tanks:
        tanks = (f"{tank} {_read(change, before, system)}" for tank, before, _ in change.tanks)
        return f"Back to {', '.join(tanks)}."
    if change.quantity in ("speed", "percentage"):
        return f"Back to {_read(change, change.origin, system)}."
    return "Nothing to undo; go on with the next lever."


def _predicted(tuning: Tuning, change: Change, system: System) -> dict[str, Any]:
    """Heel, trim and least freeboard at rest, before and after, from the hydrostatics.

    What speed and plates do to the running boat is told in words: no figure of it is known well.
    """
    sign = 1.0 if tuning.side is Side.PORT else -1.0

    def pair(name: str, dimension: Dimension) -> dict[str, float | None]:
        before, after = (_at_rest(a, sign)[name] for a in (tuning.attitude, change.attitude))
        change_ = None if before is None or after is None else after - before
        return {
            "before": written.number(before, dimension, system),
            "after": written.number(after, dimension, system),
            "change": written.number(change_, dimension, system),
        }

    return {
        "heel": pair("heel", Dimension.ANGLE),
        "trim": pair("trim", Dimension.ANGLE),
        "least_freeboard": pair("least", Dimension.LENGTH),
        "under_way": change.move.under_way or "as at rest, from the moved weight",
        "note": "Figures at rest, from the hydrostatics. Under way the direction only.",
    }


def _at_rest(attitude: Attitude, sign: float) -> dict[str, float | None]:
    """In the axes of the boat; the attitude is in the surf frame."""
    floating, board = attitude.floating, attitude.freeboard
    return {
        "heel": None if floating.heel is None else sign * floating.heel + 0.0,
        "trim": floating.trim,
        "least": None if board is None or not math.isfinite(board.least) else board.least,
    }


def _reason(tuning: Tuning, firing: Firing, system: System) -> dict[str, Any]:
    rule = firing.rule
    reason: dict[str, Any] = {
        "rule": rule.id,
        "title": rule.title,
        "why": written.sentence(rule.because, tuning.tuning.rules, tuning.facts, system),
        "because": {
            field.path: written.fact(field, firing.bound[field.path], system)
            for field in rule.facts
            if field.path in firing.bound
        },
        "turn": rule.proposals[0].turn.value if rule.proposals else None,
        "source": rule.source,
        "confidence": rule.confidence.value,
    }
    if rule.other_view:
        reason["other_view"] = rule.other_view
    return reason
