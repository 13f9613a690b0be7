"""Hulls that are valid and no wedge: every endpoint answers, without an estimate under way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient

from service.advice.under_way import planing_form
from service.hydrostatics.hull import Hull
from service.running.planing import PlaningCase
from tests.advice.requests_made import BOATS
from tests.outings.boats import riders

INWARD_AND_DOWN = [[0, 0], [0.55, 0.5], [0.28, 0.49], [0.6, 0.95], [1.15, 1.4]]
RIDER = {"mass": 80, "stance": "goofy"}
REQUESTS: dict[str, dict[str, Any]] = {
    "/v1/advice": {"rider": RIDER},
    "/v1/loading": {},
    "/v1/outing-plans": {"riders": riders(2), "total_time": "1 h"},
    "/v1/tuning": {
        "rider": RIDER,
        "seen": ["faded"],
        "settings": {"surf_side": "starboard", "speed": 17},
    },
}


@pytest.fixture
def boat() -> dict[str, Any]:
    stations = [{"x": x, "points": INWARD_AND_DOWN} for x in (0, 2, 4, 6)]
    return {**BOATS["demo-7m"], "hull": {"stations": stations}}


@pytest.mark.parametrize("address", REQUESTS)
def test_bottom_that_turns_inward_is_answered(
    client: FlaskClient, boat: dict[str, Any], address: str
) -> None:
    sent = {"boat": boat, "crew": 3, **REQUESTS[address]}
    answer = client.post(address, json=sent)
    assert answer.status_code == 200, answer.get_data(as_text=True)


def test_bottom_that_turns_inward_gets_no_estimate_and_is_told_so(
    client: FlaskClient, boat: dict[str, Any]
) -> None:
    sent = {"boat": boat, "crew": 3, **REQUESTS["/v1/advice"]}
    under_way = client.post("/v1/advice", json=sent).get_json()["predicted"]["under_way"]
    assert under_way["trim"] is None
    assert "no planing bottom" in under_way["note"]


def test_every_valid_section_is_of_the_method_s_form_or_of_none() -> None:
    chance, tried = np.random.default_rng(11), 0
    while tried < 300:
        out = chance.uniform(0.2, 1.0)
        chine = (out, out * chance.uniform(0.0, 1.0))
        inside = (out * chance.uniform(0.0, 1.2), chine[1] * chance.uniform(0.5, 1.2))
        section = [(0.0, 0.0), chine, inside, (1.2, 1.4)]
        try:
            hull = Hull.from_stations([(x, section) for x in (0.0, 6.0)])
        except ValueError:
            continue
        tried += 1
        if form := planing_form(hull):
            PlaningCase(
                mass=2000, lcg=2.5, vcg=0.7, beam=form[0], deadrise=form[1], speed=5, density=1000
            )
