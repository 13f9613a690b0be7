"""Every answer is of the shape that the specification gives."""

from __future__ import annotations

from typing import Any

import jsonschema
import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings

from tests.advice.requests_made import bodies

LOADINGS: list[dict[str, Any]] = [
    {"boat": "demo-7m", "crew": 0},
    {"boat": "demo-6m", "crew": 60, "units": "us"},
    {"boat": "demo-8m", "crew": 4, "angles": [0, 10]},
    {"boat": "demo-7m", "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 5}] * 2},
    {"boat": "demo-7m", "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 1}] * 20},
]


def checked(specification: dict[str, Any], path: str, method: str, answer: Any) -> None:
    response = specification["paths"][path][method]["responses"]["200"]
    schema = response["content"]["application/json"]["schema"] | {
        "components": specification["components"]
    }
    jsonschema.Draft202012Validator(schema).validate(answer)


@pytest.fixture
def specification(client: FlaskClient) -> dict[str, Any]:
    answer: Any = client.get("/openapi.json").json
    found: dict[str, Any] = answer
    return found


@settings(
    max_examples=30, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(body=bodies(inline=True))
def test_advice_is_of_its_shape(
    client: FlaskClient, specification: dict[str, Any], body: dict[str, Any]
) -> None:
    answer = client.post("/v1/advice", json=body).json
    checked(specification, "/v1/advice", "post", answer)


@pytest.mark.parametrize("body", LOADINGS)
def test_a_loading_is_of_its_shape(
    client: FlaskClient, specification: dict[str, Any], body: dict[str, Any]
) -> None:
    answer = client.post("/v1/loading", json=body).json
    checked(specification, "/v1/loading", "post", answer)


def test_the_shape_is_closed_so_that_nothing_goes_out_undocumented(
    client: FlaskClient, specification: dict[str, Any]
) -> None:
    documented = specification["components"]["schemas"]
    answer: Any = client.post("/v1/advice", json={"boat": "demo-7m", "rider": {"stance": "goofy"}})
    assert set(answer.json) == set(documented["AdviceAnswer"]["properties"])
    rest = answer.json["predicted"]["at_rest"]
    assert set(rest) == set(documented["AtRest"]["properties"])
    loading: Any = client.post("/v1/loading", json={"boat": "demo-7m"}).json
    assert set(loading) == set(documented["LoadingAnswer"]["properties"])


def test_rules_are_of_their_shape(client: FlaskClient, specification: dict[str, Any]) -> None:
    every: Any = client.get("/v1/rules").json
    checked(specification, "/v1/rules", "get", every)
    for topic in every["topics"]:
        for rule in topic["rules"]:
            one = client.get(f"/v1/rules/{rule['id']}").json
            checked(specification, "/v1/rules/{rule_id}", "get", one)
