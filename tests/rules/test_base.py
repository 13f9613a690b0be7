"""The rule base as a whole: what it refuses, its hash, and local values."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from rules import RuleBase, base, load
from rules.base import read
from rules.model import Condition, Stage
from rules.reading import RuleError
from tests.rules.conftest import shipped, small, topic


def test_the_shipped_rule_base_loads_once() -> None:
    assert load() is load()
    assert len(load().topics) == len(list(Path(base.FOLDER).glob("*.yaml"))) - 1


def test_rules_come_by_stage_then_topic_then_as_written() -> None:
    rules = list(load().rules.values())
    stages = list(Stage)
    assert rules == sorted(rules, key=lambda r: (stages.index(r.stage), r.topic))
    for name, document in load().documents.items():
        for stage in Stage:
            written = [r["id"] for r in document.get("rules") or () if r["stage"] == stage]
            assert [r.id for r in rules if r.topic == name and r.stage is stage] == [
                f"{name}.{short}" for short in written
            ]


# -- refusals ---------------------------------------------------------------------------------


def test_two_rules_of_one_name() -> None:
    with pytest.raises(RuleError, match=r"two rules are called topic\.same"):
        small({"id": "same"}, {"id": "other"}, {"id": "same"})


@pytest.mark.parametrize("stage", ["need", "loading"])
def test_a_denied_finding_must_be_sought_before(stage: str) -> None:
    finder = {"stage": stage, "finds": "x"}
    with pytest.raises(RuleError, match=r"topic\.r0: 'not found x'"):
        small({"stage": "need", "when": ["not found x"]}, finder)
    small({"stage": "base", "when": ["not found x"]}, finder)


def test_a_finding_must_not_be_sought_later() -> None:
    wanting = {"stage": "need", "when": ["found x"]}
    with pytest.raises(RuleError, match=r"topic\.r0: 'found x' is sought in a later stage"):
        small(wanting, {"stage": "need", "finds": "x"}, {"stage": "base", "finds": "x"})
    small(wanting, {"stage": "need", "finds": "x"}, {"stage": "limits", "finds": "x"})


@pytest.mark.parametrize("change", [{"title": None}, {"rule": []}, {"about": None}])
def test_a_topic_has_its_entries_and_no_other(change: dict[str, Any]) -> None:
    document = {k: v for k, v in (topic({}) | change).items() if v is not None}
    with pytest.raises(RuleError, match="topic t: wants title and about, parameters and rules"):
        read({"t": document}, load().facts)


def test_a_topic_may_have_no_rules_or_no_parameters() -> None:
    bare = read({"t": {"title": "T", "about": "A"}}, load().facts)
    assert (dict(bare.rules), dict(bare.parameters)) == ({}, {})


def test_a_refusal_names_file_and_rule() -> None:
    def misspell(documents: dict[str, Any]) -> None:
        documents["speed"]["rules"][0]["stage"] = "bass"

    with pytest.raises(RuleError, match=r"^speed\.start: 'bass'"):
        shipped(misspell)


# -- hash -------------------------------------------------------------------------------------


def test_the_hash_does_not_depend_on_the_order_of_loading() -> None:
    turned = dict(reversed(list(load().documents.items())))
    deep = {name: dict(reversed(list(document.items()))) for name, document in turned.items()}
    again = read(deep, dict(reversed(list(load().facts.items()))))
    assert again.hash == load().hash
    assert list(again.rules) == list(load().rules), "equal hashes mean equal order of rules"


def test_the_hash_changes_with_every_piece_of_content() -> None:
    def reason(documents: dict[str, Any]) -> None:
        documents["law"]["rules"][0]["because"] += " Truly."

    def threshold(documents: dict[str, Any]) -> None:
        documents["depth"]["parameters"]["weak"]["value"] += 0.1

    def order(documents: dict[str, Any]) -> None:
        documents["depth"]["rules"].reverse()

    def source(documents: dict[str, Any]) -> None:
        documents["depth"]["parameters"]["weak"]["source"] = "elsewhere"

    hashes = {shipped(change).hash for change in (reason, threshold, order, source)}
    facts = copy.deepcopy(dict(load().facts))
    facts["rider"]["mass"]["says"] = "how heavy"
    hashes.add(read(load().documents, facts).hash)
    assert len(hashes | {load().hash}) == 6
    assert shipped(lambda _: None).hash == load().hash


# -- local values -----------------------------------------------------------------------------


def test_local_values_reach_rules_and_are_marked() -> None:
    local = load().with_values({"depth.weak": 5, "speed.by_load": [[0, 0], [1000, 1.5]]})
    weak, by_load = local.parameters["depth.weak"], local.parameters["speed.by_load"]
    assert (weak.value, weak.local, weak.source) == (5.0, True, "local value")
    assert by_load.value == ((0.0, 0.0), (1000.0, 1.5))
    assert weak.unit == "m"
    condition = local.rules["depth.shallow"].when[0]
    assert isinstance(condition, Condition)
    assert condition.value == 5.0
    assert {p.name for p in local.parameters.values() if p.local} == {
        "depth.weak",
        "speed.by_load",
    }


def test_local_values_leave_the_original_alone() -> None:
    before = (load().hash, load().number("depth.weak"))
    local = load().with_values({"depth.weak": 5})
    assert (load().hash, load().number("depth.weak")) == before
    assert local.hash != load().hash
    assert not any(p.local for p in load().parameters.values())


def test_local_values_upon_local_values() -> None:
    both = load().with_values({"depth.weak": 5}).with_values({"speed.start": 17.0})
    assert {p.name for p in both.parameters.values() if p.local} == {"depth.weak", "speed.start"}
    assert both.number("depth.weak") == 5.0
    again = load().with_values({"speed.start": 17.0}).with_values({"depth.weak": 5})
    assert again.hash == both.hash


def test_no_local_values_at_all() -> None:
    assert load().with_values({}).hash == load().hash


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("depth.deep", 5, "no such parameter: depth.deep"),
        ("deep.weak", 5, "no such parameter: deep.weak"),
        ("weak", 5, "no such parameter: weak"),
        ("", 5, "no such parameter: "),
        ("depth.weak", [[0, 0]], "depth.weak: a local value takes the form of the original"),
        ("speed.by_load", 3, "takes the form of the original"),
        ("centre_plate.by_board", [[0, 0]], "takes the form of the original"),
        ("centre_plate.by_board", {"skim": 1}, "'by' wants a table with a line for each word"),
        ("centre_plate.by_board", {"skim": 1, "surf": 2, "x": 3}, "'by' wants a table"),
        ("depth.weak", "5", "'5' is not a number"),
        ("depth.weak", True, "True is not a number"),
        ("depth.weak", float("nan"), "nan is not a number"),
        ("speed.by_load", [[1, 0], [0, 0]], "rise in x"),
    ],
)
def test_local_values_that_do_not_fit(name: str, value: object, message: str) -> None:
    with pytest.raises(RuleError) as caught:
        load().with_values({name: value})
    assert message in str(caught.value)


def test_a_number_is_asked_by_name() -> None:
    plain: RuleBase = small({}, p=3, c=[[0, 0]])
    assert plain.number("topic.p") == 3.0
    with pytest.raises(TypeError, match=r"topic\.c is not a plain number"):
        plain.number("topic.c")


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("attitude.freeboard_stop", 0.1, "would loosen"),
        ("attitude.lean_stop", 20, "would loosen"),
        ("depth.weak", 1.0, "would loosen"),
        ("speed.most", 25, "not for local change"),
        ("depth.transcritical", 0.9, "not for local change"),
    ],
)
def test_a_safety_line_is_only_tightened_by_local_values(
    name: str, value: float, says: str
) -> None:
    with pytest.raises(RuleError, match=says):
        load().with_values({name: value})


LOOSER = {
    "driver_age": -1, "driver_mass": -1, "observer_age": -1, "observer_mass": -1, "adult_age": -1,
    "child_age": -1, "child_mass": -1, "beside_child": 1, "bow_mass": 1,
}  # fmt: skip
"""Which way each line for people is loosened; ``mirror_allowed`` is for the law to say."""


def test_every_line_for_people_is_tried_to_be_loosened() -> None:
    names = {name for name in load().parameters if name.startswith("crew.")}
    assert names == {f"crew.{name}" for name in (*LOOSER, "mirror_allowed")}


@pytest.mark.parametrize("name", LOOSER)
@pytest.mark.parametrize("by", [0.001, 0.5, 100.0])
def test_no_line_for_people_is_loosened_by_local_values(name: str, by: float) -> None:
    value = load().number(f"crew.{name}") + LOOSER[name] * by
    with pytest.raises(RuleError, match=r"would loosen|not for local change"):
        load().with_values({f"crew.{name}": value})
    with pytest.raises(RuleError):  # nor by way of values that were tightened before
        load().with_values({"crew.driver_age": 18}).with_values({f"crew.{name}": value})


def test_lines_for_people_are_tightened_by_local_values() -> None:
    own = load().with_values(
        {"crew.driver_age": 18, "crew.observer_mass": 50, "crew.bow_mass": 200}
    )
    assert own.number("crew.driver_age") == 18
    assert own.number("crew.observer_mass") == 50
    assert own.number("crew.bow_mass") == 200


@pytest.mark.parametrize(
    "name", ["fuel.low", "shore.nearest", "seating.child_apart", "seating.bow_worry"]
)
def test_other_lines_of_safety_are_not_loosened_either(name: str) -> None:
    with pytest.raises(RuleError, match=r"would loosen|not for local change"):
        load().with_values({name: load().number(name) / 2})


def test_a_tighter_safety_line_is_taken() -> None:
    own = load().with_values({"attitude.freeboard_stop": 0.3, "attitude.lean_stop": 9})
    assert own.number("attitude.freeboard_stop") == 0.3
    assert own.number("attitude.lean_stop") == 9
