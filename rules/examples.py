"""The cases that the rules are tested by, to be read beside them: ``cases/*.yaml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rules.files import read_yaml

FOLDER = Path(__file__).parent / "cases"


@dataclass(frozen=True, slots=True)
class Case:
    """What is asked in one sentence, who says what must come out, and the rules it is about."""

    name: str
    source: str
    fired: frozenset[str]
    not_fired: frozenset[str]


@cache
def every() -> tuple[Case, ...]:
    """All cases, in the order in which they are written."""
    return tuple(
        Case(
            case["name"],
            case["source"],
            frozenset(case.get("fired", ())),
            frozenset(case.get("not_fired", ())),
        )
        for path in sorted(FOLDER.glob("*.yaml"))
        for case in read_yaml(path)["cases"]
    )


def of_rule(rule_id: str) -> tuple[Case, ...]:
    """The cases that exercise a rule: those in which it fires, then those in which it must not."""
    return tuple(case for case in every() if rule_id in case.fired) + tuple(
        case for case in every() if rule_id in case.not_fired
    )
