"""Whether to look once more before anything is moved."""

from __future__ import annotations

from collections.abc import Sequence

from service.advice.tuning.requests import PastChange, Seen, Strength

_RISING = list(Strength)


def seen_once(seen: Sequence[Seen], history: Sequence[PastChange]) -> bool:
    """Whether the strongest sign was not there at the last look: then look again before acting."""
    if not seen:
        return False
    strongest = max(seen, key=lambda s: _RISING.index(s.strength))
    return not history or strongest.sign not in {s.sign for s in history[-1].seen}
