"""``GET /v1/rules``: the rule base as data, in the units in which it is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rules import examples
from rules.base import VERSION, RuleBase, Topic
from rules.model import Amount, Condition, Parameter, Rule, Stage
from rules.tuning import PROPERTIES, Lever, TuningBase
from service.storage.feedback import Feedback


def rule_set(base: RuleBase) -> dict[str, Any]:
    """What made an answer: version, hash of the content, and names of values that are local."""
    local = sorted(name for name, parameter in base.parameters.items() if parameter.local)
    return {"version": VERSION, "hash": base.hash, "local": local}


def rule_sets(base: RuleBase, tuning: TuningBase) -> dict[str, Any]:
    """The same where the tuning's rules are spoken of, too."""
    return rule_set(base) | {"tuning": tuning.hash}


def present_all(base: RuleBase, tuning: TuningBase) -> dict[str, Any]:
    """All topics with their parameters and rules, those of the tuning and its levers apart."""
    return {
        "rule_set": rule_sets(base, tuning),
        "stages": [stage.value for stage in Stage],
        "topics": [_topic(topic) for topic in base.topics],
        "tuning": {
            "topics": [_topic(topic) for topic in tuning.rules.topics],
            "levers": [_lever(lever) for lever in tuning.levers.values()],
        },
    }


def present_one(base: RuleBase, rule_id: str, sets: Mapping[str, Any]) -> dict[str, Any]:
    """One rule of ``base`` with its parameters and its cases; ``sets``: of :func:`rule_sets`.

    Raises ``KeyError`` for an unknown id.
    """
    rule = base.rules[rule_id]
    return present_rule(rule) | {
        "parameters": [present_parameter(base.parameters[name]) for name in used(rule)],
        "cases": [
            {"name": case.name, "source": case.source, "fires": rule_id in case.fired}
            for case in examples.of_rule(rule_id)
        ],
        "rule_set": dict(sets),
    }


def present_feedback(found: Feedback) -> dict[str, Any]:
    """What an outfit's runs say of a rule."""
    return {
        "fired": found.fired,
        "overridden": found.overridden,
        "last": [
            {"run": one.run, "at": one.at.isoformat(), "reason": one.reason} for one in found.last
        ],
    }


def present_rule(rule: Rule) -> dict[str, Any]:
    """Condition, effect, reason, source and confidence of a rule."""
    return {
        "id": rule.id,
        "topic": rule.topic,
        "title": rule.title,
        "stage": rule.stage.value,
        "condition": [condition.text for condition in rule.when],
        "effect": _effect(rule),
        "reason": rule.because,
        "source": rule.source,
        "confidence": rule.confidence.value,
        "other_view": rule.other_view or None,
    }


def used(rule: Rule) -> Iterable[str]:
    """Names of the parameters in the rule's conditions and amounts, each once."""
    named = [c.parameter for c in rule.when if isinstance(c, Condition) and c.parameter]
    return dict.fromkeys(named + [change.amount.parameter for change in rule.changes])


def _topic(topic: Topic) -> dict[str, Any]:
    return {
        "topic": topic.name,
        "title": topic.title,
        "about": topic.about,
        "parameters": [present_parameter(parameter) for parameter in topic.parameters],
        "rules": [present_rule(rule) for rule in topic.rules],
    }


def _lever(lever: Lever) -> dict[str, Any]:
    return {
        "id": lever.name,
        "title": lever.title,
        "unit": {"value": lever.unit, "of": lever.of},
        "does": {name: lever.does.get(name, 0.0) for name in PROPERTIES},
        "advice_within": lever.advice,
        "source": lever.source,
        "confidence": lever.confidence.value,
    }


def present_parameter(parameter: Parameter) -> dict[str, Any]:
    """A parameter with its value as JSON: a number, a list of points or a table."""
    value: Any = parameter.value
    if isinstance(value, Mapping):
        value = dict(value)
    elif isinstance(value, tuple):
        value = [list(point) for point in value]
    return {
        "name": parameter.name,
        "says": parameter.says,
        "unit": parameter.unit,
        "value": value,
        "source": parameter.source,
        "confidence": parameter.confidence.value,
        "may_change": parameter.change,
        "local": parameter.local,
    }


def _effect(rule: Rule) -> dict[str, Any]:
    effect: dict[str, Any] = {}
    if rule.changes:
        effect["changes"] = [
            {"target": c.target.value, "action": c.action, "amount": _amount(c.amount)}
            for c in rule.changes
        ]
    if rule.side:
        effect["surf_side"] = rule.side
    if rule.finds:
        effect["finds"] = rule.finds
    if rule.verdict is not None:
        effect["verdict"] = rule.verdict.value
    if rule.proposals:
        effect["proposes"] = [{"move": p.move, "turn": p.turn.value} for p in rule.proposals]
    if rule.asks:
        effect["asks"] = rule.asks
    if rule.cautions:
        effect["cautions"] = [
            {"severity": c.severity.value, "text": c.text, "action": c.action}
            for c in rule.cautions
        ]
    if rule.watch:
        effect["watch_for"] = [{"look": w.look, "lever": w.lever} for w in rule.watch]
    return effect


def _amount(amount: Amount) -> dict[str, Any]:
    return {"parameter": amount.parameter, "of": amount.field.path if amount.field else None}
