"""What every test may ask for."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient

from schemas.fleet import demo_fleet
from service import create_app
from service.boats.fleet import Fleet


@pytest.fixture(scope="session")
def fleet() -> Fleet:
    """The demo fleet."""
    return demo_fleet()


@pytest.fixture
def app() -> Flask:
    """The application as it is shipped."""
    return create_app({"TESTING": True})


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client of that application."""
    return app.test_client()
