"""Content negotiation (RFC 9110, 12.5.1)."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient


@pytest.mark.parametrize(
    ("accept", "gets"),
    [
        (None, "application/json"),
        ("*/*", "application/json"),
        ("application/*", "application/json"),
        ("text/plain", "text/plain"),
        ("text/*", "text/plain"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html"),
        ("image/svg+xml", "image/svg+xml"),
        ("text/plain;q=0.5, application/json;q=0.4", "text/plain"),
        ("application/problem+json, text/plain", "text/plain"),
        ("application/json; charset=utf-8", "application/json"),
        ("application/json;charset=UTF-8, text/plain;q=0.5", "application/json"),
        ("text/html; charset=utf-8; q=0.3, application/json; profile=x; q=0.2", "text/html"),
        ("application/json; charset=utf-8; q=0, text/plain", "text/plain"),
    ],
)
def test_the_form_asked_for_is_given(
    probe_client: FlaskClient, accept: str | None, gets: str
) -> None:
    response = probe_client.get("/probe/card", headers={"Accept": accept} if accept else {})
    assert response.status_code == 200
    assert response.mimetype == gets
    assert "Accept" in response.vary


@pytest.mark.parametrize(
    "accept", ["application/xml", "image/png, text/csv", "audio/*", "nonsense"]
)
def test_a_form_that_is_not_offered_is_a_406_with_those_that_are(
    probe_client: FlaskClient, accept: str
) -> None:
    response = probe_client.get("/probe/card", headers={"Accept": accept})
    assert response.status_code == 406
    assert response.mimetype == "application/problem+json"
    detail = response.get_json(force=True)["detail"]
    assert "application/json, text/plain, text/html, image/svg+xml" in detail


@pytest.mark.parametrize("address", ["/healthz", "/readyz", "/openapi.json"])
def test_a_view_that_offers_nothing_else_offers_json(client: FlaskClient, address: str) -> None:
    assert client.get(address, headers={"Accept": "text/html"}).status_code == 406
    assert client.get(address).mimetype == "application/json"


def test_a_refused_form_comes_before_a_refused_body(probe_client: FlaskClient) -> None:
    response = probe_client.post(
        "/probe/advice", data=b"{", headers={"Accept": "text/html"}, content_type="application/json"
    )
    assert response.status_code == 406
