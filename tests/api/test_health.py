"""Operations."""

from __future__ import annotations

import sys

import pytest
from flask.testing import FlaskClient


def test_it_lives(client: FlaskClient) -> None:
    assert client.get("/healthz").get_json() == {"status": "ok"}


def test_it_is_ready(client: FlaskClient) -> None:
    assert client.get("/readyz").get_json() == {"status": "ready"}


def test_without_rules_it_lives_and_is_not_ready(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "rules", None)  # makes the import fail
    response = client.get("/readyz")
    assert response.status_code == 503
    assert response.mimetype == "application/problem+json"
    assert client.get("/healthz").status_code == 200
