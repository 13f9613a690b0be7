"""Each threshold has a case on either side, near it; a test lists what lacks.

A case counts for a rule only where it names it, in ``fired`` or in ``not_fired``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest

from rules import RuleBase
from rules.model import TARGET_UNITS, Change, Condition, Field, Found, Operator, Parameter, Rule
from service import create_app
from tests.rules import oracle
from tests.rules.conftest import client_of
from tests.rules.test_cases import CASES, OWN

COMPARED = {Operator.BELOW, Operator.AT_MOST, Operator.ABOVE, Operator.AT_LEAST}
TOLD = {Operator.KNOWN, Operator.UNKNOWN}

NEAR = {
    "mass": 20.0,
    "count": 1.0,
    "length": 0.05,
    "angle": 0.5,
    "ratio": 0.05,
    "temperature": 1.0,
    "percentage": 1.0,
}
"""What is near a threshold, by quantity, or a tenth of the threshold where that is more."""

STEP = {"km/h": 0.3, "%": 5.0}
"""What is near a bound: one step on the water (common practice)."""


@dataclass(frozen=True)
class Seen:
    """One case as it was answered: what it names, what the rules saw, and what came of it."""

    fired: frozenset[str]
    not_fired: frozenset[str]
    facts: Mapping[str, Mapping[str, Any]]
    found: tuple[str, ...]
    accounts: Mapping[str, Any]

    def value(self, field: Field) -> Any:
        return self.facts.get(field.kind, {}).get(field.name)


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> list[Seen]:
    usual = create_app({"TESTING": True}).test_client()
    told = []
    for case in (entry.values[0] for entry in CASES):
        folder = tmp_path_factory.mktemp("case")
        with client_of(case, folder) if OWN & set(case) else nullcontext(usual) as client:
            answer = client.post("/v1/advice?trace=full", json=case["input"]).get_json()
        trace = answer["trace"]
        told.append(
            Seen(
                frozenset(case.get("fired", ())), frozenset(case.get("not_fired", ())),
                trace["facts"], tuple(trace["found"]), answer["accounts"],
            )
        )  # fmt: skip
    return told


# -- conditions -------------------------------------------------------------------------------


def gaps(base: RuleBase, seen: list[Seen]) -> Iterator[str]:
    """Each condition of each rule that no case shows to hold, or alone to fail."""
    for rule in base.rules.values():
        held = [one for one in seen if rule.id in one.fired]
        missed = [(one, _failing(base, rule, one)) for one in seen if rule.id in one.not_fired]
        for condition in rule.when:
            failed = [one for one, texts in missed if _decides(condition, texts)]
            for side, cases in (("holds", held), ("fails", failed)):
                if isinstance(condition, Condition) and condition.operator in COMPARED:
                    cases = [one for one in cases if _near(condition, one)]  # noqa: PLW2901
                if not cases:
                    yield f"{rule.id}: no case in which '{condition.text}' {side}"


def _failing(base: RuleBase, rule: Rule, one: Seen) -> list[str]:
    seen = oracle.as_seen(one.facts)
    return [
        condition.text
        for condition in rule.when
        if not oracle.condition_holds(condition.text, base.documents, seen, one.found)
    ]


def _decides(condition: Condition | Found, failing: list[str]) -> bool:
    """It alone keeps the rule from firing; what is unknown may take others with it."""
    if isinstance(condition, Condition) and condition.operator in TOLD:
        return condition.text in failing
    return failing == [condition.text]


def _near(condition: Condition, one: Seen) -> bool:
    value, limit = one.value(condition.field), float(condition.value)
    reach = max(NEAR[condition.field.quantity], abs(limit) / 10)
    return value is not None and abs(value - limit) <= reach


def test_every_condition_has_a_case_on_either_side(base: RuleBase, seen: list[Seen]) -> None:
    assert not (lacking := list(gaps(base, seen))), "\n".join(lacking)


@pytest.mark.parametrize("rule", ["watch.child", "attitude.leans_far", "wishes.steeper_first"])
@pytest.mark.parametrize("side", ["fired", "not_fired"])
def test_a_side_without_a_case_is_listed(
    base: RuleBase, seen: list[Seen], rule: str, side: str
) -> None:
    left = [one for one in seen if rule not in getattr(one, side)]
    assert any(text.startswith(rule) for text in gaps(base, left))


# -- curves and tables ------------------------------------------------------------------------


def stretches(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Below the first point of a curve, between each two, beyond the last."""
    xs = [float("-inf"), *(x for x, _ in points), float("inf")]
    return list(pairwise(xs))


def bracket_gaps(base: RuleBase, seen: list[Seen]) -> Iterator[str]:
    """Each stretch of a curve and word of a table that no case lies on.

    A curve does not jump, so a case on the stretches to either side shows both sides of a point.
    """
    for rule, change, parameter, field in reckoned(base):
        values = [one.value(field) for one in seen if rule.id in one.fired]
        if isinstance(parameter.value, tuple):
            for low, high in stretches(parameter.value):
                if _reachable(rule, field, low, high) and not any(low < v < high for v in values):
                    yield f"{rule.id}: no case with {field.path} between {low:g} and {high:g}"
        elif isinstance(parameter.value, Mapping):
            for word in set(parameter.value) - set(values):
                yield f"{rule.id}: no case with {field.path} {word} for {change.target}"


def reckoned(base: RuleBase) -> Iterator[tuple[Rule, Change, Parameter, Field]]:
    for rule in base.rules.values():
        for change in rule.changes:
            if change.amount.field is not None:
                yield rule, change, base.parameters[change.amount.parameter], change.amount.field


def _reachable(rule: Rule, field: Field, low: float, high: float) -> bool:
    """Whether the rule's own conditions let it fire on a stretch."""
    inside: dict[Operator, Callable[[float], bool]] = {
        Operator.BELOW: lambda limit: low < limit,
        Operator.AT_MOST: lambda limit: low < limit,
        Operator.ABOVE: lambda limit: high > limit,
        Operator.AT_LEAST: lambda limit: high > limit,
    }
    return all(
        inside[c.operator](float(c.value))
        for c in rule.when
        if isinstance(c, Condition) and c.field == field and c.operator in COMPARED
    )


def test_every_stretch_of_a_curve_and_every_word_of_a_table_has_a_case(
    base: RuleBase, seen: list[Seen]
) -> None:
    assert len(list(reckoned(base))) >= 7
    assert not (lacking := list(bracket_gaps(base, seen))), "\n".join(lacking)


def test_a_stretch_without_a_case_is_listed(base: RuleBase, seen: list[Seen]) -> None:
    left = [one for one in seen if one.facts["rider"]["mass"] <= 100]
    assert "speed.rider_mass: no case with rider.mass between 100 and 130" in bracket_gaps(
        base, left
    )


# -- bounds -----------------------------------------------------------------------------------


def reach(base: RuleBase, target: str) -> tuple[float, float]:
    """The least and the most that base and contributions can come to, bounds apart."""
    low = high = 0.0
    for rule in base.rules.values():
        for change in rule.changes:
            if change.target != target or change.action not in ("base", "add"):
                continue
            value = base.parameters[change.amount.parameter].value
            ends = (
                [value] if isinstance(value, float)
                else list(value.values()) if isinstance(value, Mapping)
                else [y for _, y in value]
            )  # fmt: skip
            least, most = min(ends), max(ends)
            if change.action == "add":  # or the rule does not fire
                least, most = min(least, 0.0), max(most, 0.0)
            low, high = low + least, high + most
    return low, high


def test_every_bound_that_can_act_has_a_case_on_either_side(
    base: RuleBase, seen: list[Seen]
) -> None:
    names = {"speed": "speed", "centre_plate": "plates.centre"}
    can_act = 0
    for rule in base.rules.values():
        for change in (c for c in rule.changes if c.action in ("at_least", "at_most")):
            limit = base.number(change.amount.parameter)
            low, high = reach(base, change.target)
            if not (low < limit if change.action == "at_least" else high > limit):
                continue  # a guard that the shipped values never touch
            can_act += 1
            step = STEP[TARGET_UNITS[change.target]]
            sums = [s for one in seen if (s := _sum(one, names[change.target])) is not None]
            off = [round(value - limit, 1) for value in sums]
            ways = {1 if way > 0 else -1 for way in off if 0 < abs(way) <= step}
            within = 1 if change.action == "at_least" else -1
            assert -within in ways, f"no case a little beyond {change.amount.parameter}"
            assert within in ways or 0 in off, f"no case just within {change.amount.parameter}"
    assert can_act >= 3


def _sum(one: Seen, account: str) -> float | None:
    """What base and contributions come to before any bound."""
    lines = one.accounts.get(account, {}).get("lines", ())
    kept = [line["change"] for line in lines if line["kind"] in ("base", "add")]
    return round(sum(kept), 1) if kept else None
