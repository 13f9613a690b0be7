"""The cases in ``rules/cases``, asked through HTTP. How to add one: its ``README.md``."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from rules import RuleBase, examples
from rules.files import read_yaml
from service import create_app
from tests.rules.conftest import client_of

FOLDER = examples.FOLDER
ENTRIES = {
    "name", "source", "input", "outfit", "kept", "expect", "fired", "not_fired", "cautions",
}  # fmt: skip
OWN = {"outfit", "kept"}
"""What a case may want beside its input."""


def cases() -> Iterator[Any]:
    for path in sorted(FOLDER.glob("*.yaml")):
        for case in read_yaml(path)["cases"]:
            marks = [pytest.mark.keeps] if "kept" in case else []
            yield pytest.param(case, id=f"{path.stem}: {case.get('name', 'no name')}", marks=marks)


CASES = list(cases())


@pytest.fixture(scope="module")
def asked() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


@pytest.mark.parametrize("case", CASES)
def test_case(case: dict[str, Any], asked: FlaskClient, base: RuleBase, tmp_path: Path) -> None:
    assert {"name", "source", "input"} <= set(case) <= ENTRIES
    with client_of(case, tmp_path) if OWN & set(case) else nullcontext(asked) as client:
        response = client.post("/v1/advice", json=case["input"])
    answer = response.get_json()
    assert response.status_code == 200, answer
    for path, wanted in case.get("expect", {}).items():
        check(path, at(answer, path), wanted)
    fired = {reason["rule"] for reason in answer["reasons"]}
    named = {*case.get("fired", ()), *case.get("not_fired", ())}
    assert named <= set(base.rules), f"no such rule: {named - set(base.rules)}"
    assert set(case.get("fired", ())) <= fired, sorted(fired)
    assert not set(case.get("not_fired", ())) & fired, sorted(fired)
    said = [f"{c['severity']}: {c['text']} {c['action']}" for c in answer["cautions"]]
    for caution in case.get("cautions", ()):
        assert any(caution in text for text in said), said


def at(answer: Any, path: str) -> Any:
    """The value at ``path``: keys with slashes between; in a list, a place or an entry's name."""
    for key in path.split("/"):
        if isinstance(answer, list) and not key.lstrip("-").isdigit():
            answer = next(entry for entry in answer if key in map(str, entry.values()))
        elif isinstance(answer, list):
            answer = answer[int(key)]
        else:
            answer = answer[key]
    return answer


def check(path: str, found: Any, wanted: Any) -> None:
    """A value is equal; a number may be given ``within`` a margin, ``at_least`` or ``at_most``."""
    if not isinstance(wanted, dict):
        assert found == wanted, path
        return
    assert wanted, path
    assert set(wanted) <= {"value", "within", "at_least", "at_most"}, path
    if "value" in wanted:
        assert abs(found - wanted["value"]) <= wanted["within"], (path, found)
    assert found >= wanted.get("at_least", found), (path, found)
    assert found <= wanted.get("at_most", found), (path, found)


def test_there_are_enough_cases() -> None:
    assert len(CASES) >= 80
    names = [case.values[0]["name"] for case in CASES]
    assert len(set(names)) == len(names)
    assert all(len(name.split()) >= 4 and name.endswith(".") for name in names)


def test_every_rule_fires_in_a_case_and_stays_silent_in_another(base: RuleBase) -> None:
    every = [case.values[0] for case in CASES]
    fired = {rule for case in every for rule in case.get("fired", ())}
    silent = {rule for case in every for rule in case.get("not_fired", ())}
    assert sorted(set(base.rules) - fired) == []
    conditional = {rule.id for rule in base.rules.values() if rule.when}
    assert sorted(conditional - silent) == []


@pytest.mark.parametrize(
    ("found", "wanted"),
    [(1, 2), (1.0, {"value": 1.2, "within": 0.1}), (1, {"at_least": 2}), (3, {"at_most": 2})],
)
def test_a_wrong_value_fails_its_case(found: Any, wanted: Any) -> None:
    with pytest.raises(AssertionError):
        check("here", found, wanted)


def test_values_are_found_by_path() -> None:
    answer = {"a": [{"tank": "bow", "fill": 90}, {"tank": "x.y", "fill": 5}], "b": {"c": None}}
    assert at(answer, "a/bow/fill") == 90
    assert at(answer, "a/x.y/fill") == 5
    assert at(answer, "a/-1/fill") == 5
    assert at(answer, "b/c") is None
