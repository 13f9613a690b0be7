"""Requests to the tuning over HTTP, in a few words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from rules.tuning import TuningBase, load

Ask = Callable[..., dict[str, Any]]

RIDER = {"mass": "82 kg", "stance": "regular", "board": "surf", "level": "intermediate"}


@pytest.fixture(scope="session")
def base() -> TuningBase:
    return load()


@pytest.fixture
def ask(client: FlaskClient) -> Ask:
    """The answer to a request; what is left out is a crew of six on the 7 m demo boat."""

    def asked(**members: Any) -> dict[str, Any]:
        body = {"boat": "demo-7m", "crew": 6, "rider": RIDER} | members
        response = client.post("/v1/tuning", json=body)
        assert response.status_code == 200, response.json
        answer: dict[str, Any] = response.get_json()
        return answer

    return asked


def seen(*names: str, strength: str = "clear") -> list[dict[str, str]]:
    return [{"sign": name, "strength": strength} for name in names]
