"""Metrics, read back with Prometheus' own parser of its text format."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from service import create_app
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from tests.outings.boats import body
from tests.production.server import SMALLEST


def values(client: FlaskClient) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    answer = client.get("/metrics")
    assert answer.mimetype == "text/plain"
    families = text_string_to_metric_families(answer.text)
    return {(s.name, frozenset(s.labels.items())): s.value for f in families for s in f.samples}


def change(
    app: Flask, path: str, body: object, method: str = "POST", key: str = ""
) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    """What one request adds."""
    client = app.test_client()
    before = values(client)
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    answer = client.open(path, method=method, json=body, headers=headers)
    assert answer.status_code in (200, 201), answer.text
    after = values(client)
    return {key: value - before.get(key, 0.0) for key, value in after.items()}


def grown(
    added: dict[tuple[str, frozenset[tuple[str, str]]], float], name: str
) -> list[tuple[dict[str, str], float]]:
    """The series of one figure that a request added to."""
    return [(dict(key[1]), by) for key, by in added.items() if key[0] == name and by]


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


def test_a_change_on_the_water_is_counted_with_its_rules(client: FlaskClient, app: Flask) -> None:
    asked = {**SMALLEST, "seen": [{"sign": "white_crest", "strength": "clear"}]}
    answer = client.post("/v1/tuning", json=asked).get_json()
    assert answer["action"] == "change"
    added = change(app, "/v1/tuning", asked)
    ((labels_, by),) = grown(added, "wavesetup_tuning_actions_total")
    assert (labels_["action"], by) == ("change", 1)
    assert labels_["move"] != "none"
    fired = {found["rule"] for found, _ in grown(added, "wavesetup_rule_firings_total")}
    assert fired == {reason["rule"] for reason in answer["reasons"]}
    assert fired
    assert added["wavesetup_equilibrium_iterations_count", labels()] == 1


def test_an_outing_counts_its_verdict_and_each_set_up(client: FlaskClient, app: Flask) -> None:
    asked = body(3)
    answer = client.post("/v1/outing-plans", json=asked).get_json()
    added = change(app, "/v1/outing-plans", asked)
    verdict = labels(route="/v1/outing-plans", verdict=answer["verdict"])
    assert added["wavesetup_verdicts_total", verdict] == 1
    assert added["wavesetup_solver_rounds_count", labels()] == 3
    assert added["wavesetup_equilibrium_iterations_count", labels()] == 3
    assert added["wavesetup_outing_gap_percent_bucket", labels(le="0.0")] == 1
    fired = {found["rule"]: by for found, by in grown(added, "wavesetup_rule_firings_total")}
    cautions = {rule for turn in answer["turns"] for rule in turn["cautions"]}
    assert cautions <= set(fired)
    assert max(fired.values()) == 3


@pytest.mark.keeps
def test_a_booking_is_counted_by_its_answer_and_its_sheet_as_advice(app: Flask) -> None:
    with app.extensions["store"].writing() as session:
        _, key = keys.issue(session, DEMO, "metrics", [Scope.READ, Scope.WRITE])
    rider = {"mass": 82, "stance": "goofy", "board": "skim", "level": "intermediate"}
    asked = {"start": "2031-07-05T10:00:00+02:00", "duration": "2 h", "party": 6, "riders": [rider]}
    path = "/v1/bookings/counted"
    added = change(app, path, asked, "PUT", key)
    assert grown(added, "wavesetup_bookings_total") == [({"fits": "yes", "reason": "none"}, 1)]
    added = change(app, path, {**asked, "party": 40}, "PUT", key)
    assert grown(added, "wavesetup_bookings_total") == [({"fits": "no", "reason": "persons"}, 1)]
    change(app, path, asked, "PUT", key)
    added = change(app, f"{path}/sheet", None, "GET", key)
    ((found, by),) = grown(added, "wavesetup_verdicts_total")
    assert (found["route"], by) == ("/v1/bookings/<reference>/sheet", 1)
    assert added["wavesetup_solver_rounds_count", labels()] == 1


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
