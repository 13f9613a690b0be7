"""Every request inside the documented ranges gets a verdict and a whole set-up.

WAVESETUP_TEST_RULE_REQUESTS sets how many requests are made, for a long run.
"""

from __future__ import annotations

import os
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings

from rules import RuleBase, load
from rules.model import Verdict
from service import create_app
from service.boats.model import Side
from tests.advice.requests_made import BOATS, OTHER
from tests.rules.asked import requests

REQUESTS = int(os.environ.get("WAVESETUP_TEST_RULE_REQUESTS", "60"))
KILOMETRES = {"metric": 1.0, "us": 1.609344}
"""1 mile is 1609.344 m, exactly."""


@pytest.fixture(scope="module")
def asked() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


@settings(
    max_examples=REQUESTS, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.large_base_example],
)  # fmt: skip
@given(sent=requests())
def test_every_request_gets_a_verdict_and_a_whole_setup(
    asked: FlaskClient, sent: dict[str, Any]
) -> None:
    response = asked.post("/v1/advice", json=sent)
    assert response.status_code == 200, response.get_json(force=True)
    answer = response.get_json()
    assert answer["verdict"] in list(Verdict)
    boat = sent["boat"] if isinstance(sent["boat"], dict) else BOATS[sent["boat"]]
    check_whole(answer["setup"], boat, sent, load())


def check_whole(
    setup: dict[str, Any], boat: dict[str, Any], sent: dict[str, Any], base: RuleBase
) -> None:
    assert setup["surf_side"] in list(Side)
    assert setup["surf_side"] == sent.get("surf_side", setup["surf_side"])
    speed = setup["speed"] * KILOMETRES[sent["units"]]
    assert base.number("speed.least") - 0.01 <= speed <= base.number("speed.most") + 0.01
    _check_plates(setup, boat, base)
    fills = {tank["tank"]: tank["fill"] for tank in setup["tanks"]}
    assert set(fills) == {tank["id"] for tank in boat["tanks"]}
    for tank in boat["tanks"]:
        assert 0 <= fills[tank["id"]] <= tank.get("max_fill", 100)
    crew = sent.get("crew", int(base.number("defaults.crew")))
    aboard = crew if isinstance(crew, int) else len(crew)
    assert sum(group["people"] for group in setup["seating"]) == aboard


def _check_plates(setup: dict[str, Any], boat: dict[str, Any], base: RuleBase) -> None:
    """A number for each plate there is, in its range; the one on the surf side stays up."""
    plates, side = setup["plates"], setup["surf_side"]
    assert {name for name, value in plates.items() if value is not None} == set(boat["plates"])
    ranges = {
        "centre": [base.number(f"centre_plate.{end}") for end in ("least", "most")],
        OTHER[side]: [base.number(f"off_side_plate.{end}") for end in ("least", "most")],
        side: [base.number("off_side_plate.surf_side")] * 2,
    }
    for name in boat["plates"]:
        low, high = ranges[name]
        assert low <= plates[name] <= high, name


def test_a_setup_with_a_hole_is_seen(asked: FlaskClient, base: RuleBase) -> None:
    sent = {"units": "metric", "boat": "demo-7m", "crew": 5, "rider": {"stance": "goofy"}}
    setup = asked.post("/v1/advice", json=sent).get_json()["setup"]
    check_whole(setup, BOATS["demo-7m"], sent, base)
    for hole in (
        {"tanks": setup["tanks"][1:]}, {"seating": setup["seating"][1:]}, {"speed": 15.9},
        {"plates": setup["plates"] | {"centre": None}}, {"surf_side": "port"},
    ):  # fmt: skip
        with pytest.raises(AssertionError):
            check_whole(setup | hole, BOATS["demo-7m"], sent, base)
