"""Operations."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

import rules


def test_it_lives(client: FlaskClient) -> None:
    assert client.get("/healthz").get_json() == {"status": "ok"}


def test_it_is_ready(client: FlaskClient) -> None:
    assert client.get("/readyz").get_json() == {"status": "ready"}


def test_without_rules_it_lives_and_is_not_ready(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> None:
        raise ValueError("a rule without a reason")

    monkeypatch.setattr(rules, "load", fail)
    response = client.get("/readyz")
    assert response.status_code == 503
    assert response.mimetype == "application/problem+json"
    assert client.get("/healthz").status_code == 200
