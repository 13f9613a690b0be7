"""From the words of a topic file to rules: what is understood, and every refusal with its words."""

from __future__ import annotations

import math
from typing import Any

import pytest

from rules import load
from rules.base import read
from rules.model import (
    Amount,
    Caution,
    Change,
    Condition,
    Confidence,
    Field,
    Found,
    Operator,
    Rule,
    Severity,
    Stage,
    Target,
    Verdict,
    Watch,
)
from rules.reading import RuleError, read_fields, read_parameter
from tests.rules.conftest import small, topic

CURVE = [[40, -0.6], [60, -0.2]]
TABLE = {"skim": 10, "surf": -5}


def one(**entries: Any) -> Rule:
    return small(entries, {"finds": "seen", "stage": "limits"}, p=80, c=CURVE, t=TABLE).rules[
        f"topic.{entries.get('id', 'r0')}"
    ]


def caution(**entries: Any) -> dict[str, Any]:
    return {"severity": "note", "text": "Text.", "action": "Action."} | entries


def test_a_whole_rule() -> None:
    fields = load().fields
    rule = one(
        id="whole",
        title="A whole rule",
        stage="corrections",
        when=["rider.mass < $topic.p", "rider.board is skim", "not found seen"],
        because="  It is so.\n",
        source="a book",
        confidence="contested",
        other_view="It is not so.",
        base={"speed": "$topic.p"},
        add=[{"centre_plate": "$topic.t by rider.board"}, {"lean": "$topic.c at rider.mass"}],
        at_least={"speed": "$topic.p"},
        at_most={"speed": "$topic.p"},
        verdict="go_with_care",
        caution=caution(text="At {rider.mass} of {$topic.p}."),
        watch={"look": "here", "lever": "that"},
    )
    mass, board = fields["rider"]["mass"], fields["rider"]["board"]
    plain = Amount("topic.p", None, "$topic.p")
    assert rule == Rule(
        id="topic.whole",
        topic="topic",
        title="A whole rule",
        stage=Stage.CORRECTIONS,
        when=(
            Condition(mass, Operator.BELOW, "rider.mass < $topic.p", 80.0, "topic.p"),
            Condition(board, Operator.IS, "rider.board is skim", "skim"),
            Found("seen", False, "not found seen"),
        ),
        because="It is so.",
        source="a book",
        confidence=Confidence.CONTESTED,
        other_view="It is not so.",
        changes=(
            Change(Target.SPEED, "base", plain, "A whole rule"),
            Change(
                Target.CENTRE_PLATE,
                "add",
                Amount("topic.t", board, "$topic.t by rider.board"),
                "A whole rule",
            ),
            Change(
                Target.LEAN,
                "add",
                Amount("topic.c", mass, "$topic.c at rider.mass"),
                "A whole rule",
            ),
            Change(Target.SPEED, "at_least", plain, "A whole rule"),
            Change(Target.SPEED, "at_most", plain, "A whole rule"),
        ),
        verdict=Verdict.GO_WITH_CARE,
        cautions=(Caution(Severity.NOTE, "At {rider.mass} of {$topic.p}.", "Action."),),
        watch=(Watch("here", "that"),),
    )
    assert rule.facts == (mass, board)


@pytest.mark.parametrize(
    ("text", "operator", "value"),
    [
        ("rider.mass < 80", Operator.BELOW, 80.0),
        ("rider.mass <= 80.5", Operator.AT_MOST, 80.5),
        ("rider.mass > -3", Operator.ABOVE, -3.0),
        ("rider.mass >= $topic.p", Operator.AT_LEAST, 80.0),
        ("rider.board is surf", Operator.IS, "surf"),
        ("rider.board is not surf", Operator.IS_NOT, "surf"),
        ("water.depth is known", Operator.KNOWN, ""),
        ("water.depth is unknown", Operator.UNKNOWN, ""),
        ("load.ballast_counted is untold", Operator.IS, "untold"),
        ("boat.off_side_plate is no", Operator.IS, "no"),
    ],
)
def test_conditions(text: str, operator: Operator, value: float | str) -> None:
    (condition,) = one(when=[text]).when
    assert isinstance(condition, Condition)
    assert (condition.operator, condition.value, condition.text) == (operator, value, text)


def test_a_fact_compared_with_one_of_another_kind() -> None:
    rule = one(when=["load.people_mass > plan.water_mass"])
    (condition,) = rule.when
    assert isinstance(condition, Condition)
    assert condition.other == load().fields["plan"]["water_mass"]
    assert [field.path for field in rule.facts] == ["load.people_mass", "plan.water_mass"]


def test_what_was_found() -> None:
    rule = one(when=["found seen", "not found seen"])
    assert [(c.finding, c.wanted) for c in rule.when if isinstance(c, Found)] == [
        ("seen", True),
        ("seen", False),
    ]


@pytest.mark.parametrize(
    ("entries", "message"),
    [
        # the entries of a rule
        ({"wehn": []}, "topic.r0: unknown entry wehn"),
        ({"id": 3}, "topic.3: id is not text: 3"),
        ({"title": None}, "title is not text: None"),
        ({"because": ["x"]}, "because is not text"),
        ({"source": 1987}, "source is not text: 1987"),
        ({"stage": "later"}, "'later' is not a valid Stage"),
        ({"confidence": "sure"}, "'sure' is not a valid Confidence"),
        ({"verdict": "stay"}, "'stay' is not a valid Verdict"),
        ({"side": "left"}, "a side is port or starboard, not left"),
        # conditions
        ({"when": None}, "topic.r0: 'NoneType' object is not iterable"),
        ({"when": [True]}, "topic.r0: expected string"),
        ({"when": ["rider.mass"]}, "cannot read the condition 'rider.mass'"),
        ({"when": [""]}, "cannot read the condition ''"),
        ({"when": ["rider.mass = 80"]}, "cannot read the condition"),
        ({"when": ["Rider.mass < 80"]}, "cannot read the condition"),
        ({"when": ["moon.phase is full"]}, "no fact moon.phase"),
        ({"when": ["rider.weight < 80"]}, "no fact rider.weight"),
        ({"when": ["rider.board is wake"]}, "rider.board is one of skim, surf: 'rider.board is wa"),
        ({"when": ["rider.mass is 80"]}, "rider.mass is one of"),
        ({"when": ["rider.board < 80"]}, "rider.board is not a number"),
        ({"when": ["rider.mass is unknown"]}, "rider.mass is always known"),
        ({"when": ["rider.mass is known"]}, "rider.mass is always known"),
        ({"when": ["water.depth is known by all"]}, "water.depth is always known"),
        ({"when": ["rider.mass < heavy"]}, "could not convert string to float: 'heavy'"),
        ({"when": ["rider.mass < nan"]}, "nan is not a number"),
        ({"when": ["rider.mass < inf"]}, "inf is not a number"),
        ({"when": ["rider.mass < 1e12"]}, "is beyond 1000000000"),
        ({"when": ["rider.mass < $topic.q"]}, "no parameter topic.q"),
        ({"when": ["rider.mass < $topic.c"]}, "topic.c is not a plain number"),
        ({"when": ["rider.mass < rider.weight"]}, "no fact rider.weight"),
        ({"when": ["plan.water_mass < rider.board"]}, "compared with a number of another kind"),
        ({"when": ["load.people > load.persons_limit"]}, "compared with a number of another kind"),
        ({"when": ["found nothing"]}, "no rule finds nothing"),
        ({"when": ["not found nothing"]}, "no rule finds nothing"),
        ({"when": ["found what is seen"]}, "cannot read the condition"),
        # amounts
        ({"base": {"speed": "17"}}, "cannot read the amount '17'"),
        ({"base": {"speed": 17}}, "topic.r0: expected string"),
        ({"base": {"height": "$topic.p"}}, "'height' is not a valid Target"),
        ({"add": {"speed": "$topic.q"}}, "no parameter topic.q"),
        ({"add": {"speed": "$topic.c"}}, "topic.c is not a plain number"),
        ({"add": {"speed": "$topic.t"}}, "topic.t is not a plain number"),
        ({"add": {"speed": "$topic.c at rider.weight"}}, "no fact rider.weight"),
        ({"add": {"speed": "$topic.c at rider.board"}}, "'at' wants a curve and a number"),
        ({"add": {"speed": "$topic.p at rider.mass"}}, "'at' wants a curve and a number"),
        ({"add": {"speed": "$topic.t by rider.mass"}}, "'by' wants a table with a line for each"),
        ({"add": {"speed": "$topic.t by rider.level"}}, "'by' wants a table with a line for each"),
        ({"add": {"speed": "$topic.c by rider.board"}}, "'by' wants a table with a line for each"),
        ({"add": "$topic.p"}, "topic.r0: 'str' object has no attribute 'items'"),
        # cautions and what to watch for
        ({"caution": {"severity": "note", "text": "T"}}, "action is missing"),
        ({"caution": caution(severity="grave")}, "'grave' is not a valid Severity"),
        ({"caution": caution(text="{rider.weight}")}, "no fact rider.weight"),
        ({"caution": caution(action="{$topic.q}")}, "no parameter topic.q"),
        ({"caution": caution(text="{$topic.c}")}, "topic.c is not a plain number"),
        ({"caution": caution(text="{rider mass}")}, "cannot read a placeholder"),
        ({"caution": caution(text="{rider.mass}}")}, "cannot read a placeholder"),
        ({"cautions": [caution(), {"severity": "note"}]}, "text is missing"),
        ({"watch": {"look": "here"}}, "lever is missing"),
        ({"watch": {"look": "a", "b": None, "lever": "c"}}, "watch: wants look, lever; not ['b']"),
        ({"watch": {"look": "{rider.weight}", "lever": "b"}}, "no fact rider.weight"),
    ],
)
def test_what_a_rule_cannot_mean(entries: dict[str, Any], message: str) -> None:
    with pytest.raises(RuleError, match=r"^topic\.") as caught:
        one(**entries)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    "entry", ["id", "title", "stage", "when", "because", "source", "confidence"]
)
def test_what_a_rule_must_have(entry: str) -> None:
    document = topic({})
    del document["rules"][0][entry]
    with pytest.raises(RuleError, match=f"{entry} is missing"):
        read({"topic": document}, load().facts)


def test_one_or_several() -> None:
    rule = one(
        caution=caution(text="One."),
        cautions=[caution(text="Two."), caution(text="Three.")],
        watch=[{"look": "a", "lever": "b"}, {"look": "c", "lever": "d"}],
        add=[{"speed": "$topic.p"}, {"speed": "$topic.p", "lean": "$topic.p"}],
    )
    assert [c.text for c in rule.cautions] == ["One.", "Two.", "Three."]
    assert [w.look for w in rule.watch] == ["a", "c"]
    assert [c.target for c in rule.changes] == [Target.SPEED, Target.SPEED, Target.LEAN]


# -- parameters -------------------------------------------------------------------------------

RAW = {
    "says": "s", "unit": "kg", "value": 1, "source": "x", "confidence": "common", "change": "c",
}  # fmt: skip


@pytest.mark.parametrize(
    ("value", "parsed"),
    [
        (3, 3.0),
        (-0.5, -0.5),
        ([[0, 1], [2, 3]], ((0.0, 1.0), (2.0, 3.0))),
        ({"a": 1, "b": 2.5}, {"a": 1.0, "b": 2.5}),
    ],
)
def test_forms_of_a_parameter(value: Any, parsed: Any) -> None:
    parameter = read_parameter("t.p", RAW | {"value": value})
    assert parameter.value == parsed
    assert not parameter.local


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("12", "'12' is not a number"),
        (True, "True is not a number"),
        (None, "None is not a number"),
        (math.nan, "nan is not a number"),
        (math.inf, "inf is not a number"),
        (1e16, "beyond"),
        ([], "the points of a curve rise in x"),
        ([[1, 0], [1, 2]], "the points of a curve rise in x"),
        ([[2, 0], [1, 2]], "the points of a curve rise in x"),
        ([[1, 0, 3]], "too many values"),
        ([1, 2], "cannot unpack"),
        ([["1", 2]], "'1' is not a number"),
        ({"a": "b"}, "'b' is not a number"),
    ],
)
def test_values_that_no_parameter_can_have(value: Any, message: str) -> None:
    with pytest.raises(RuleError, match=r"^parameter t\.p: ") as caught:
        read_parameter("t.p", RAW | {"value": value})
    assert message in str(caught.value)


def test_a_parameter_wants_all_its_entries_and_no_other() -> None:
    for entry in RAW:
        raw = {k: v for k, v in RAW.items() if k != entry}
        with pytest.raises(RuleError, match=r"parameter t\.p: wants exactly change, confidence"):
            read_parameter("t.p", raw)
    with pytest.raises(RuleError, match="wants exactly"):
        read_parameter("t.p", RAW | {"sais": "s"})
    with pytest.raises(RuleError, match="'sure' is not a valid Confidence"):
        read_parameter("t.p", RAW | {"confidence": "sure"})


# -- facts ------------------------------------------------------------------------------------


def test_fields() -> None:
    number = {"type": "number", "quantity": "mass", "unit": "kg", "range": [0, 9], "says": "m"}
    fields = read_fields(
        {"load": {"mass": number | {"optional": True}, "kind": {"type": ["a", "b"], "says": "k"}}}
    )
    mass, kind = fields["load"]["mass"], fields["load"]["kind"]
    assert mass == Field("load", "mass", "m", (), "mass", "kg", 0.0, 9.0, optional=True)
    assert mass.is_number
    assert kind == Field("load", "kind", "k", ("a", "b"))
    assert (kind.path, kind.is_number, kind.optional) == ("load.kind", False, False)


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        ({"type": [True, False], "says": "s"}, "load.x: quote yes and no"),
        ({"type": ["a"]}, "load.x: wants type and says"),
        ({"says": "s"}, "load.x: wants type and says"),
        ({"type": ["a"], "says": "s", "optinal": True}, r"not \['optinal'\]"),
        ({"type": "number", "says": "s"}, "a number has a range"),
        ({"type": ["a"], "says": "s", "range": [0, 1]}, "a word has none"),
    ],
)
def test_facts_that_cannot_be_read(raw: dict[str, Any], message: str) -> None:
    with pytest.raises(RuleError, match=message):
        read_fields({"load": {"x": raw}})
