"""An outfit of its own with one boat, over HTTP."""

from __future__ import annotations

import json
import secrets
from importlib.resources import files

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api.stored import the_store
from service.outfits import keys
from service.outfits.keys import Scope
from service.storage.tables import Outfit


@pytest.fixture
def mine(app: Flask) -> FlaskClient:
    """A client of an outfit of this test's own."""
    with app.app_context(), the_store().writing() as session:
        outfit = f"outfit-{secrets.token_hex(4)}"
        session.add(Outfit(id=outfit, name="An invented outfit"))
        session.flush()
        _, token = keys.issue(session, outfit, "test", Scope)
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    return client


@pytest.fixture
def boat(mine: FlaskClient) -> str:
    sent = json.loads((files("service.boats") / "demo" / "demo-7m.json").read_text("utf-8"))
    sent["id"] = "hers"
    assert mine.post("/v1/boats", json=sent).status_code == 201
    return "hers"
