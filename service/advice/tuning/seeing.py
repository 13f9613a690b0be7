"""Whether what is seen can be acted on, or has to be looked at or asked about once more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from rules.tuning import Sign
from service.advice.tuning.requests import PastChange, Seen, Strength

_RISING = list(Strength)


def seen_once(seen: Sequence[Seen], history: Sequence[PastChange]) -> bool:
    """Whether the strongest sign was not there at the last look: then look again before acting."""
    if not seen:
        return False
    strongest = max(seen, key=lambda s: _RISING.index(s.strength))
    return not history or strongest.sign not in {s.sign for s in history[-1].seen}


def contradicting(seen: Sequence[Seen], signs: Mapping[str, Sign]) -> tuple[Sign, ...]:
    """The first two signs that cannot both be so; none where a third one hides what is so."""
    told = [signs[each.sign] for each in seen]
    for one, other in combinations(told, 2):
        hidden = any(sign.hides for sign in told if sign not in (one, other))
        if other.name in one.contradicts and not hidden:
            return one, other
    return ()
