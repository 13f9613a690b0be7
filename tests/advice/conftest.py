"""A client of the service, and the smallest useful request."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

import service

Ask = Callable[..., dict[str, Any]]

SMALLEST: dict[str, Any] = {
    "boat": "demo-7m",
    "crew": 8,
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"},
}


@pytest.fixture(scope="session")
def client() -> Any:
    return service.create_app({"TESTING": True}).test_client()


@pytest.fixture(scope="session")
def ask(client: Any) -> Ask:
    """Asks for advice: the smallest request with changes; ``rider`` members are merged."""

    def asked(**changes: Any) -> dict[str, Any]:
        body = copy.deepcopy(SMALLEST)
        body["rider"] |= changes.pop("rider", {})
        response = client.post("/v1/advice", json=body | changes)
        assert response.status_code == 200, response.get_data(as_text=True)
        answer: dict[str, Any] = response.json
        return answer

    return asked
