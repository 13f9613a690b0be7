"""What the tuning answers, in SI units and percent, as the boat is (no longer mirrored)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rules.base import RuleBase
from rules.model import Facts, Firing
from rules.tuning import Move, Sign, TuningBase
from service.advice.answer import Warned
from service.advice.loading_condition import Attitude
from service.advice.situation import Assumption, FilledRider
from service.advice.tuning.requests import Seen
from service.advice.tuning.state import State
from service.boats.model import Boat, Side


class Action(StrEnum):
    CHANGE = "change"
    LEAVE = "leave"
    STOP = "stop"
    ASK = "ask"


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one lever.

    ``lever`` names it as the boat has it (``plates.port``). ``origin`` and ``goal`` are km/h,
    percent, metres or seats' ids, as ``quantity`` says: ``speed``, ``percentage``, ``length``,
    ``seat``, or empty for a lever without a number. ``state`` and ``attitude`` are those after it.
    """

    move: Move
    lever: str
    quantity: str
    origin: float | str | None
    goal: float | str | None
    people: int
    tanks: tuple[tuple[str, float, float], ...]
    """Tank, percent before and after, where several are changed at once (lever ``tanks``)."""
    state: State
    attitude: Attitude


@dataclass(frozen=True, slots=True)
class PassedOver:
    """A move that was asked for and not proposed, and why."""

    move: str
    why: str


@dataclass(frozen=True, slots=True)
class Tuning:
    """The whole answer with everything that explains it.

    ``change`` is what to do next (after a stop: before going on, where a lever does it);
    ``question`` is what a rule asks, ``contradicting`` are two signs of which only one can be so.
    ``look_again``: what is seen is new, so a second look before the change is worth its while.
    ``attitude`` is how the boat lies now. ``main`` is the rule base of the advice, whose rules
    checked the loading. ``listed``: the request listed the people, so that they are named.
    """

    boat: Boat
    rider: FilledRider
    side: Side
    action: Action
    state: State
    attitude: Attitude
    seen: tuple[tuple[Seen, Sign], ...]
    change: Change | None
    look_again: bool
    alternatives: tuple[Change, ...]
    question: str
    contradicting: tuple[Sign, ...]
    firings: tuple[Firing, ...]
    facts: Facts
    cautions: tuple[Warned, ...]
    main_cautions: tuple[Warned, ...]
    main_facts: Facts
    passed_over: tuple[PassedOver, ...]
    assumed: tuple[Assumption, ...]
    tuning: TuningBase
    main: RuleBase
    listed: bool = False
