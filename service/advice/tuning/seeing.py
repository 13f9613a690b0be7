"""How far what is seen is believed, when it contradicts what was seen and done just before."""

from __future__ import annotations

from collections.abc import Sequence

from service.advice.tuning.requests import Did, PastChange, Seen, Strength

_RISING = list(Strength)


def believed(seen: Sequence[Seen], history: Sequence[PastChange]) -> dict[str, Strength]:
    """Each sign with the strength that the rules are told.

    One look in ten is wrong. A sign that was not there before a change which is said to have done
    nothing is believed a step less.
    """
    now = {s.sign: s.strength for s in seen}
    if not history or not history[-1].seen:
        return now
    last = history[-1]
    before = {s.sign for s in last.seen}
    if last.did is Did.SAME:
        return {
            sign: strength if sign in before else _RISING[max(_RISING.index(strength) - 1, 0)]
            for sign, strength in now.items()
        }
    return now


def weaker(seen: Sequence[Seen], history: Sequence[PastChange]) -> bool:
    """Whether the same signs are seen as before the last change, and together more weakly."""
    if not history or not history[-1].seen:
        return False
    before = {s.sign: _RISING.index(s.strength) + 1 for s in history[-1].seen}
    now = {s.sign: _RISING.index(s.strength) + 1 for s in seen}
    return set(now) <= set(before) and sum(now.values()) < sum(before.values())


def seen_once(seen: Sequence[Seen], history: Sequence[PastChange]) -> bool:
    """Whether the strongest sign was not there at the last look: then look again before acting."""
    if not seen:
        return False
    strongest = max(seen, key=lambda s: _RISING.index(s.strength))
    return not history or strongest.sign not in {s.sign for s in history[-1].seen}
