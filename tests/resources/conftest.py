"""Outfits of a test's own, each with a client that holds its key."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from importlib.resources import files
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.outfits import keys
from service.outfits.keys import Scope
from service.storage import Store
from service.storage.tables import Outfit

Caller = Callable[..., FlaskClient]
Book = Callable[..., TestResponse]

USUAL = 84  # kg, 46 CFR 170.090 (185 lb); the rule base's own default
START = "2025-07-05T10:00:00+02:00"
RIDER = {"mass": 82, "stance": "goofy", "board": "skim", "level": "intermediate"}


@pytest.fixture
def store(app: Flask) -> Store:
    found: Store = app.extensions["store"]
    return found


@pytest.fixture
def caller(app: Flask, store: Store) -> Caller:
    """Makes a client with a key: of a new outfit, unless one is named; with all scopes."""

    def make(outfit: str | None = None, *scopes: Scope) -> FlaskClient:
        with store.writing() as session:
            if outfit is None:
                outfit = f"outfit-{secrets.token_hex(4)}"
                session.add(Outfit(id=outfit, name="An invented outfit"))
                session.flush()
            _, token = keys.issue(session, outfit, "test", scopes or Scope)
        client = app.test_client()
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
        return client

    return make


@pytest.fixture
def mine(caller: Caller) -> FlaskClient:
    """A client of a new outfit."""
    return caller()


@pytest.fixture
def particulars() -> dict[str, Any]:
    """A boat as it is sent, without an id."""
    path = files("service.boats") / "demo" / "demo-7m.json"
    boat: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    del boat["id"]
    return boat


@pytest.fixture
def boat(mine: FlaskClient, particulars: dict[str, Any]) -> str:
    """The id of a boat of that outfit."""
    return str(mine.post("/v1/boats", json=particulars).get_json()["id"])


@pytest.fixture
def rider(mine: FlaskClient) -> str:
    """The id of a rider of that outfit."""
    sent = {"name": "Ada", "mass": "82 kg", "stance": "goofy", "level": "intermediate"}
    return str(mine.post("/v1/riders", json=sent).get_json()["id"])


@pytest.fixture
def fleet_of_two(mine: FlaskClient, particulars: dict[str, Any]) -> dict[str, Any]:
    """A boat whose load limit counts 1,300 L of ballast, and a larger one."""
    small = {**particulars, "id": "small", "name": "Small"}
    small["limits"] = {"persons": 12, "load_mass": 2166, "includes_ballast": True}
    large = {**particulars, "id": "large", "name": "Large", "length_overall": 7.4}
    large["limits"] = {"persons": 16, "load_mass": 3000, "includes_ballast": True}
    for boat in (small, large):
        assert mine.post("/v1/boats", json=boat).status_code == 201
    return {"small": small, "large": large}


@pytest.fixture
def book(mine: FlaskClient, fleet_of_two: dict[str, Any]) -> Book:
    def put(reference: str = "r1", client: FlaskClient = mine, **changes: Any) -> TestResponse:
        body = {"start": START, "duration": "2 h", "party": 6, "riders": [RIDER], **changes}
        return client.put(f"/v1/bookings/{reference}", json=body)

    return put
