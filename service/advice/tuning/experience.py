"""A session as evidence: where the levers stood at each look, and what is believed after all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rules.tuning import TuningBase
from service.advice.loading_condition import Attitude
from service.advice.tuning.evidence import Belief, Look, imagine, told
from service.advice.tuning.history import LOOK, last_change
from service.advice.tuning.requests import PastChange, Seen
from service.advice.tuning.run import Run
from service.advice.tuning.state import KMH, State, earlier
from service.running.waves import froude_at

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Experience:
    """What is believed at ``position``, where the levers are now.

    ``speaks``: what is seen now is evidence. ``contradicted``: what is seen now is probably wrong,
    by everything else that was seen. ``borne_out``: whether all looks together bear out that it was
    better before the last change; ``None`` where they say nothing of it.
    """

    belief: Belief
    position: Array
    speaks: bool
    contradicted: bool
    borne_out: bool | None


def gained(
    run: Run, tuning: TuningBase, attitude: Attitude,
    history: Sequence[PastChange], seen: Sequence[Seen],
) -> Experience | None:  # fmt: skip
    """The experience of this session so far; ``None`` where a loading of it does not float."""
    advised = _position(tuning, run.advised, run.water(run.advised.fills), run.lean, run.trim)
    states = [*earlier(run.state, history, run.condition.boat, run.side), run.state]
    lies = {_loading(run.state): attitude}
    for state in states:
        if _loading(state) not in lies:
            lies[_loading(state)] = run.lie(state)
    known = [(lie.lean, lie.trim) for lie in (lies[_loading(state)] for state in states)]
    if run.lean is None or run.trim is None or any(None in pair for pair in known):
        return None
    positions = [
        np.nan_to_num(_position(tuning, state, run.water(state.fills), *pair))
        for state, pair in zip(states, known, strict=True)
    ]
    reports = [past.seen if past.seen or past.lever == LOOK else None for past in history]
    looks = [
        _look(tuning, state, position, report)
        for state, position, report in zip(states, positions, [*reports, seen], strict=True)
    ]
    belief = imagine(tuning, advised).after(look for look in looks if look)
    for past, (before, after) in zip(history, pairwise(looks), strict=True):
        if past.lever != LOOK and before and after:
            belief = belief.judged(before.position, after.position, past.did)
    now, number = looks[-1], last_change(history)
    before = None if number is None else looks[number]
    borne_out = None
    if before and now:
        there, here = belief.loss(np.array([before.position, now.position]))
        borne_out = bool(here - there > tuning.rules.number("tuning_evidence.least"))
    return Experience(
        belief,
        positions[-1],
        bool(now and now.seen),
        now is not None and belief.contradicts(now) > 0.5,
        borne_out,
    )


def _look(
    tuning: TuningBase, state: State, position: Array, report: Sequence[Seen] | None
) -> Look | None:
    """A look as evidence; ``None`` where other things than the levers decide what is seen."""
    froude = froude_at(state.speed / KMH, state.depth)
    aground = state.depth is not None and froude is None
    shallow = aground or (froude or 0.0) > tuning.rules.number("tuning_depth.froude")
    signs = None if report is None or shallow or state.surf_side else told(report, tuning)
    return None if signs is None else Look(position, signs)


def _loading(state: State) -> object:
    return state.fills, state.people


def _position(
    tuning: TuningBase, state: State, water: float, lean: float | None, trim: float | None
) -> Array:
    """Where the levers are, in units of each; NaN for one that is not fitted."""
    at = {
        "speed": state.speed,
        "side": lean,
        "fore_and_aft": trim,
        "total": water,
        "off_side_plate": state.off_side,
        "centre_plate": state.centre,
    }
    return np.array(
        [np.nan if (v := at[n]) is None else v / lever.unit for n, lever in tuning.levers.items()]
    )
