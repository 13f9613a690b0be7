"""The engine against a second evaluator: same rules, same order, same values, case by case."""

from __future__ import annotations

from collections import Counter

import pytest

from rules import RuleBase
from rules.engine import evaluate
from rules.model import Firing, Stage
from rules.trace import Why, trace
from tests.rules import oracle
from tests.rules.conftest import small

Evaluated = list[tuple[list[oracle.Fired], set[str]]]


@pytest.fixture(scope="module")
def fired(base: RuleBase, generated: list[oracle.Facts]) -> list[tuple[list[Firing], set[str]]]:
    """What the engine makes of each generated case."""
    return [evaluate(base, facts, list(Stage)) for facts in generated]


def test_the_engine_fires_what_the_oracle_fires(
    generated: list[oracle.Facts], evaluated: Evaluated, fired: list[tuple[list[Firing], set[str]]]
) -> None:
    assert len(generated) >= 2000
    for facts, (expected, expected_found), (firings, found) in zip(
        generated, evaluated, fired, strict=True
    ):
        seen = [(f.rule.stage.value, f.rule.id, dict(f.bound)) for f in firings]
        assert seen == [(f.stage, f.rule, dict(f.bound)) for f in expected], facts
        assert found == expected_found, facts


def test_one_stage_at_a_time_is_the_same_as_all_at_once(
    base: RuleBase, generated: list[oracle.Facts]
) -> None:
    for facts in generated[:200]:
        at_once, found_at_once = evaluate(base, facts, list(Stage))
        step_by_step: list[Firing] = []
        found: set[str] = set()
        for stage in Stage:
            firings, found = evaluate(base, facts, [stage], found)
            step_by_step += firings
        assert step_by_step == at_once
        assert found == found_at_once


def test_chains_of_findings_within_a_stage_and_across_stages() -> None:
    """The shipped rules deny findings but do not chain; these do."""
    base = small(
        {"when": ["found c"], "finds": "d"},
        {"when": ["found b"], "finds": "c"},
        {"when": ["rider.mass > 80", "found a"], "finds": "b"},
        {"when": ["rider.mass > 70"], "finds": "a"},
        {"stage": "loading", "when": ["found d"]},
        {"stage": "loading", "when": ["not found d", "found a"]},
        {"stage": "loading", "when": ["not found a"]},
    )
    for mass, expected in (
        (60.0, {"r6"}),
        (75.0, {"r3", "r5"}),
        (90.0, {f"r{i}" for i in range(5)}),
    ):
        facts = oracle.facts(base.documents, base.facts, 1, whole=True)
        facts["rider"]["mass"] = mass
        firings, found = evaluate(base, facts, list(Stage))
        assert {f.rule.id for f in firings} == {f"topic.{name}" for name in expected}
        again, again_found = oracle.evaluate(base.documents, facts)
        assert {f.rule.id for f in firings} == {f.rule for f in again}
        assert found == again_found


def test_facts_of_two_kinds_compared() -> None:
    """No shipped rule compares two facts; the joins work all the same."""
    base = small(
        *(
            {"when": [f"load.gear_mass {sign} plan.water_mass", "rider.board is skim"]}
            for sign in ("<", "<=", ">", ">=")
        ),
        {"when": ["load.load_over > plan.water_mass"]},
        {"when": ["plan.water_mass > load.load_over"]},
    )
    tally: Counter[str] = Counter()
    for seed in range(200):
        facts = oracle.facts(base.documents, base.facts, seed)
        if seed % 3 and {"load", "plan"} <= set(facts):
            facts["load"]["gear_mass"] = facts["plan"]["water_mass"]
        firings, _ = evaluate(base, facts, list(Stage))
        assert [(f.rule.id, dict(f.bound)) for f in firings] == [
            (f.rule, dict(f.bound)) for f in oracle.evaluate(base.documents, facts)[0]
        ]
        tally.update(f.rule.id for f in firings)
    assert set(tally) == set(base.rules)


def test_why_not_names_a_condition_that_is_false(
    base: RuleBase,
    generated: list[oracle.Facts],
    evaluated: Evaluated,
    fired: list[tuple[list[Firing], set[str]]],
) -> None:
    reasons: Counter[Why] = Counter()
    conditions = {rule.id: [c.text for c in rule.when] for rule in base.rules.values()}
    for facts, (expected, _), (firings, _) in zip(generated, evaluated, fired, strict=True):
        told = trace(base, facts, firings, list(Stage))
        assert [f.rule.id for f in told.fired] == [f.rule for f in expected]
        assert {f.rule.id for f in told.fired} | {n.rule.id for n in told.not_fired} == set(
            base.rules
        )
        known = {base.rules[f.rule].finds for f in expected} - {""}
        seen = oracle.as_seen(facts)
        for miss in told.not_fired:
            reasons[miss.why] += 1
            texts = conditions[miss.rule.id]
            if miss.condition not in texts:
                kind, name = miss.fact.split(".")
                assert facts.get(kind, {}).get(name) is None, miss.rule.id
                continue
            position = texts.index(miss.condition)
            holds = [
                oracle.condition_holds(text, base.documents, seen, known)
                for text in texts[: position + 1]
            ]
            assert all(holds[:position]), miss.rule.id
            assert not holds[position], miss.rule.id
    assert set(reasons) == set(Why) - {Why.NOT_FOUND}


@pytest.mark.parametrize("seed", range(3))
def test_the_generator_makes_the_same_facts_from_the_same_number(base: RuleBase, seed: int) -> None:
    first = oracle.facts(base.documents, base.facts, seed)
    assert first == oracle.facts(base.documents, base.facts, seed)
    assert first != oracle.facts(base.documents, base.facts, seed + 1)
