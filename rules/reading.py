"""From the words of a topic file to the dataclasses of ``rules.model``.

Conditions are written as a coach would say them::

    rider.mass < $centre_plate.light_rider      a fact against a parameter
    rider.board is skim                         a fact against a word
    load.people_mass > plan.water_mass          a fact against one of another kind
    water.depth is unknown                      an optional fact
    found wants_power / not found wants_power   what an earlier rule found

Amounts are ``$parameter``, ``$curve at kind.field`` or ``$table by kind.field``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from rules.model import (
    Amount,
    Caution,
    Change,
    Condition,
    Confidence,
    Field,
    Found,
    Operator,
    Parameter,
    Proposal,
    Rule,
    Severity,
    Stage,
    Target,
    Turn,
    Verdict,
    Watch,
)

Fields = Mapping[str, Mapping[str, Field]]
Parameters = Mapping[str, Parameter]

_CONDITION = re.compile(r"([a-z_]+)\.([a-z_]+) (is not|is known|is unknown|is|<=|>=|<|>) ?(.*)")
_FOUND = re.compile(r"(not )?found ([a-z_]+)")
_AMOUNT = re.compile(r"\$([a-z_.]+)(?: (at|by) ([a-z_]+)\.([a-z_]+))?")
_PLACEHOLDER = re.compile(r"\{(\$?)([a-z_]+)\.([a-z_]+)\}")
_RULE_KEYS = {
    "id", "title", "stage", "when", "base", "add", "at_least", "at_most", "finds", "side",
    "verdict", "caution", "cautions", "watch", "because", "source", "confidence", "other_view",
    "propose", "asks",
}  # fmt: skip
_FACT_KEYS = {"type", "quantity", "unit", "range", "optional", "says"}
_PARAMETER_KEYS = {"says", "unit", "value", "source", "confidence", "change"}


LARGEST = 1e9
"""Beyond this no number of the trade lies, and the engine would meet an exponent."""


class RuleError(ValueError):
    """A topic file says something that the rule base cannot mean."""


def read_fields(document: Mapping[str, Any]) -> dict[str, dict[str, Field]]:
    """The kinds of fact and their fields."""
    fields: dict[str, dict[str, Field]] = {}
    for kind, entries in document.items():
        fields[kind] = {}
        for name, raw in entries.items():
            surplus = set(raw) - _FACT_KEYS
            if surplus or not {"type", "says"} <= set(raw):
                raise RuleError(f"{kind}.{name}: wants type and says; not {sorted(surplus)}")
            if (raw["type"] == "number") != ("range" in raw):
                raise RuleError(f"{kind}.{name}: a number has a range, a word has none")
            words = () if raw["type"] == "number" else tuple(raw["type"])
            if not all(isinstance(word, str) for word in words):
                raise RuleError(f"{kind}.{name}: quote yes and no")
            low, high = raw.get("range", (0.0, 0.0))
            fields[kind][name] = Field(
                kind, name, raw["says"], words, raw.get("quantity", ""), raw.get("unit", ""),
                float(low), float(high), bool(raw.get("optional", False)),
            )  # fmt: skip
    return fields


def read_parameter(name: str, raw: Mapping[str, Any]) -> Parameter:
    """One parameter; its value is a number, a list of points or a table of words."""
    if set(raw) != _PARAMETER_KEYS:
        raise RuleError(f"parameter {name}: wants exactly {', '.join(sorted(_PARAMETER_KEYS))}")
    value = raw["value"]
    try:
        if isinstance(value, Mapping):
            parsed: Any = {str(word): _finite(number) for word, number in value.items()}
        elif isinstance(value, list):
            parsed = tuple((_finite(x), _finite(y)) for x, y in value)
            if not parsed or any(a[0] >= b[0] for a, b in pairwise(parsed)):
                raise ValueError("the points of a curve rise in x")
        else:
            parsed = _finite(value)
        confidence = Confidence(raw["confidence"])
    except (TypeError, ValueError) as error:
        raise RuleError(f"parameter {name}: {error}") from None
    return Parameter(
        name, raw["says"], raw["unit"], parsed, raw["source"], confidence, raw["change"]
    )


def _finite(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{value!r} is not a number")
    if abs(value) > LARGEST:
        raise ValueError(f"{value!r} is beyond {LARGEST:.0f}")
    return float(value)


def read_rule(
    topic: str,
    raw: Mapping[str, Any],
    fields: Fields,
    parameters: Parameters,
    findings: set[str],
) -> Rule:
    """One rule of a topic, every name in it checked."""
    rule_id = f"{topic}.{raw.get('id')}"
    try:
        surplus = set(raw) - _RULE_KEYS
        if surplus:
            raise RuleError(f"unknown entry {', '.join(sorted(surplus))}")
        for entry in ("id", "title", "because", "source"):
            if not isinstance(raw[entry], str):
                raise RuleError(f"{entry} is not text: {raw[entry]!r}")
        cautions = [*_several(raw.get("caution")), *_several(raw.get("cautions"))]
        return Rule(
            id=rule_id,
            topic=topic,
            title=raw["title"],
            stage=Stage(raw["stage"]),
            when=tuple(_condition(text, fields, parameters, findings) for text in raw["when"]),
            because=raw["because"].strip(),
            source=raw["source"],
            confidence=Confidence(raw["confidence"]),
            other_view=raw.get("other_view", ""),
            changes=tuple(_changes(raw, fields, parameters)),
            finds=raw.get("finds", ""),
            side=_side(raw.get("side", "")),
            verdict=Verdict(raw["verdict"]) if "verdict" in raw else None,
            cautions=tuple(_caution(entry, fields, parameters) for entry in cautions),
            watch=tuple(_watch(entry, fields, parameters) for entry in _several(raw.get("watch"))),
            proposals=tuple(
                Proposal(move, Turn(turn)) for turn, move in raw.get("propose", {}).items()
            ),
            asks=raw.get("asks", "").strip(),
        )
    except KeyError as error:
        raise RuleError(f"{rule_id}: {error.args[0]} is missing") from None
    except (AttributeError, TypeError, ValueError) as error:
        raise RuleError(f"{rule_id}: {error}") from None


def _side(side: str) -> str:
    if side not in ("", "port", "starboard"):
        raise RuleError(f"a side is port or starboard, not {side}")
    return side


def _several(value: Any) -> list[Any]:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]


def _field(kind: str, name: str, fields: Fields) -> Field:
    try:
        return fields[kind][name]
    except KeyError:
        raise RuleError(f"no fact {kind}.{name}") from None


def _condition(
    text: str, fields: Fields, parameters: Parameters, findings: set[str]
) -> Condition | Found:
    if asked := _FOUND.fullmatch(text):
        denied, finding = asked.groups()
        if finding not in findings:
            raise RuleError(f"no rule finds {finding}")
        return Found(finding, not denied, text)
    match = _CONDITION.fullmatch(text)
    if not match:
        raise RuleError(f"cannot read the condition {text!r}")
    kind, name, op, right = match.groups()
    field, operator = _field(kind, name, fields), Operator(op)
    if operator in (Operator.KNOWN, Operator.UNKNOWN):
        if not field.optional or right:
            raise RuleError(f"{field.path} is always known: {text!r}")
        return Condition(field, operator, text)
    if operator in (Operator.IS, Operator.IS_NOT):
        if right not in field.words:
            raise RuleError(f"{field.path} is one of {', '.join(field.words)}: {text!r}")
        return Condition(field, operator, text, right)
    return _comparison(text, field, operator, right, fields, parameters)


def _comparison(
    text: str, field: Field, operator: Operator, right: str, fields: Fields, parameters: Parameters
) -> Condition:
    if not field.is_number:
        raise RuleError(f"{field.path} is not a number: {text!r}")
    if right.startswith("$"):
        parameter = _parameter(right[1:], parameters)
        return Condition(field, operator, text, parameter.number(), parameter.name)
    if re.fullmatch(r"[a-z_]+\.[a-z_]+", right):
        kind, name = right.split(".")
        other = _field(kind, name, fields)
        if not other.is_number or other.kind == field.kind:
            raise RuleError(f"{field.path} is compared with a number of another kind: {text!r}")
        return Condition(field, operator, text, other=other)
    return Condition(field, operator, text, _finite(float(right)))


def _parameter(name: str, parameters: Parameters) -> Parameter:
    try:
        return parameters[name]
    except KeyError:
        raise RuleError(f"no parameter {name}") from None


def _changes(raw: Mapping[str, Any], fields: Fields, parameters: Parameters) -> list[Change]:
    changes = []
    for action in ("base", "add", "at_least", "at_most"):
        for entry in _several(raw.get(action)):
            for target, text in entry.items():
                amount = _amount(text, fields, parameters)
                changes.append(Change(Target(target), action, amount, raw["title"]))
    return changes


def _amount(text: str, fields: Fields, parameters: Parameters) -> Amount:
    match = _AMOUNT.fullmatch(text)
    if not match:
        raise RuleError(f"cannot read the amount {text!r}")
    name, how, kind, field_name = match.groups()
    parameter = _parameter(name, parameters)
    field = _field(kind, field_name, fields) if how else None
    if how is None:
        parameter.number()
    elif how == "at" and not (isinstance(parameter.value, tuple) and field and field.is_number):
        raise RuleError(f"{text!r}: 'at' wants a curve and a number")
    elif how == "by":
        table = parameter.value
        if not isinstance(table, Mapping) or not field or set(table) != set(field.words):
            raise RuleError(f"{text!r}: 'by' wants a table with a line for each word")
    return Amount(name, field, text)


def _caution(raw: Mapping[str, Any], fields: Fields, parameters: Parameters) -> Caution:
    _only(raw, "caution", "severity", "text", "action")
    _check_names(raw["text"] + raw["action"], fields, parameters)
    return Caution(Severity(raw["severity"]), raw["text"].strip(), raw["action"].strip())


def _watch(raw: Mapping[str, Any], fields: Fields, parameters: Parameters) -> Watch:
    _only(raw, "watch", "look", "lever")
    _check_names(raw["look"] + raw["lever"], fields, parameters)
    return Watch(raw["look"], raw["lever"])


def _only(raw: Mapping[str, Any], what: str, *members: str) -> None:
    """A text with a comma and no quotation marks would lose what is behind the comma."""
    if surplus := set(raw) - set(members):
        raise RuleError(f"{what}: wants {', '.join(members)}; not {sorted(map(str, surplus))}")


def _check_names(text: str, fields: Fields, parameters: Parameters) -> None:
    """The facts ``{kind.field}`` and parameters ``{$topic.name}`` that a text names exist."""
    if set("{}") & set(_PLACEHOLDER.sub("", text)):
        raise RuleError(f"cannot read a placeholder in {text!r}")
    for dollar, kind, name in _PLACEHOLDER.findall(text):
        if dollar:
            _parameter(f"{kind}.{name}", parameters).number()
        else:
            _field(kind, name, fields)
