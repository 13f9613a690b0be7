"""The specification is valid and says what the service does."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from openapi_spec_validator import OpenAPIV31SpecValidator


def specification(client: FlaskClient) -> dict[str, Any]:
    response = client.get("/openapi.json")
    assert response.status_code == 200
    document: dict[str, Any] = response.get_json()
    return document


@pytest.mark.parametrize("which", ["app", "probe_app"])
def test_it_is_valid_openapi_31(which: str, request: pytest.FixtureRequest) -> None:
    app: Flask = request.getfixturevalue(which)
    document = specification(app.test_client())
    assert document["openapi"] == "3.1.0"
    OpenAPIV31SpecValidator(document).validate()


def test_errors_are_documented_as_problems(probe_client: FlaskClient) -> None:
    responses = specification(probe_client)["components"]["responses"]
    assert {"UNPROCESSABLE_ENTITY", "DEFAULT_ERROR"} <= set(responses)
    for response in responses.values():
        assert list(response["content"]) == ["application/problem+json"]


def test_answers_are_not(probe_client: FlaskClient) -> None:
    page = specification(probe_client)["paths"]["/healthz"]["get"]
    assert list(page["responses"]["200"]["content"]) == ["application/json"]


def test_quantities_say_their_range_in_both_systems(probe_client: FlaskClient) -> None:
    schemas = specification(probe_client)["components"]["schemas"]
    mass = schemas["Rider"]["properties"]["mass"]
    assert mass["description"] == "Body mass. (15 to 200 kg / 33.07 to 440.92 lb)"
    assert mass["type"] == ["number", "string", "null"]


def test_a_boat_is_an_id_or_an_object_and_a_crew_a_count_or_a_list(
    probe_client: FlaskClient,
) -> None:
    properties = specification(probe_client)["components"]["schemas"]["AdviceRequest"]["properties"]
    assert properties["boat"]["oneOf"] == [
        {"type": "string"},
        {"$ref": "#/components/schemas/Boat"},
    ]
    count, people, nothing = properties["crew"]["oneOf"]
    assert (count["type"], count["minimum"], count["maximum"]) == ("integer", 0, 60)
    assert people["items"] == {"$ref": "#/components/schemas/Person"}
    assert nothing == {"type": "null"}


def test_a_point_is_a_pair(probe_client: FlaskClient) -> None:
    point = specification(probe_client)["components"]["schemas"]["Station"]["properties"]["points"]
    assert len(point["items"]["prefixItems"]) == 2
    assert (point["items"]["minItems"], point["items"]["maxItems"]) == (2, 2)


def test_what_is_not_known_is_not_allowed(probe_client: FlaskClient) -> None:
    schemas = specification(probe_client)["components"]["schemas"]
    for name in ("AdviceRequest", "Boat", "Hull", "Person", "Rider", "Tank", "Water"):
        assert schemas[name]["additionalProperties"] is False


def test_what_minds_if_match_minds_if_none_match(client: FlaskClient) -> None:
    """RFC 9110, 13.1.2: a write, too."""
    named = [
        {parameter["name"] for parameter in operation.get("parameters", ())}
        for path in specification(client)["paths"].values()
        for operation in path.values()
        if isinstance(operation, dict)
    ]
    conditional = [names for names in named if "If-Match" in names]
    assert conditional
    assert all("If-None-Match" in names for names in conditional)
