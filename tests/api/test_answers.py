"""Every answer is of the shape that the specification gives."""

from __future__ import annotations

from typing import Any

import jsonschema
import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings

from rules import tuning as on_the_water
from tests.advice.requests_made import bodies

LOADINGS: list[dict[str, Any]] = [
    {"boat": "demo-7m", "crew": 0},
    {"boat": "demo-6m", "crew": 60, "units": "us"},
    {"boat": "demo-8m", "crew": 4, "angles": [0, 10]},
    {"boat": "demo-7m", "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 5}] * 2},
    {"boat": "demo-7m", "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 1}] * 20},
]


class Specification:
    """The OpenAPI document; a class of its own, whose ``repr`` is short."""

    def __init__(self, client: FlaskClient) -> None:
        self.document: Any = client.get("/openapi.json").json

    def hold(self, path: str, method: str, answer: Any) -> None:
        """Fails unless the answer is of the shape documented for this operation."""
        response = self.document["paths"][path][method]["responses"]["200"]
        schema = response["content"]["application/json"]["schema"] | {
            "components": self.document["components"]
        }
        jsonschema.Draft202012Validator(schema).validate(answer)

    def members(self, schema: str) -> set[str]:
        return set(self.document["components"]["schemas"][schema]["properties"])


@pytest.fixture
def specification(client: FlaskClient) -> Specification:
    return Specification(client)


@settings(
    max_examples=30, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(body=bodies(inline=True))
def test_advice_is_of_its_shape(
    client: FlaskClient, specification: Specification, body: dict[str, Any]
) -> None:
    answer = client.post("/v1/advice", json=body).json
    specification.hold("/v1/advice", "post", answer)


@pytest.mark.parametrize("body", LOADINGS)
def test_a_loading_is_of_its_shape(
    client: FlaskClient, specification: Specification, body: dict[str, Any]
) -> None:
    answer = client.post("/v1/loading", json=body).json
    specification.hold("/v1/loading", "post", answer)


def test_the_shape_is_closed_so_that_nothing_goes_out_undocumented(
    client: FlaskClient, specification: Specification
) -> None:
    answer: Any = client.post("/v1/advice", json={"boat": "demo-7m", "rider": {"stance": "goofy"}})
    assert set(answer.json) | {"trace"} == specification.members("AdviceAnswer")
    rest = answer.json["predicted"]["at_rest"]
    assert set(rest) == specification.members("AtRest")
    loading: Any = client.post("/v1/loading", json={"boat": "demo-7m"}).json
    assert set(loading) | {"stability"} == specification.members("LoadingAnswer")


def test_rules_are_of_their_shape(client: FlaskClient, specification: Specification) -> None:
    every: Any = client.get("/v1/rules").json
    specification.hold("/v1/rules", "get", every)
    for topic in (*every["topics"], *every["tuning"]["topics"]):
        for rule in topic["rules"]:
            one = client.get(f"/v1/rules/{rule['id']}").json
            specification.hold("/v1/rules/{rule_id}", "get", one)


def test_the_tuning_s_rules_and_levers_are_shown_as_the_others(client: FlaskClient) -> None:
    every: Any = client.get("/v1/rules").json
    tuning = on_the_water.load()
    shown = {rule["id"]: rule for topic in every["tuning"]["topics"] for rule in topic["rules"]}
    assert set(shown) == set(tuning.rules.rules)
    assert not set(shown) & {rule["id"] for topic in every["topics"] for rule in topic["rules"]}
    crest = shown["tuning_speed.crest"]
    assert crest["condition"] == ["seen.white_crest is not none"]
    assert crest["effect"]["proposes"] == [{"move": "faster", "turn": "first"}]
    assert shown["tuning_session.washed_out"]["effect"]["asks"].startswith("Which of the two")
    levers = {lever["id"]: lever for lever in every["tuning"]["levers"]}
    assert list(levers) == list(tuning.levers)
    # Common practice: faster is a longer and cleaner wave, less steep, with less push.
    assert levers["speed"]["does"] == {
        "height": -0.5, "length": 1, "steepness": -1, "push": -1, "cleanness": 1,
    }  # fmt: skip
    assert all(lever["source"] and lever["confidence"] for lever in levers.values())
    assert (
        every["rule_set"]["tuning"]
        == client.get("/v1/tuning/signs").get_json()["rule_set"]["tuning"]
    )


def test_every_rule_behind_a_change_on_the_water_can_be_looked_up(client: FlaskClient) -> None:
    body = {
        "boat": "demo-7m",
        "rider": {"stance": "goofy"},
        "seen": ["too_steep", "water_over_bow"],
    }
    answer: Any = client.post("/v1/tuning", json=body).json
    named = {entry["rule"] for entry in (*answer["reasons"], *answer["cautions"])}
    assert any(rule.startswith("tuning_") for rule in named)
    for rule in named:
        assert client.get(f"/v1/rules/{rule}").get_json()["id"] == rule
