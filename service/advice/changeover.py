"""From how the boat lies now to the plan: who and what moves and is pumped, in a safe order.

Every state on the way is put to the nonlinear equilibrium: after each person, half-way through
and at the end of each pumping. The order is searched for; pumping is split in parts, which may
then alternate from side to side, only where no order of whole steps holds the limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from service.advice.balance.model import Limit
from service.advice.balance.way import (
    PARTS,
    Move,
    OnTheWay,
    Patience,
    Way,
    joined,
    least_bad_order,
    moves_between,
    passed,
    plain_order,
    put,
    relaxed,
    safe_order,
)
from service.advice.loading_condition import LoadingCondition

__all__ = ["AfterStep", "Break", "Changeover", "OnTheWay", "Patience", "Step", "changeover"]


@dataclass(frozen=True, slots=True)
class AfterStep:
    """How the boat lies after a step: lean and trim (degrees), least freeboard and GM (m)."""

    floats: bool
    lean: float | None
    trim: float | None
    least_freeboard: float | None
    gm: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, and how the boat lies after it.

    People: ``who`` (indices) go from the seat ``origin`` (``None``: they had no place) to the seat
    ``goal``. A load: ``load`` (an index) goes beside the seat ``goal`` (``None``: back to where it
    was). Pumping: ``tank`` (an index) from ``fill`` to ``to_fill`` (fractions), ``volume`` m³ in,
    or out where negative, in ``seconds`` (``None``: the pump's rate is unknown). Pump steps of the
    same ``batch`` may run at once. Seats are ids.
    """

    after: AfterStep
    who: tuple[int, ...] = ()
    origin: str | None = None
    goal: str | None = None
    load: int | None = None
    tank: int | None = None
    fill: float = 0.0
    to_fill: float = 0.0
    volume: float = 0.0
    seconds: float | None = None
    batch: int = 0

    @property
    def pumps(self) -> bool:
        return self.tank is not None


@dataclass(frozen=True, slots=True)
class Break:
    """A state that breaks a limit: before the first step (0) or in step ``step``; by how much.

    ``off`` in m for freeboard and GM, degrees for the lean, 1 where the boat does not float.
    """

    step: int
    limit: Limit
    off: float


@dataclass(frozen=True, slots=True)
class Changeover:
    """The steps in order. ``breaks`` is empty where every state on the way holds the limits.

    ``in_sequence`` and ``at_once`` (s): pumping time one tank after the other, and with the pumps
    of a batch running together; ``None`` where a rate is unknown (``unknown_rates``: the tanks).
    """

    steps: tuple[Step, ...]
    breaks: tuple[Break, ...]
    in_sequence: float | None
    at_once: float | None
    unknown_rates: tuple[int, ...]


def changeover(
    start: LoadingCondition, end: LoadingCondition, limits: OnTheWay,
    patience: Patience | None = None, firm: OnTheWay | None = None,
) -> Changeover:  # fmt: skip
    """From one loading condition to another without a state between that breaks ``limits``.

    Both have the same people, loads and tanks in the same order.

    Where the boat breaks a limit already, or the end does, states on the way may be as bad as
    the worse of the two but not worse; where no order was found even so, the order is the one
    taken greedily. Either way ``breaks`` lists the states. Bounded and deterministic. ``patience``
    is what many change-overs share: once it is lost, nothing is searched for. ``firm``: limits
    under ``limits`` that will do where no order of whole steps holds those: nobody pumps to and fro
    for a few centimetres.
    """
    way = Way(limits)
    running, allowed = way, Way(relaxed(way, start, end), way.known)
    order: list[Move] | None = None
    every = PARTS if start.fills != end.fills else PARTS[:1]
    tries = [(way, allowed, parts) for parts in every]
    if firm is not None:
        least = Way(firm, way.known)
        beyond = Way(relaxed(least, start, end), way.known)
        tries = [tries[0], *((least, beyond, parts) for parts in every)]
    for attempt in tries:
        running, allowed, parts = attempt
        if patience is not None and patience.lost:
            break
        allowed.checks = 0
        order = safe_order(allowed, start, moves_between(start, end, parts))
        if order is not None:
            break
        if patience is not None:
            patience.left -= allowed.checks
    if order is None and patience is not None and patience.lost:
        order = plain_order(moves_between(start, end, PARTS[0]))
    elif order is None:
        order = least_bad_order(allowed, start, moves_between(start, end, PARTS[-1]))
    return _told(way, start, joined(order), running)


def _told(way: Way, start: LoadingCondition, order: Sequence[Move], running: Way) -> Changeover:
    """Steps with volumes, times, batches, and every state that breaks a limit.

    ``running``: with the limits that pumps hold which run together.
    """
    steps: list[Step] = []
    breaks = [Break(0, limit, off) for limit, off in way.broken(start)]
    state, batch, together = start, 0, list[tuple[Move, float | None]]()
    batch_start = start
    for number, move in enumerate(order, 1):
        between = passed(state, move)
        worst: dict[Limit, float] = {}
        for there in between:
            for limit, off in way.broken(there):
                worst[limit] = max(off, worst.get(limit, 0.0))
        breaks += [Break(number, limit, off) for limit, off in worst.items()]
        seconds = _seconds(start, move) if move.tank >= 0 else None
        fits = move.tank >= 0 and bool(together) and move.tank not in {m.tank for m, _ in together}
        if not fits or not _at_once(running, batch_start, [*together, (move, seconds)]):
            batch, together, batch_start = batch + 1, [], state
        if move.tank >= 0:
            together.append((move, seconds))
        steps.append(_step(way, between, move, state, seconds, batch))
        state = between[-1]
    unknown = sorted({s.tank for s in steps if s.tank is not None and s.seconds is None})
    times: dict[int, list[float]] = {}
    for step in steps:
        if step.pumps:
            times.setdefault(step.batch, []).append(step.seconds or 0.0)
    return Changeover(
        steps=tuple(steps),
        breaks=tuple(breaks),
        in_sequence=None if unknown else math.fsum(math.fsum(t) for t in times.values()),
        at_once=None if unknown else math.fsum(max(t) for t in times.values()),
        unknown_rates=tuple(unknown),
    )


def _step(
    way: Way,
    between: Sequence[LoadingCondition],
    move: Move,
    before: LoadingCondition,
    seconds: float | None,
    batch: int,
) -> Step:
    attitude = way.attitude(between[-1])
    board = attitude.freeboard
    after = AfterStep(
        attitude.floats,
        attitude.lean,
        attitude.trim,
        None if board is None else board.least,
        attitude.floating.gm,
    )
    if move.load is not None:
        return Step(after, goal=move.load.seat, load=move.number, batch=batch)
    if move.tank < 0:
        origin = before.people[move.who[0]].seat
        return Step(after, move.who, origin=origin, goal=move.goal, batch=batch)
    volume = before.boat.tanks[move.tank].capacity * (move.to_fill - move.fill) / 100.0
    return Step(
        after,
        tank=move.tank,
        fill=move.fill / 100.0,
        to_fill=move.to_fill / 100.0,
        volume=volume,
        seconds=seconds,
        batch=batch,
    )


def _seconds(condition: LoadingCondition, move: Move) -> float | None:
    tank = condition.boat.tanks[move.tank]
    rate = tank.fill_rate if move.to_fill > move.fill else tank.drain_rate
    if not rate:
        return None
    return abs(move.to_fill - move.fill) / 100.0 * tank.capacity / rate


def _at_once(
    way: Way, start: LoadingCondition, together: Sequence[tuple[Move, float | None]]
) -> bool:
    """Whether these pumps may run together: at each end of one and half-way between the ends."""
    known = [seconds for _, seconds in together if seconds is not None]
    if len(known) < len(together):
        return False
    ends = sorted({0.0, *known})
    moments = [*ends, *((a + b) / 2.0 for a, b in pairwise(ends))]
    for moment in moments:
        state = start
        for move, seconds in together:
            part = min(moment / (seconds or 1.0), 1.0)
            percent = move.fill + (move.to_fill - move.fill) * part
            state = replace(state, fills=put(state.fills, move.tank, percent / 100.0))
        if way.broken(state):
            return False
    return True
