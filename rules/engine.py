"""The one gateway to durable-rules: facts in, firings out.

The engine joins, chains and orders; it does no arithmetic and writes no text. Its compiled part
is driven here directly, without the package's Python layer, which swallows exceptions of actions,
may run them from timer threads, and takes longer than the rules themselves. What the engine does
unexpectedly, and what is done about it here:

* an assert that no rule can use is refused: a sink rule accepts every fact and never fires;
* an empty batch kills the process: none is sent;
* a fact asserted twice in a session is refused: a fresh session for each evaluation;
* sessions are never freed: ``delete_state`` in ``finally``; but one in which nothing ever fired
  has parts that were never initialised, and freeing it kills the process: an opening rule fires
  first in every session, and only an opened session is freed;
* it is not safe for threads: one lock;
* floats that print with an exponent are refused, integers divide as integers, booleans equal
  numbers: every number goes in as a float of at most four decimals, everything else as a string;
* a field that is missing kills a whole join: every fact carries all its fields, and one that is
  unknown carries ``<field>_known: no``;
* ``not`` is decided at once: rules of a stage wait for that stage's own fact, asserted last;
* a fact may match 64 patterns at most, else its assert fails, for those facts only: rules with
  more patterns than that on one kind of fact are refused before anything is run;
* rules once registered stay: 1.2 MB for each set of local values; the least used are dropped;
* each fact is matched with every rule, whatever its stage: rules are registered by stages, and
  only the kinds of facts go in that some rule of them looks at.
"""

from __future__ import annotations

import itertools
import json
import math
import threading
from collections import Counter, OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import durable_rules_engine as native

from rules.base import RuleBase
from rules.model import Condition, Facts, Field, Firing, Found, Operator, Rule, Stage, Value

DECIMALS = 4
MOST_FIRINGS = 500
MOST_PATTERNS = 60
MOST_RULESETS = 64

_COMPARE = {
    Operator.BELOW: "$lt",
    Operator.AT_MOST: "$lte",
    Operator.ABOVE: "$gt",
    Operator.AT_LEAST: "$gte",
}


class FactError(ValueError):
    """A fact is not of the form that the rule base declares."""


class EngineError(RuntimeError):
    """The engine did not carry an evaluation through."""


@dataclass
class _Session:
    """One evaluation within the engine, and what its firings write down."""

    ruleset: int
    sid: str
    rules: Mapping[str, Rule]
    fired: list[Firing]
    found: set[str]
    opened: bool = False

    def tell(self, *facts: Mapping[str, Value]) -> None:
        """Asserts facts and lets fire what is ready, one rule after the other."""
        batch = json.dumps([{**fact, "sid": self.sid} for fact in facts])
        try:
            refused, state = native.assert_facts(self.ruleset, batch)
        except native.error as error:
            raise EngineError(f"the rule engine refused the facts: {error}") from error
        if refused:
            raise EngineError(f"the rule engine refused the facts: {refused}")
        started = native.start_action_for_state(self.ruleset, state)
        ready = started and started[1]
        while ready:
            ((name, bound),) = json.loads(ready).items()
            self._fire(name, bound)
            ready = native.complete_and_start_action(self.ruleset, state)

    def _fire(self, name: str, bound: Mapping[str, Mapping[str, Value]]) -> None:
        if name == OPEN:
            self.opened = True
            return
        rule = self.rules[name]
        if len(self.fired) >= MOST_FIRINGS:
            raise EngineError(f"more than {MOST_FIRINGS} firings")
        self.fired.append(Firing(rule, _bound(rule, bound)))
        if rule.finds and rule.finds not in self.found:
            self.found.add(rule.finds)
            finding = {"fact": "finding", "name": rule.finds, "sid": self.sid}
            native.assert_fact(self.ruleset, json.dumps(finding))

    def close(self) -> None:
        if self.opened:
            native.delete_state(self.ruleset, self.sid)


OPEN, SINK = "open", "sink"

_lock = threading.Lock()
_rulesets: OrderedDict[tuple[str, tuple[Stage, ...]], tuple[int, frozenset[str]]] = OrderedDict()
_numbers = itertools.count()


def evaluate(
    base: RuleBase, facts: Facts, stages: Iterable[Stage], found: Iterable[str] = ()
) -> tuple[list[Firing], set[str]]:
    """Run the given stages over the facts; returns firings in order, and all that was found.

    ``found`` is what earlier stages found. Raises ``FactError`` for facts that are not declared,
    or looked at by these rules and not as declared; ``EngineError`` when the engine gives up.
    """
    before, stages = set(found), tuple(stages)
    if unknown := facts.keys() - base.fields.keys():
        raise FactError(f"no such fact: {', '.join(sorted(unknown))}")
    with _lock:
        ruleset, kinds = _ruleset(base, stages)
        messages = [_message(base, kind, facts[kind]) for kind in facts if kind in kinds]
        messages += [{"fact": "finding", "name": name} for name in sorted(before)]
        session = _Session(ruleset, f"s{next(_numbers)}", base.rules, [], before)
        try:
            # The opening rule's rank makes it the first, whatever else is ready by then.
            told: list[dict[str, Value]] = [{"fact": "session"}, *messages]
            for stage in stages:
                session.tell(*told, {"fact": "stage", "name": stage.value})
                told = []
        finally:
            session.close()
    return session.fired, session.found


def _ruleset(base: RuleBase, stages: tuple[Stage, ...]) -> tuple[int, frozenset[str]]:
    """The engine's handle for the rules of these stages, and the kinds of facts they look at.

    Registered on first use in this process: a fact is matched with what may fire only.
    """
    key = (base.hash, stages)
    if key not in _rulesets:
        definition: dict[str, Any] = {
            rule.id: {"all": _patterns(rule), "pri": index + 1}
            for index, rule in enumerate(base.rules.values())
            if rule.stage in stages
        }
        kinds = frozenset(field.kind for name in definition for field in base.rules[name].facts)
        definition[OPEN] = {"all": [{"session": {"fact": "session"}}], "pri": 0}
        definition[SINK] = {
            "all": [{"any": {"$ex": {"fact": 1}}}, {"none": {"fact": "never asserted"}}],
        }
        _check_size(definition)
        if len(_rulesets) >= MOST_RULESETS:
            native.delete_ruleset(_rulesets.popitem(last=False)[1][0])
        name = f"rules_{base.hash}_{'_'.join(stages)}"
        handle = native.create_ruleset(name, json.dumps(definition))
        _rulesets[key] = handle, kinds
    _rulesets.move_to_end(key)
    return _rulesets[key]


def _check_size(definition: Mapping[str, Any]) -> None:
    """No kind of fact may meet more patterns than the engine can match one fact with."""
    every = {
        (kind, repr(p))
        for rule in definition.values()
        for a in rule["all"]
        for kind, p in a.items()
    }
    for kind, count in Counter(kind for kind, _ in every).items():
        if count > MOST_PATTERNS:
            raise EngineError(
                f"{count} different patterns on {kind}; the engine takes {MOST_PATTERNS}"
            )


def _bound(rule: Rule, message: Mapping[str, Mapping[str, Value]]) -> dict[str, Value]:
    bound: dict[str, Value] = {}
    for field in rule.facts:
        fact = message[field.kind]
        if not field.optional or fact[f"{field.name}_known"] == "yes":
            bound[field.path] = fact[field.name]
    return bound


def _patterns(rule: Rule) -> list[dict[str, Any]]:
    """The rule's conditions in the engine's form: one pattern for each kind of fact."""
    tests: dict[str, list[dict[str, Any]]] = {}
    for field in rule.facts:
        tests.setdefault(field.kind, [{"fact": field.kind}])
    findings = []
    for number, condition in enumerate(rule.when):
        if isinstance(condition, Found):
            alias = f"finding{number}" + ("" if condition.wanted else "$not")
            pattern = {"$and": [{"fact": "finding"}, {"name": condition.finding}]}
            findings.append({alias: pattern})
        else:
            tests[condition.field.kind] += _tests(condition)
    for field in needed(rule):
        tests[field.kind].append({f"{field.name}_known": "yes"})
    patterns: list[dict[str, Any]] = [
        {kind: {"$and": every} if len(every) > 1 else every[0]}
        for kind, every in sorted(tests.items(), key=lambda item: _refers(rule, item[0]))
    ]
    stage = {"stage": {"$and": [{"fact": "stage"}, {"name": rule.stage.value}]}}
    return [stage, *patterns, *findings]


def _refers(rule: Rule, kind: str) -> bool:
    """A pattern that looks at another fact stands after it."""
    return any(
        isinstance(c, Condition) and c.other is not None and c.field.kind == kind for c in rule.when
    )


def _tests(condition: Condition) -> list[dict[str, Any]]:
    name = condition.field.name
    match condition.operator:
        case Operator.KNOWN:
            return [{f"{name}_known": "yes"}]
        case Operator.UNKNOWN:
            return [{f"{name}_known": "no"}]
        case Operator.IS:
            return [{name: condition.value}]
        case Operator.IS_NOT:
            return [{"$neq": {name: condition.value}}]
        case operator if condition.other is not None:
            other = condition.other
            return [{_COMPARE[operator]: {name: {other.kind: other.name}}}]
        case operator:
            return [{_COMPARE[operator]: {name: rounded(float(condition.value))}}]


def needed(rule: Rule) -> list[Field]:
    """The optional fields that must be known for the rule to fire."""
    compared = [
        field
        for c in rule.when
        if isinstance(c, Condition) and c.operator is not Operator.UNKNOWN
        for field in (c.field, c.other)
        if field is not None
    ]
    reckoned = [c.amount.field for c in rule.changes if c.amount.field is not None]
    return [field for field in dict.fromkeys(compared + reckoned) if field.optional]


def _message(base: RuleBase, kind: str, values: Mapping[str, Value | None]) -> dict[str, Value]:
    """A fact as the engine takes it: every declared field, numbers rounded, nothing else."""
    fields = base.fields[kind]
    if unknown := values.keys() - fields.keys():
        raise FactError(f"no such fact: {kind}.{', '.join(sorted(unknown))}")
    message: dict[str, Value] = {"fact": kind}
    for name, field in fields.items():
        value = values.get(name)
        if field.optional:
            message[f"{name}_known"] = "no" if value is None else "yes"
        message[name] = _checked(field, value)
    return message


def _checked(field: Field, value: object) -> Value:
    if value is None and field.optional:
        return 0.0 if field.is_number else field.words[0]
    if field.is_number:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise FactError(f"{field.path}: {value!r} is not a number")
        if not (math.isfinite(value) and field.low <= value <= field.high):
            raise FactError(f"{field.path}: {value!r} is outside {field.low} to {field.high}")
        return rounded(float(value))
    if not isinstance(value, str) or value not in field.words:
        raise FactError(f"{field.path}: {value!r} is not one of {', '.join(field.words)}")
    return str(value)


def rounded(value: float) -> float:
    """A number as the rules see it: four decimals, no negative zero, no exponent in print."""
    result = round(value, DECIMALS) + 0.0
    return 0.0 if abs(result) < 10**-DECIMALS else result
