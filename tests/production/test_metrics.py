"""Metrics, read back with Prometheus' own parser of its text format."""

from __future__ import annotations

from flask import Flask
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from service import create_app
from tests.production.server import SMALLEST


def values(client: FlaskClient) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    answer = client.get("/metrics")
    assert answer.mimetype == "text/plain"
    families = text_string_to_metric_families(answer.text)
    return {(s.name, frozenset(s.labels.items())): s.value for f in families for s in f.samples}


def change(
    app: Flask, path: str, body: object
) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    """What one request adds."""
    client = app.test_client()
    before = values(client)
    client.post(path, json=body)
    after = values(client)
    return {key: value - before.get(key, 0.0) for key, value in after.items()}


def labels(**pairs: str) -> frozenset[tuple[str, str]]:
    return frozenset(pairs.items())


def test_a_request_is_counted_by_its_pattern(client: FlaskClient, app: Flask) -> None:
    added = change(app, "/v1/advice", SMALLEST)
    where = {"method": "POST", "route": "/v1/advice", "status": "200"}
    assert added["wavesetup_request_seconds_count", labels(**where)] == 1
    assert 0.0 < added["wavesetup_request_seconds_sum", labels(**where)] < 10.0


def test_what_rules_and_solver_did_is_counted(client: FlaskClient, app: Flask) -> None:
    answer = client.post("/v1/advice", json=SMALLEST).get_json()
    added = change(app, "/v1/advice", SMALLEST)
    fired = {
        dict(key[1])["rule"]: value
        for key, value in added.items()
        if key[0] == "wavesetup_rule_firings_total" and value
    }
    assert sum(fired.values()) == len(answer["reasons"])
    assert set(fired) == {reason["rule"] for reason in answer["reasons"]}
    verdict = labels(route="/v1/advice", verdict=answer["verdict"])
    assert added["wavesetup_verdicts_total", verdict] == 1
    assert added["wavesetup_solver_rounds_count", labels()] == 1
    assert added["wavesetup_solver_rounds_sum", labels()] >= 1
    assert added["wavesetup_equilibrium_iterations_sum", labels()] >= 1


def test_a_loading_has_a_verdict_too(app: Flask) -> None:
    added = change(app, "/v1/loading", {"boat": "demo-7m", "crew": 4})
    verdicts = {
        dict(key[1])["route"]: value
        for key, value in added.items()
        if key[0] == "wavesetup_verdicts_total" and value
    }
    assert verdicts == {"/v1/loading": 1}


def test_addresses_and_methods_make_no_series_of_their_own() -> None:
    client = create_app({"PROPAGATE_EXCEPTIONS": False}).test_client()
    client.get("/v1/rules/goofy_surfs_starboard")
    client.open("/v1/rules", method="BREW")
    client.get("/nowhere/at/all")
    routes = {dict(key[1]).get("route") for key in values(client)}
    methods = {dict(key[1]).get("method") for key in values(client)}
    assert {"/v1/rules/<rule_id>", "none"} <= routes
    assert not any("goofy" in str(route) or route == "/nowhere/at/all" for route in routes)
    assert "other" in methods
    assert "BREW" not in methods


def test_an_unready_service_still_tells(client: FlaskClient) -> None:
    """``/metrics`` needs neither key nor store."""
    closed = create_app({"OPEN": False}).test_client()
    assert closed.get("/v1/rules").status_code == 401
    assert closed.get("/metrics").status_code == 200
