"""What a rule base is made of. Frozen dataclasses; nothing here runs anything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

Value = float | str
Facts = Mapping[str, Mapping[str, Value | None]]
"""Facts by kind, then field: ``{"rider": {"mass": 82.0, "board": "skim"}, ...}``."""


class Stage(StrEnum):
    """The stages in which rules fire, in order. A later stage sees what an earlier one found."""

    LIMITS = "limits"
    NEED = "need"
    LOADING = "loading"
    BASE = "base"
    CORRECTIONS = "corrections"
    CHECKS = "checks"


class Confidence(StrEnum):
    """How well a rule or a parameter is known."""

    PUBLISHED = "published"
    AGREED = "agreed"
    COMMON = "common"
    CONTESTED = "contested"


class Severity(StrEnum):
    """How grave a caution is, rising."""

    NOTE = "note"
    WARNING = "warning"
    DANGER = "danger"


class Verdict(StrEnum):
    """Whether to go, rising."""

    GO = "go"
    GO_WITH_CARE = "go_with_care"
    DO_NOT_GO = "do_not_go"


class Target(StrEnum):
    """The numbers that rules set. Units as in ``TARGET_UNITS``."""

    SPEED = "speed"
    CENTRE_PLATE = "centre_plate"
    OFF_SIDE_PLATE = "off_side_plate"
    SURF_SIDE_PLATE = "surf_side_plate"
    BALLAST = "ballast"
    OFF_SIDE_BALLAST = "off_side_ballast"
    LEAN = "lean"
    BOW_UP = "bow_up"


TARGET_UNITS: Mapping[Target, str] = {
    Target.SPEED: "km/h",
    Target.CENTRE_PLATE: "%",
    Target.OFF_SIDE_PLATE: "%",
    Target.SURF_SIDE_PLATE: "%",
    Target.BALLAST: "%",
    Target.OFF_SIDE_BALLAST: "%",
    Target.LEAN: "°",
    Target.BOW_UP: "°",
}


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a kind of fact: a number in a range, or one of some words."""

    kind: str
    name: str
    says: str
    words: tuple[str, ...] = ()
    quantity: str = ""
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    optional: bool = False

    @property
    def path(self) -> str:
        return f"{self.kind}.{self.name}"

    @property
    def is_number(self) -> bool:
        return not self.words


@dataclass(frozen=True, slots=True)
class Parameter:
    """A named threshold, amount, curve or table, with unit and source.

    ``value`` is a number; a curve (points ``(x, y)``, straight between, level beyond the ends);
    or a table from words to numbers.
    """

    name: str
    says: str
    unit: str
    value: float | tuple[tuple[float, float], ...] | Mapping[str, float]
    source: str
    confidence: Confidence
    change: str
    local: bool = False

    def number(self) -> float:
        """The value of a plain parameter."""
        if not isinstance(self.value, float):
            raise TypeError(f"{self.name} is not a plain number")
        return self.value


class Operator(StrEnum):
    IS = "is"
    IS_NOT = "is not"
    BELOW = "<"
    AT_MOST = "<="
    ABOVE = ">"
    AT_LEAST = ">="
    KNOWN = "is known"
    UNKNOWN = "is unknown"


@dataclass(frozen=True, slots=True)
class Condition:
    """One comparison: a field with a word, a number, a parameter or another fact's field."""

    field: Field
    operator: Operator
    text: str
    value: Value = ""
    parameter: str = ""
    other: Field | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """Asks whether an earlier rule found something (``wanted``) or nothing of the kind."""

    finding: str
    wanted: bool
    text: str


@dataclass(frozen=True, slots=True)
class Amount:
    """A number out of a parameter: as it is, from a curve ``at`` a field, a table ``by`` one."""

    parameter: str
    field: Field | None
    text: str


@dataclass(frozen=True, slots=True)
class Change:
    """What a rule does to a number: gives its ``base``, ``add``s to it, or bounds it."""

    target: Target
    action: str
    amount: Amount
    label: str


@dataclass(frozen=True, slots=True)
class Caution:
    """What people must know. Text may name facts in braces: ``{load.load_over}``."""

    severity: Severity
    text: str
    action: str


@dataclass(frozen=True, slots=True)
class Watch:
    """What to look at behind the boat, and the lever to move when it is seen."""

    look: str
    lever: str


class Turn(StrEnum):
    """How soon a move is tried against what is seen, and what speaks for or against it."""

    FIRST = "first"
    SECOND = "second"
    THIRD = "third"
    KNOWN = "known"
    DOUBTED = "doubted"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A move on the water that a rule proposes, such as ``faster``, and its turn."""

    move: str
    turn: Turn


@dataclass(frozen=True)
class Rule:
    """One piece of trade practice, with the reason a coach would give."""

    id: str
    topic: str
    title: str
    stage: Stage
    when: tuple[Condition | Found, ...]
    because: str
    source: str
    confidence: Confidence
    other_view: str = ""
    changes: tuple[Change, ...] = ()
    finds: str = ""
    side: str = ""
    verdict: Verdict | None = None
    cautions: tuple[Caution, ...] = ()
    watch: tuple[Watch, ...] = ()
    proposals: tuple[Proposal, ...] = ()
    asks: str = ""

    @cached_property
    def facts(self) -> tuple[Field, ...]:
        """The fields that the rule asks or reckons with, each once, in the order written."""
        asked = [c.field for c in self.when if isinstance(c, Condition)]
        asked += [c.other for c in self.when if isinstance(c, Condition) and c.other]
        asked += [c.amount.field for c in self.changes if c.amount.field]
        return tuple(dict.fromkeys(asked))


@dataclass(frozen=True, slots=True)
class Firing:
    """A rule that fired, with the value of each fact it asked."""

    rule: Rule
    bound: Mapping[str, Value]
