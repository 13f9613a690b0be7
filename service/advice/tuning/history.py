"""What this session's changes ask for: put back what made it worse, go half way back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rules.tuning import Move, TuningBase
from service.advice.tuning.answer import Change
from service.advice.tuning.moves import all_tanks
from service.advice.tuning.requests import Did, PastChange
from service.advice.tuning.run import Run
from service.advice.tuning.state import KMH, State, set_back

_QUANTITY = {
    "speed": "speed", "plates": "percentage", "tanks": "percentage", "people": "seat",
    "depth": "length",
}  # fmt: skip
LOOK = "look"
"""Stands as the lever for a look after which nothing was changed."""
PUT_BACK = "put_back"
HALF_WAY_BACK = "half_way_back"


def last_change(history: Sequence[PastChange]) -> int | None:
    """Number of the last entry that is a change, not only a look."""
    changes = [number for number, past in enumerate(history) if past.lever != LOOK]
    return changes[-1] if changes else None


def looks_since(history: Sequence[PastChange]) -> int:
    """How often it was only looked since the last change."""
    last = last_change(history)
    return len(history) - (0 if last is None else last + 1)


def was_put_back(history: Sequence[PastChange]) -> bool:
    """Whether the last change put the one before it back."""
    if not history:
        return False
    last = history[-1]
    if last.move == PUT_BACK:
        return True
    before = history[-2] if len(history) > 1 else None
    swapped = before and (last.lever, last.origin, last.goal) == (
        before.lever, before.goal, before.origin,
    )  # fmt: skip
    return bool(swapped) and last.origin is not None


def reversals(history: Sequence[PastChange], lever: str, moves: Sequence[str]) -> int:
    """How often a change of this lever, or by these moves, went past the mark."""
    return sum(
        1
        for past in history
        if past.did is Did.REVERSED and (past.lever == lever or past.move in moves)
    )


def put_back(run: Run, tuning: TuningBase, past: PastChange) -> Change | None:
    """The last change undone; ``None`` for what cannot be put back (a line, a depth) or must not:
    a plate on the surf side stays up.
    """
    if past.lever in ("depth", f"plates.{run.side}") or past.origin is None:
        return None
    state = set_back(run.state, past, run.condition.boat, run.side)
    move = tuning.moves[PUT_BACK]
    if past.lever == "tanks":
        return None if state == run.state else all_tanks(run, move, state)
    return _back(run, move, past, state, past.people, written(past.origin, past))


def half_way_back(run: Run, tuning: TuningBase, past: PastChange) -> Change | None:
    """Half the last step back; ``None`` where the lever has no half."""
    move = tuning.moves[HALF_WAY_BACK]
    if past.lever == "people" and past.people > 1:
        half = past.people // 2
        state = set_back(run.state, replace(past, people=half), run.condition.boat, run.side)
        return _back(run, move, past, state, half, past.origin)
    if not isinstance(past.origin, float) or not isinstance(past.goal, float):
        return None
    if past.lever == "depth":
        return None
    if past.lever == "tanks":
        before = set_back(run.state, past, run.condition.boat, run.side).fills
        middle_fills = (
            a if a == b else float(round((a + b) / 2))
            for a, b in zip(before, run.state.fills, strict=True)
        )
        state = replace(run.state, fills=tuple(middle_fills))
        return None if state == run.state else all_tanks(run, move, state)
    digits = 1 if past.lever == "speed" else 0
    start, end = (float(written(v, past) or 0.0) for v in (past.origin, past.goal))
    middle = round((start + end) / 2, digits)
    inside = middle / KMH if past.lever == "speed" else middle / 100
    state = set_back(run.state, replace(past, origin=inside), run.condition.boat, run.side)
    return _back(run, move, past, state, 0, middle)


def written(value: float | str | None, past: PastChange) -> float | str | None:
    """A value of the history in the tuning's own terms: km/h, percent, metres, a seat."""
    if not isinstance(value, float) or past.lever == "depth":
        return value
    return round(value * (KMH if past.lever == "speed" else 100), 4)


def _back(
    run: Run, move: Move, past: PastChange, state: State, people: int, goal: float | str | None
) -> Change | None:
    origin = written(past.goal, past)
    if state.key == run.state.key or origin == goal:
        return None
    return Change(
        move=move,
        lever=past.lever,
        quantity=_QUANTITY[past.lever.partition(".")[0]],
        origin=origin,
        goal=goal,
        people=people if past.lever == "people" else 0,
        tanks=(),
        state=state,
        attitude=run.lie(state),
    )
