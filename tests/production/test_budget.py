"""A request that hangs is a 503, whatever it hangs in."""

from __future__ import annotations

import time

import pytest
from flask import Flask

from rules.engine import EngineError
from service import create_app
from tests.production.server import SMALLEST


def hanging(**settings: object) -> Flask:
    app = create_app({"PROPAGATE_EXCEPTIONS": False, "LOG_LEVEL": "error", **settings})

    @app.get("/hang")
    def hang() -> str:
        while True:
            pass

    @app.get("/wrapped")
    def wrapped() -> str:
        try:
            time.sleep(60.0)
        except Exception as error:
            raise EngineError("something broke") from error
        return ""

    return app


@pytest.mark.parametrize("path", ["/hang", "/wrapped"])
def test_it_is_given_up(path: str) -> None:
    client = hanging(BUDGET=0.5).test_client()
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200
    begun = time.perf_counter()
    answer = client.get(path)
    assert time.perf_counter() - begun < 2.0
    assert answer.status_code == 503
    assert answer.mimetype == "application/problem+json"
    assert answer.headers["Retry-After"] == "10"
    # And the worker goes on.
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200


def test_the_next_request_has_its_own() -> None:
    client = hanging(BUDGET=0.3).test_client()
    for _ in range(4):
        assert client.get("/healthz").status_code == 200
        time.sleep(0.1)
    time.sleep(0.3)  # nothing rings after the last one


@pytest.mark.parametrize("budget", [-1, "long"])
def test_a_budget_that_is_none_is_refused(budget: object) -> None:
    with pytest.raises(ValueError, match="WAVESETUP_BUDGET"):
        create_app({"BUDGET": budget})
