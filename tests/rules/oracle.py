"""A second, plain evaluator of the rule base, and a generator of facts for it.

It reads the topic files' own words and shares no code with ``rules.reading`` or
``rules.engine``: where both fire the same rules, neither the reading of a condition nor the
engine's joins, negations and number handling can have gone wrong unseen.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Value = float | str
Facts = dict[str, dict[str, Value | None]]

STAGES = ("limits", "need", "loading", "base", "corrections", "checks")
COMPARE: Mapping[str, Callable[[Any, Any], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}


@dataclass(frozen=True)
class Fired:
    """A rule that fired, with what it asked."""

    stage: str
    rule: str
    bound: Mapping[str, Value]


def evaluate(
    documents: Mapping[str, Any],
    facts: Mapping[str, Mapping[str, Value | None]],
    stages: Iterable[str] = STAGES,
    found: Iterable[str] = (),
) -> tuple[list[Fired], set[str]]:
    """Stage by stage, the first rule in declared order that holds and has not fired yet."""
    seen = as_seen(facts)
    known, fired = set(found), []
    for stage in stages:
        waiting = [(i, r) for i, r in _rules(documents) if r["stage"] == stage]
        while ready := next((e for e in waiting if _holds(e[1], documents, seen, known)), None):
            waiting.remove(ready)
            name, raw = ready
            values = {path: _value(path, seen) for path in _asked(raw)}
            fired.append(
                Fired(stage, name, {path: v for path, v in values.items() if v is not None})
            )
            known |= {raw["finds"]} if "finds" in raw else set()
    return fired, known


def condition_holds(
    text: str,
    documents: Mapping[str, Any],
    seen: Facts,
    found: Iterable[str],
) -> bool:
    """Whether one condition, as written, is true of facts :func:`as_seen`."""
    return _true(text, documents, seen, set(found))


def _rules(documents: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for topic in sorted(documents):
        for raw in documents[topic].get("rules") or ():
            yield f"{topic}.{raw['id']}", raw


def as_seen(facts: Mapping[str, Mapping[str, Value | None]]) -> Facts:
    """The facts as the rules see them."""
    return {kind: {n: _seen(v) for n, v in fields.items()} for kind, fields in facts.items()}


def _seen(value: Value | None) -> Value | None:
    """Numbers are told to the rules to four decimals."""
    return round(value, 4) if isinstance(value, int | float) else value


def _value(path: str, facts: Mapping[str, Mapping[str, Value | None]]) -> Value | None:
    kind, name = path.split(".")
    return facts.get(kind, {}).get(name)


def _holds(
    raw: Mapping[str, Any],
    documents: Mapping[str, Any],
    facts: Mapping[str, Mapping[str, Value | None]],
    found: set[str],
) -> bool:
    """Every condition is true, and every fact an amount is reckoned at is known."""
    return all(_true(text, documents, facts, found) for text in raw["when"]) and all(
        _value(path, facts) is not None for path in _reckoned(raw)
    )


def _true(
    text: str,
    documents: Mapping[str, Any],
    facts: Mapping[str, Mapping[str, Value | None]],
    found: set[str],
) -> bool:
    words = text.split()
    if words[0] == "found":
        return words[1] in found
    if words[0] == "not":
        return words[2] not in found
    path, operator, right = words[0], words[1], " ".join(words[2:])
    if path.split(".")[0] not in facts:
        return False
    value = _value(path, facts)
    if operator == "is" and right in ("known", "unknown"):
        return (value is None) == (right == "unknown")
    if value is None:
        return False
    if operator == "is":
        return value != right[4:] if right.startswith("not ") else value == right
    if right.startswith("$"):
        topic, name = right[1:].split(".")
        limit: Any = documents[topic]["parameters"][name]["value"]
    elif right[0].isalpha():
        limit = _value(right, facts)
    else:
        limit = float(right)
    return limit is not None and COMPARE[operator](value, limit)


def _amounts(raw: Mapping[str, Any]) -> Iterator[str]:
    for action in ("base", "add", "at_least", "at_most"):
        entries = raw.get(action) or []
        for entry in entries if isinstance(entries, list) else [entries]:
            yield from entry.values()


def _reckoned(raw: Mapping[str, Any]) -> list[str]:
    return [text.split()[2] for text in _amounts(raw) if " " in text]


def _asked(raw: Mapping[str, Any]) -> list[str]:
    """The paths of the facts that a rule asks or reckons with."""
    paths = []
    for text in raw["when"]:
        words = text.split()
        if words[0] not in ("found", "not"):
            paths += [word for word in (words[0], words[-1]) if "." in word and word[0].isalpha()]
    return list(dict.fromkeys(paths + _reckoned(raw)))


def thresholds(documents: Mapping[str, Any], curves: bool = True) -> dict[str, list[float]]:
    """For each number that a rule asks: the limits it is compared with, the curves' points."""
    limits: dict[str, list[float]] = {}
    for _, raw in _rules(documents):
        for text in raw["when"]:
            words = text.split()
            if words[1] in COMPARE and words[2].startswith("$"):
                topic, name = words[2][1:].split(".")
                limits.setdefault(words[0], []).append(
                    documents[topic]["parameters"][name]["value"]
                )
            elif words[1] in COMPARE and not words[2][0].isalpha():
                limits.setdefault(words[0], []).append(float(words[2]))
        for text in _amounts(raw):
            if curves and " at " in text:
                curve, _, path = text.split()
                topic, name = curve[1:].split(".")
                points = documents[topic]["parameters"][name]["value"]
                limits.setdefault(path, []).extend(float(x) for x, _ in points)
    return limits


def facts(
    documents: Mapping[str, Any], declared: Mapping[str, Any], seed: int, whole: bool = False
) -> Facts:
    """Facts as declared: numbers near the limits they are compared with, words evenly.

    ``whole`` gives every kind of fact; otherwise one may be missing, as it is before its stage.
    """
    chance = random.Random(seed)  # noqa: S311
    limits = thresholds(documents)
    out: Facts = {}
    for kind, entries in declared.items():
        if not whole and chance.random() < 0.05:
            continue
        out[kind] = {
            name: _any(chance, raw, limits.get(f"{kind}.{name}", []))
            for name, raw in entries.items()
        }
    return out


def _any(chance: random.Random, raw: Mapping[str, Any], limits: list[float]) -> Value | None:
    if raw.get("optional") and chance.random() < 0.15:
        return None
    if raw["type"] != "number":
        return str(chance.choice(raw["type"]))
    low, high = (float(bound) for bound in raw["range"])
    how = chance.random()
    if how < 0.5 and limits:
        off = chance.choice([0.0, 0.0001, 0.00004, 0.00006, 0.1, 1.0]) * chance.choice([-1, 1])
        value = chance.choice(limits) + off
    elif how < 0.7:
        value = chance.choice([0.0, low, high, 1.0, -1.0, 1e-7, 1e-4])
    elif how < 0.85 and limits:
        value = chance.uniform(min(limits), max(limits))
    else:
        value = chance.uniform(low, high)
    return min(max(value, low), high)
