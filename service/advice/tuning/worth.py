"""What each option is worth by all looks of the session: what it takes away of what is seen."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from rules.model import Turn
from rules.tuning import Move, TuningBase
from service.advice.loading_condition import Attitude
from service.advice.tuning.answer import Change
from service.advice.tuning.experience import Experience
from service.advice.tuning.moves import Aim, steps
from service.advice.tuning.options import Option, options
from service.advice.tuning.run import Run

AT_ONCE = 64
"""Options weighed in one go; it only bounds the memory."""
Worth = tuple[float, Callable[[], Change]]


def weigh(
    run: Run, tuning: TuningBase, attitude: Attitude,
    asked: Sequence[tuple[Aim, Turn]], experience: Experience,
) -> Iterator[tuple[Move, list[Worth] | None]]:  # fmt: skip
    """For each move its options that are worth a change, the best first. People before pumps.

    ``None`` for a move without any: its lever is not fitted or at its end.
    """
    if attitude.floating.hessian is None:
        return
    number = tuning.rules.number
    belief = experience.belief.likeliest(round(number("tuning_evidence.considered")))
    now = experience.position
    still = float(belief.loss(now[None, :])[0])
    for aim, turn in asked:
        found = list(options(run, tuning, aim, attitude))
        if not found:
            yield aim.move, None
            continue
        positions = np.array([option.position(now, tuning) for option in found])
        left = [
            loss
            for begin in range(0, len(found), AT_ONCE)
            for loss in belief.loss(positions[begin : begin + AT_ONCE])
        ]
        gains = [
            steps(tuning, "session", turn.value, "turn_weight") * (still - float(loss))
            - number("tuning_evidence.person") * option.people
            - number("tuning_evidence.pump") * option.pumps
            for option, loss in zip(found, left, strict=True)
        ]
        share = number("tuning_session.worth_trying")
        yield aim.move, _ordered(found, gains, number("tuning_evidence.least"), share)


def _ordered(
    found: Sequence[Option], gains: Sequence[float], least: float, share: float
) -> list[Worth]:
    """The best first, but people before pumps where they do nearly as well."""
    enough = [n for n, gain in enumerate(gains) if gain >= least]
    best = max((gains[n] for n in enough), default=0.0)
    return [
        (gains[n], found[n].make)
        for n in sorted(
            enough, key=lambda n: (found[n].pumps > 0 or gains[n] < share * best, -gains[n])
        )
    ]
