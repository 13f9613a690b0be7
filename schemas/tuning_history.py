"""This session's changes as a run keeps them: as they are sent, metric, each with its unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from schemas.units import Dimension, System, unit_name
from service.advice.tuning.requests import PastChange, Seen

Entry = dict[str, Any]

_METRIC: Mapping[str, tuple[Dimension, float]] = {
    "speed": (Dimension.SPEED, 3.6),
    "plates": (Dimension.PERCENT, 100.0),
    "tanks": (Dimension.PERCENT, 100.0),
    "depth": (Dimension.LENGTH, 1.0),
}
"""Dimension and how many metric units are one inside, by kind of lever."""
_DIGITS = 10


def entries(history: Iterable[PastChange]) -> list[Entry]:
    """Each may be sent in ``history`` again, whatever the units of the request."""
    return [_entry(past) for past in history]


def signs(seen: Sequence[Seen]) -> list[Entry]:
    return [{"sign": each.sign, "strength": each.strength.value} for each in seen]


def _entry(past: PastChange) -> Entry:
    dimension, scale = _METRIC.get(past.lever.partition(".")[0], (None, 1.0))
    origin, goal = (
        round(value * scale, _DIGITS) if isinstance(value, float) else value
        for value in (past.origin, past.goal)
    )
    return {
        "lever": past.lever,
        "move": past.move,
        "from": origin,
        "to": goal,
        "unit": None if dimension is None else unit_name(dimension, System.METRIC),
        "people": past.people,
        "persons": list(past.persons),
        "tanks": [
            {"tank": name, "from": round(100.0 * fill, _DIGITS)}
            for name, fill in past.tanks.items()
        ],
        "did": past.did.value,
        "seen": signs(past.seen),
    }
