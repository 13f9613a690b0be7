"""Why, and why not, on rules of a few words. All generated cases: ``test_oracle.py``."""

from __future__ import annotations

import pytest

from rules import RuleBase
from rules.engine import evaluate
from rules.model import Facts, Stage
from rules.trace import NotFired, Trace, Why, trace
from tests.rules import oracle
from tests.rules.conftest import small


def traced(base: RuleBase, facts: Facts) -> Trace:
    firings, _ = evaluate(base, facts, list(Stage))
    return trace(base, facts, firings, list(Stage))


def facts_with(**rider: str | float) -> oracle.Facts:
    base = small()
    facts = oracle.facts(base.documents, base.facts, 0, whole=True)
    facts["rider"].update({"mass": 82.0, "board": "surf", "level": "expert"}, **rider)
    return facts


def only_miss(base: RuleBase, facts: Facts) -> NotFired:
    (miss,) = traced(base, facts).not_fired
    return miss


def test_the_first_condition_that_failed_and_what_the_fact_was() -> None:
    base = small({"when": ["rider.level is expert", "rider.board is skim", "rider.mass < 50"]})
    miss = only_miss(base, facts_with())
    assert (miss.condition, miss.why) == ("rider.board is skim", Why.OTHERWISE)
    assert (miss.fact, miss.value, miss.against) == ("rider.board", "surf", "skim")


def test_a_number_is_told_with_the_limit_it_was_compared_with() -> None:
    base = small({"when": ["rider.mass < $topic.light"]}, light=60)
    miss = only_miss(base, facts_with(mass=82.00004))
    assert (miss.value, miss.against) == (82.0, 60.0)


def test_an_optional_fact_that_was_not_told() -> None:
    facts = facts_with()
    facts["water"]["depth"] = None
    miss = only_miss(small({"when": ["water.depth < 6"]}), facts)
    assert (miss.why, miss.fact, miss.value) == (Why.UNKNOWN, "water.depth", None)
    miss = only_miss(small({"when": ["water.depth is known"]}), facts)
    assert (miss.why, miss.value) == (Why.UNKNOWN, None)
    facts["water"]["depth"] = 7.5
    miss = only_miss(small({"when": ["water.depth is unknown"]}), facts)
    assert (miss.why, miss.value) == (Why.OTHERWISE, 7.5)


def test_an_optional_fact_of_another_kind_that_was_not_told() -> None:
    facts = facts_with()
    facts["load"]["load_over"] = None
    miss = only_miss(small({"when": ["plan.water_mass > load.load_over"]}), facts)
    assert (miss.why, miss.fact) == (Why.UNKNOWN, "load.load_over")


def test_a_kind_of_fact_that_was_not_known_yet() -> None:
    facts = facts_with()
    del facts["attitude"]
    miss = only_miss(small({"when": ["attitude.lean_size > 7"]}), facts)
    assert (miss.why, miss.fact) == (Why.NOT_YET, "attitude.lean_size")


def test_an_amount_that_wants_a_fact() -> None:
    curve = [[0, 0], [1, 1]]
    base = small({"base": {"speed": "$topic.c at water.depth"}}, c=curve)
    facts = facts_with()
    facts["water"]["depth"] = None
    miss = only_miss(base, facts)
    assert (miss.condition, miss.why) == ("$topic.c at water.depth", Why.UNKNOWN)
    del facts["water"]
    assert only_miss(base, facts).why is Why.NOT_YET


def test_findings_that_were_wanted_or_denied() -> None:
    base = small(
        {"when": ["rider.level is expert"], "finds": "skilled"},
        {"stage": "loading", "when": ["found skilled"]},
        {"stage": "loading", "when": ["not found skilled"]},
    )
    expert, novice = traced(base, facts_with()), traced(base, facts_with(level="beginner"))
    assert [(m.condition, m.why) for m in expert.not_fired] == [("not found skilled", Why.FOUND)]
    assert [m.why for m in novice.not_fired] == [Why.OTHERWISE, Why.NOT_FOUND]


def test_what_was_found_before_counts() -> None:
    base = small({"when": ["not found seen"]}, {"stage": "limits", "when": [], "finds": "seen"})
    facts = facts_with()
    firings, _ = evaluate(base, facts, [Stage.NEED], {"seen"})
    assert trace(base, facts, firings, [Stage.NEED], {"seen"}).not_fired[0].why is Why.FOUND


def test_only_the_stages_asked_for() -> None:
    base = small(
        {"stage": "need"}, {"stage": "checks"}, {"stage": "checks", "when": ["rider.mass > 499"]}
    )
    firings, _ = evaluate(base, facts_with(), list(Stage))
    told = trace(base, facts_with(), firings, [Stage.CHECKS])
    assert [f.rule.id for f in told.fired] == ["topic.r1"]
    assert [m.rule.id for m in told.not_fired] == ["topic.r2"]


def test_what_fired_comes_with_conditions_values_and_parameters() -> None:
    base = small(
        {
            "when": ["rider.mass > $topic.heavy", "rider.board is surf"],
            "base": {"speed": "$topic.c at rider.mass"},
        },
        {"when": ["rider.mass > $topic.beyond"]},
        heavy=80, beyond=400, unused=1, c=[[0, 0], [1, 1]],
    ).with_values({"topic.heavy": 81})  # fmt: skip
    told = traced(base, facts_with())
    (fired,) = told.fired
    assert fired.conditions == ("rider.mass > $topic.heavy", "rider.board is surf")
    assert fired.bound == {"rider.mass": 82.0, "rider.board": "surf"}
    assert [(p.name, p.value, p.local) for p in told.parameters] == [
        ("topic.heavy", 81.0, True),
        ("topic.c", ((0.0, 0.0), (1.0, 1.0)), False),
    ]
    assert all(p.unit and p.source for p in told.parameters)


def test_facts_that_contradict_what_fired_are_refused() -> None:
    base = small({"when": ["rider.level is expert"]})
    with pytest.raises(ValueError, match=r"topic\.r0: every condition holds"):
        trace(base, facts_with(), [], list(Stage))
