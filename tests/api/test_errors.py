"""Every error is a problem as of RFC 9457."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from service.api import errors


def test_an_unknown_address(client: FlaskClient) -> None:
    response = client.get("/v1/nothing")
    assert response.status_code == 404
    assert response.mimetype == "application/problem+json"
    answer = response.get_json(force=True)
    assert answer["type"] == "about:blank"
    assert answer["title"] == "Not Found"
    assert answer["instance"] == "/v1/nothing"
    assert answer["detail"] == "There is nothing at this address; see /docs."


def test_the_instance_is_a_uri_reference_whatever_was_asked(client: FlaskClient) -> None:
    response = client.get("/v1/%25%C3%AD%1D%20x;y=1")
    assert response.status_code == 404
    assert response.get_json(force=True)["instance"] == "/v1/%25%C3%AD%1D%20x;y=1"


def test_a_wrong_method_keeps_its_allow_header(client: FlaskClient) -> None:
    response = client.delete("/healthz")
    assert response.status_code == 405
    assert response.mimetype == "application/problem+json"
    assert {"GET", "HEAD"} <= {method.strip() for method in response.headers["Allow"].split(",")}
    assert response.headers.getlist("Content-Type") == ["application/problem+json"]
    told = client.get("/v1/advice").get_json(force=True)["detail"]
    assert told == "GET is not for this address; it takes: OPTIONS, POST."


def test_a_body_that_is_too_long_is_told_the_bound(client: FlaskClient) -> None:
    response = client.post("/v1/advice", data=b" " * 1_100_000, content_type="application/json")
    assert response.status_code == 413
    assert response.get_json(force=True)["detail"] == "The body is longer than 1048576 bytes."


@pytest.mark.parametrize("address", ["/probe/broken", "/probe/nan"])
def test_a_fault_of_ours_is_a_500_that_tells_nothing(
    probe_client: FlaskClient, address: str
) -> None:
    response = probe_client.get(address)
    assert response.status_code == 500
    assert response.mimetype == "application/problem+json"
    assert "secret" not in response.text
    assert "NaN" not in response.text


def test_an_unknown_boat_is_a_404_with_the_known_ones(probe_client: FlaskClient) -> None:
    response = probe_client.post(
        "/probe/advice", json={"boat": "no-such-boat", "crew": 8, "rider": {"stance": "goofy"}}
    )
    assert response.status_code == 404
    answer = response.get_json(force=True)
    assert answer["type"] == errors.UNKNOWN_BOAT
    assert "no-such-boat" in answer["detail"]
    assert "demo-6m, demo-7m, demo-8m" in answer["detail"]


def test_invalid_input_names_every_fault_by_pointer(probe_client: FlaskClient) -> None:
    response = probe_client.post(
        "/probe/advice",
        json={
            "boat": "demo-7m",
            "crew": [{"mass": 80}, {"mass": "82 km"}, {"seat": "roof"}],
            "ballast": {"a/b~c": 10, "aft-port": 120},
            "rider": {"board": "door", "colour": "red"},
        },
    )
    assert response.status_code == 422
    answer = response.get_json(force=True)
    assert answer["type"] == errors.INVALID_INPUT
    found = {fault["pointer"]: fault["detail"] for fault in answer["errors"]}
    assert set(found) == {
        "/crew/1/mass",
        "/crew/2/seat",
        "/ballast/a~1b~0c",
        "/ballast/aft-port",
        "/rider/board",
        "/rider/colour",
        "/rider/stance",
    }
    assert "82 km" in found["/crew/1/mass"]
    assert "3 to 250 kg" in found["/crew/1/mass"]
    assert "110%" in found["/ballast/aft-port"]


def test_a_fault_in_a_query_names_the_parameter(probe_client: FlaskClient) -> None:
    response = probe_client.get("/probe/page?page=x")
    assert response.status_code == 422
    (fault,) = response.get_json(force=True)["errors"]
    assert fault["parameter"] == "page"


POINTERS = [  # RFC 6901, section 5: the keys of its example document and their pointers
    ("foo", "/foo"),
    ("a/b", "/a~1b"),
    ("c%d", "/c%d"),
    ("e^f", "/e^f"),
    ("g|h", "/g|h"),
    ("i\\j", "/i\\j"),
    ('k"l', '/k"l'),
    (" ", "/ "),
    ("m~n", "/m~0n"),
]


@pytest.mark.parametrize(("name", "pointer"), POINTERS)
def test_pointers_are_escaped_as_in_rfc_6901(name: str, pointer: str) -> None:
    assert list(errors.faults({name: ["wrong"]})) == [(pointer, "wrong")]


def test_messages_about_the_whole_point_at_the_whole() -> None:
    tree = {"boat": {"hull": {"_schema": ["bad"]}, "tanks": {2: {"id": ["twice", "long"]}}}}
    assert list(errors.faults(tree)) == [
        ("/boat/hull", "bad"),
        ("/boat/tanks/2/id", "twice"),
        ("/boat/tanks/2/id", "long"),
    ]


def _resolve(document: object, pointer: str) -> object:
    """RFC 6901, section 4, written apart from what it tests."""
    for token in pointer.split("/")[1:]:
        name = token.replace("~1", "/").replace("~0", "~")
        assert isinstance(document, dict)
        document = document[name]
    return document


@given(st.lists(st.text().filter(lambda name: name != "_schema"), min_size=1, max_size=4))
def test_every_pointer_leads_to_its_message(path: list[str]) -> None:
    tree: object = ["wrong"]
    for name in reversed(path):
        tree = {name: tree}
    ((pointer, _),) = errors.faults(tree)
    assert _resolve(tree, pointer) == ["wrong"]


def test_of_very_many_faults_the_first_are_told_and_how_many_there_are(client: FlaskClient) -> None:
    empty: list[dict[str, Any]] = [{}] * 500
    answer = client.post("/v1/loading", json={"boat": "demo-7m", "crew": [], "loads": empty})
    problem: Any = answer.get_json()
    assert answer.status_code == 422
    assert len(problem["errors"]) == errors.MOST_FAULTS
    more = int(problem["detail"].rpartition("and ")[2].split()[0])
    assert more + 1 >= 500
    assert len(answer.data) < 50_000
