"""The rule base to read: all rules by topic, and a page for each with its curve."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rules import examples
from rules.base import VERSION, RuleBase, Topic
from rules.model import TARGET_UNITS, Condition, Field, Found, Parameter, Rule
from rules.tuning import PROPERTIES, Lever, TuningBase
from schemas.rule_answer import used
from schemas.units import System
from schemas.written import plain, quantity
from service.pages import page_texts as pt
from service.pages import texts as t
from service.pages.charts import Axes, bars, curve
from service.pages.plots import Plot
from service.pages.rendering import render
from service.storage.feedback import Feedback

_PLACEHOLDER = re.compile(r"\{(\$?)([a-z_]+)\.([a-z_]+)\}")


@dataclass(frozen=True, slots=True)
class Shown:
    """One rule in words."""

    rule: Rule
    because: str
    when: tuple[tuple[str, str], ...]  # in words, and as it is written
    does: tuple[str, ...]
    says: tuple[tuple[str, str], ...]
    looks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """One topic as far as it is looked for: its rules, and the numbers that no rule names."""

    topic: Topic
    rules: tuple[Shown, ...]
    numbers: tuple[tuple[Parameter, str], ...]


def all_rules(base: RuleBase, tuning: TuningBase, words: str = "") -> str:
    """The page of all rules, those of the tuning too; with ``words`` only what has each of them."""
    wanted = words.casefold().split()
    parts = {
        name: list(_sections(of, wanted))
        for name, of in ((pt.RULES_SET_UP, base), (pt.RULES_TUNING, tuning.rules))
    }
    levers = [lever for lever in tuning.levers.values() if _has(lever.title, wanted)]
    return render(
        "rules.html",
        parts=parts,
        levers=[(lever, _lever_unit(lever), _lever_does(lever)) for lever in levers],
        words=words,
        count=sum(len(section.rules) for part in parts.values() for section in part),
        total=len(base.rules) + len(tuning.rules.rules),
        base=base,
        tuning=tuning,
        version=VERSION,
    )


def _sections(base: RuleBase, wanted: list[str]) -> Iterator[Section]:
    named = {name for rule in base.rules.values() for name in used(rule)}
    for topic in base.topics:
        rules = [rule for rule in topic.rules if _holds(base, topic, rule, wanted)]
        numbers = [
            (parameter, value_of(parameter))
            for parameter in topic.parameters
            if parameter.name not in named
            and _has(f"{parameter.name} {topic.title} {parameter.says}", wanted)
        ]
        if rules or numbers:
            yield Section(topic, tuple(_shown(base, rule) for rule in rules), tuple(numbers))


def _lever_unit(lever: Lever) -> str:
    return f"{plain(lever.unit, 1)} {lever.of}".replace(" °", "°")


def _lever_does(lever: Lever) -> list[tuple[str, str]]:
    """Properties of the wave, and in words what one unit more does to them."""
    return [(pt.WAVE[name], _way(lever.does.get(name, 0.0))) for name in PROPERTIES]


def _way(does: float) -> str:
    known = pt.LEVER_DOES.get(does)
    way = pt.LEVER_DOES[1 if does > 0 else -1]
    return known or pt.LEVER_OTHER.format(size=plain(abs(does), 2), way=way)


def one_rule(base: RuleBase, rule_id: str, feedback: Feedback | None = None) -> str:
    """The page of one rule, with what an outfit's runs say of it where that is known.

    Raises ``KeyError`` for an unknown id.
    """
    rule = base.rules[rule_id]
    parameters = [base.parameters[name] for name in used(rule)]
    return render(
        "rule.html",
        shown=_shown(base, rule),
        topic=next(topic for topic in base.topics if topic.name == rule.topic),
        parameters=[(parameter, value_of(parameter)) for parameter in parameters],
        curves=list(_curves(base, rule)),
        cases=examples.of_rule(rule_id),
        sure=t.CONFIDENCES[rule.confidence.value],
        feedback=feedback,
    )


def _holds(base: RuleBase, topic: Topic, rule: Rule, wanted: list[str]) -> bool:
    shown = _shown(base, rule)
    told = [words for pair in (*shown.when, *shown.says, *shown.looks) for words in pair]
    text = " ".join(
        [rule.id, topic.title, rule.title, rule.because, rule.source, rule.other_view, rule.asks,
         *shown.does, *told]
    )  # fmt: skip
    return _has(text, wanted)


def _has(text: str, wanted: list[str]) -> bool:
    return all(word in text.casefold() for word in wanted)


def _shown(base: RuleBase, rule: Rule) -> Shown:
    return Shown(
        rule=rule,
        because=_told(rule.because, base),
        when=tuple((_readable(condition, base), condition.text) for condition in rule.when),
        does=tuple(_does(base, rule)),
        says=tuple((_told(c.text, base), _told(c.action, base)) for c in rule.cautions),
        looks=tuple((_told(w.look, base), _told(w.lever, base)) for w in rule.watch),
    )


def _readable(condition: Condition | Found, base: RuleBase) -> str:
    """A condition in words, with the value of a parameter in the place of its name."""
    if isinstance(condition, Found):
        words = pt.RULE_FOUND if condition.wanted else pt.RULE_NOT_FOUND
        return words.format(found=condition.finding.replace("_", " "))
    if condition.field.kind == "seen":
        told = (condition.operator.value, str(condition.value))
        words = pt.RULE_SEEN.get(told, pt.RULE_SEEN_SO)
        return words.format(sign=condition.field.says, strength=condition.value)
    if condition.parameter:
        against = value_of(base.parameters[condition.parameter])
    elif condition.other is not None:
        against = _named(condition.other)
    elif isinstance(condition.value, str):
        against = condition.value.replace("_", " ")
    else:
        against = quantity(condition.value, condition.field.unit, System.METRIC)
    return pt.RULE_CONDITIONS[condition.operator.value].format(
        fact=_named(condition.field), against=against
    )


def _named(field: Field) -> str:
    """A fact in words, without the remark in brackets on how to read it."""
    return field.says.partition(" (")[0]


def _told(text: str, base: RuleBase) -> str:
    """A caution's text with its parameters written out and its facts named."""

    def named(match: re.Match[str]) -> str:
        dollar, kind, name = match.groups()
        if dollar:
            return value_of(base.parameters[f"{kind}.{name}"])
        return f"[{_named(base.fields[kind][name])}]"

    return _PLACEHOLDER.sub(named, text)


def _does(base: RuleBase, rule: Rule) -> Iterator[str]:
    for change in rule.changes:
        target, amount = pt.TARGETS[change.target.value], change.amount
        parameter = base.parameters[amount.parameter]
        if amount.field is not None:
            yield pt.RULE_CHANGES_BY.format(
                target=target, field=_named(amount.field), parameter=parameter.says
            )
        else:
            value = quantity(parameter.number(), TARGET_UNITS[change.target], System.METRIC)
            yield pt.RULE_CHANGES[change.action].format(
                target=target, amount=f"{value} ({amount.parameter})"
            )
    for proposal in rule.proposals:
        move = proposal.move.replace("_", " ")
        yield pt.RULE_PROPOSES[proposal.turn.value].format(move=move)
    if rule.side:
        yield pt.RULE_SIDE.format(side=rule.side)
    if rule.finds and rule.finds not in [proposal.move for proposal in rule.proposals]:
        yield pt.RULE_FINDS.format(found=rule.finds.replace("_", " "))
    if rule.verdict is not None:
        yield pt.RULE_VERDICT.format(verdict=t.VERDICTS[rule.verdict.value].lower())


def value_of(parameter: Parameter) -> str:
    """A parameter's value in the unit in which it is written."""
    value = parameter.value
    if isinstance(value, float):
        if parameter.unit == "1":
            return _signed(value)
        return quantity(value, parameter.unit, System.METRIC)
    if isinstance(value, Mapping):
        return ", ".join(f"{word.replace('_', ' ')} {_signed(v)}" for word, v in value.items())
    return ", ".join(pt.RULE_POINT.format(y=_signed(y), x=_signed(x)) for x, y in value)


def _signed(number: float) -> str:
    return plain(number, 2 if abs(number) >= 0.1 else 4).replace("-", "−")


def _curves(base: RuleBase, rule: Rule) -> Iterator[Plot]:
    """The effect as a picture, where it is a curve or a table."""
    for number, change in enumerate(rule.changes):
        parameter = base.parameters[change.amount.parameter]
        field = change.amount.field
        if field is not None:
            unit = TARGET_UNITS[change.target]
            target = pt.TARGETS[change.target.value]
            # A curve's unit says what it is against: "% at kg of rider".
            against = parameter.unit.partition(" at ")[2] or f"{field.says}, {field.unit}"
            yield effect(f"effect-{number}", parameter, against, target, unit)


def effect(name: str, parameter: Parameter, x: str, target: str, unit: str) -> Plot:
    """What a parameter's curve or table does to a target of ``unit``."""
    says = f"{parameter.says}: {value_of(parameter)}"
    value: Any = parameter.value
    if isinstance(value, Mapping):
        return Plot(parameter.says, "", bars(name, parameter.says, says, value, unit))
    xs, ys = [point[0] for point in value], [point[1] for point in value]
    margin = (max(xs) - min(xs)) * 0.08 or 1.0
    low, high = min(*ys, 0.0), max(*ys, 0.0)
    air = (high - low or 1.0) * 0.08
    axes = Axes(
        x, f"{target}, {unit}", (min(xs) - margin, max(xs) + margin), (low - air, high + air)
    )
    # Level beyond the ends, as the rules read it.
    line = [(min(xs) - margin, ys[0]), *value, (max(xs) + margin, ys[-1])]
    return Plot(parameter.says, "", curve(name, parameter.says, says, axes, [line]))
