"""Why, and why not: what each rule made of the facts, without running anything again.

Pure functions over a rule base, the facts and what fired. No text is written here; whoever
shows a trace words it.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rules.base import RuleBase
from rules.engine import needed, rounded
from rules.model import Condition, Facts, Firing, Found, Operator, Parameter, Rule, Stage, Value

_COMPARE: Mapping[Operator, Callable[[float, float], bool]] = {
    Operator.BELOW: operator.lt,
    Operator.AT_MOST: operator.le,
    Operator.ABOVE: operator.gt,
    Operator.AT_LEAST: operator.ge,
}


class Why(StrEnum):
    """Why a condition did not hold."""

    OTHERWISE = "otherwise"
    """The fact is known and is not so."""
    UNKNOWN = "unknown"
    """The optional fact was not told."""
    NOT_YET = "not_yet"
    """Nothing of that kind was known when the stage ran."""
    NOT_FOUND = "not_found"
    """No earlier rule found it."""
    FOUND = "found"
    """An earlier rule found what must not be found."""


@dataclass(frozen=True, slots=True)
class Fired:
    """A rule that fired: its conditions as written, in order, and the value of each fact asked."""

    rule: Rule
    conditions: tuple[str, ...]
    bound: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class NotFired:
    """A rule that did not fire, and the first of its conditions that did not hold.

    ``condition`` is as written, or the amount that wants a fact which was not there; ``fact`` the
    path of the fact asked, empty for a finding; ``value`` what it was, ``None`` where unknown;
    ``against`` what it was compared with, ``None`` where there is nothing to compare with.
    """

    rule: Rule
    condition: str
    why: Why
    fact: str = ""
    value: Value | None = None
    against: Value | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """What every rule of some stages did, in the order of the rule base.

    ``parameters`` are those that the fired rules compared or reckoned with.
    """

    fired: tuple[Fired, ...]
    not_fired: tuple[NotFired, ...]
    parameters: tuple[Parameter, ...]


def trace(
    base: RuleBase,
    facts: Facts,
    firings: Iterable[Firing],
    stages: Iterable[Stage],
    found: Iterable[str] = (),
) -> Trace:
    """The trace of the rules of ``stages``, given the facts and what fired.

    ``found`` is what was found before the first of ``firings``. Raises ``ValueError`` for a rule
    which did not fire although all its conditions hold: the facts are not those it was run on.
    """
    ran, every = set(stages), list(firings)
    fired = {firing.rule.id for firing in every}
    known = {*found, *(firing.rule.finds for firing in every)}
    return Trace(
        fired=tuple(
            Fired(firing.rule, tuple(c.text for c in firing.rule.when), firing.bound)
            for firing in every
            if firing.rule.stage in ran
        ),
        not_fired=tuple(
            _first_failure(rule, facts, known)
            for rule in base.rules.values()
            if rule.stage in ran and rule.id not in fired
        ),
        parameters=_parameters(base, (f.rule for f in every if f.rule.stage in ran)),
    )


def _parameters(base: RuleBase, rules: Iterable[Rule]) -> tuple[Parameter, ...]:
    names = [
        name
        for rule in rules
        for name in (
            *(c.parameter for c in rule.when if isinstance(c, Condition) and c.parameter),
            *(change.amount.parameter for change in rule.changes),
        )
    ]
    return tuple(base.parameters[name] for name in dict.fromkeys(names))


def _first_failure(rule: Rule, facts: Facts, found: set[str]) -> NotFired:
    for condition in rule.when:
        if isinstance(condition, Found):
            if (condition.finding in found) != condition.wanted:
                why = Why.NOT_FOUND if condition.wanted else Why.FOUND
                return NotFired(rule, condition.text, why)
            continue
        failure = _failure(rule, condition, facts)
        if failure is not None:
            return failure
    for change in rule.changes:
        field = change.amount.field
        if field is not None and field.kind not in facts:
            return NotFired(rule, change.amount.text, Why.NOT_YET, field.path)
        if field in needed(rule) and facts[field.kind].get(field.name) is None:
            return NotFired(rule, change.amount.text, Why.UNKNOWN, field.path)
    raise ValueError(f"{rule.id}: every condition holds, and yet it did not fire")


def _failure(rule: Rule, condition: Condition, facts: Facts) -> NotFired | None:
    field, other = condition.field, condition.other
    for asked in (field, other):
        if asked is not None and asked.kind not in facts:
            return NotFired(rule, condition.text, Why.NOT_YET, asked.path)
    value = _value(facts, field.kind, field.name)
    against = _value(facts, other.kind, other.name) if other else _limit(condition)
    if condition.operator in (Operator.KNOWN, Operator.UNKNOWN):
        if (value is not None) == (condition.operator is Operator.KNOWN):
            return None
        why = Why.UNKNOWN if value is None else Why.OTHERWISE
        return NotFired(rule, condition.text, why, field.path, value)
    if value is None:
        return NotFired(rule, condition.text, Why.UNKNOWN, field.path)
    if against is None and other is not None:
        return NotFired(rule, condition.text, Why.UNKNOWN, other.path)
    if _holds(condition.operator, value, against):
        return None
    return NotFired(rule, condition.text, Why.OTHERWISE, field.path, value, against)


def _value(facts: Facts, kind: str, name: str) -> Value | None:
    value = facts[kind].get(name)
    return value if value is None or isinstance(value, str) else rounded(value)


def _limit(condition: Condition) -> Value | None:
    if condition.operator in (Operator.KNOWN, Operator.UNKNOWN):
        return None
    value = condition.value
    return value if isinstance(value, str) else rounded(value)


def _holds(how: Operator, value: Value, against: Value | None) -> bool:
    if how is Operator.IS:
        return value == against
    if how is Operator.IS_NOT:
        return value != against
    return _COMPARE[how](float(value), float(against or 0.0))
