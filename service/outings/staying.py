"""Whether an outing is better off with its movable loads shifted, or left where they lie.

For each rider a load is shifted as advice has it, which looks at that turn alone. To carry it to
and fro between turns may take more time than the pumping that it saves.
"""

from __future__ import annotations

import math
from dataclasses import replace

from rules.model import Verdict
from service.advice.situation import Assumption
from service.outings.answer import Outing
from service.outings.setups import Turn
from service.outings.trip import Trip

NEAR = 0.1
"""Degrees outside its band that nobody reads closer."""
_VERDICTS = list(Verdict)


def shifts(outing: Outing) -> bool:
    """Whether any load is shifted."""
    changes = [*(line.between for line in outing.lines), outing.home.between]
    return any(change.shifts for change in changes)


def staying(trip: Trip) -> Trip:
    """The same with every load left where it lies, and that said."""
    why = "the outing is no better with loads shifted, which takes time"
    said = Assumption("/loads/*/movable", "stay", "", why)
    return replace(trip, shifting=False, assumed=(*trip.assumed, said))


def better(shifting: Outing, still: Outing) -> Outing:
    """The one with the better verdict; of equal ones the first, where the other leaves a band.

    Else that with more riding in all, and then with less time: nothing is carried for nothing. A
    few tens of kilograms more water in some turn are not worth minutes of everybody's time.
    """
    verdicts = [_VERDICTS.index(one.verdict) for one in (shifting, still)]
    if verdicts[0] != verdicts[1]:
        return shifting if verdicts[0] < verdicts[1] else still
    own = {line.turn.rider: line.turn for line in shifting.lines}
    if any(
        _off(line.turn) > _off(own.get(line.turn.rider, line.turn)) + NEAR for line in still.lines
    ):
        return shifting
    return min(still, shifting, key=lambda one: (-round(math.fsum(one.riding)), one.cost))


def _off(turn: Turn) -> float:
    """Degrees outside the bands of lean and trim."""
    lean, trim = turn.attitude.lean, turn.attitude.trim
    if lean is None or trim is None:
        return math.inf
    return abs(turn.aim.lean.off(lean)) + abs(turn.aim.trim.off(trim))
