"""What a caller tells of a run: what is set, what is seen, what was changed so far. SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from service.advice.requests import AdviceRequest
from service.boats.model import Side


class Strength(StrEnum):
    """How strongly a sign is seen, rising."""

    SLIGHT = "slight"
    CLEAR = "clear"
    STRONG = "strong"


class Did(StrEnum):
    """What a change did. Reversed: what was seen turned into its opposite."""

    BETTER = "better"
    WORSE = "worse"
    SAME = "same"
    REVERSED = "reversed"


@dataclass(frozen=True, slots=True)
class Seen:
    """A sign of ``rules/tuning/signs.yaml`` and how strongly it is seen."""

    sign: str
    strength: Strength


@dataclass(frozen=True, slots=True)
class PlatesSet:
    """Travel of each plate as a fraction; ``None`` where not told."""

    centre: float | None = None
    port: float | None = None
    starboard: float | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """What is set now. Speed in m/s, fills as fractions by tank; ``None`` where not told."""

    surf_side: Side | None = None
    speed: float | None = None
    plates: PlatesSet = field(default_factory=PlatesSet)
    tanks: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class PastChange:
    """One change of this session and what it did.

    ``lever`` as in the answer: ``speed``, ``plates.port``, ``tanks.<id>``, ``people`` … ``origin``
    and ``goal`` are m/s, fractions, metres or seats' ids, as the lever has it; ``None`` where it
    has no number. ``move`` is the answer's name for the change, where it was told. ``tanks`` are
    the fills before it, by tank, where several were changed at once (lever ``tanks``). ``persons``
    are the numbers of the people who changed seats; who is not given was the lightest.
    """

    lever: str
    origin: float | str | None
    goal: float | str | None
    did: Did
    people: int = 1
    move: str | None = None
    tanks: Mapping[str, float] = field(default_factory=dict)
    seen: tuple[Seen, ...] = ()
    persons: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class TuningRequest(AdviceRequest):
    """A request for advice, and how the run goes. ``seen`` empty: it is good."""

    settings: Settings = field(default_factory=Settings)
    seen: tuple[Seen, ...] = ()
    history: tuple[PastChange, ...] = ()
