"""What the card says to look for is what the tuning does first, by the same step."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

import rules
from rules.tuning import TuningBase
from tests.advice.requests_made import BOATS

LOOKS = {
    "too_steep": "too steep or pitching over",
    "long_and_low": "long and low, without shape",
    "too_little_push": "clean, but too little push",
    "white_crest": "white water along the crest, the face still clean",
    "wrong_side": "the wave on the wrong side",
}
PLATES: list[tuple[str, ...]] = [("centre", "port", "starboard"), ("centre",), ()]


@pytest.mark.parametrize("topic", ["speed", "centre_plate", "off_side_plate"])
def test_the_step_is_one_and_the_same(base: TuningBase, topic: str) -> None:
    name = "speed" if topic == "speed" else "plates"
    table = base.rules.parameters[f"tuning_{name}.step"].value
    assert isinstance(table, dict)
    assert rules.load().number(f"{topic}.step") == table["clear"]


@pytest.mark.parametrize("fitted", PLATES)
@pytest.mark.parametrize("level", ["first_time", "beginner", "intermediate"])
@pytest.mark.parametrize("sign", LOOKS)
def test_the_card_names_what_the_tuning_moves_first(
    client: FlaskClient, fitted: tuple[str, ...], level: str, sign: str
) -> None:
    boat: dict[str, Any] = copy.deepcopy(BOATS["demo-7m"])
    boat["plates"] = {name: boat["plates"][name] for name in fitted}
    body = {
        "boat": boat, "crew": 6, "water": {"depth": 9},
        "rider": {"mass": 82, "stance": "regular", "board": "surf", "level": level},
    }  # fmt: skip
    watched = {
        w["look"]: w["lever"] for w in client.post("/v1/advice", json=body).get_json()["watch_for"]
    }
    first = client.post("/v1/tuning", json=body | {"seen": [{"sign": sign}]}).get_json()["change"]
    lever = watched[LOOKS[sign]]
    words = {
        "faster": "0.6 km/h faster", "slower": "0.6 km/h slower",
        "centre_plate_up": "centre plate up 15 %", "centre_plate_down": "centre plate down 15 %",
        "off_side_plate_down": "off-side plate down 15 %",
        "to_surf_side": "weight to the surf side",
    }[first["move"]]  # fmt: skip
    lever = lever.removeprefix("surf-side plate all the way up; if already up, ")  # advice: up
    assert lever.startswith((words, f"more {words}"))
    for name in {"centre", "off-side", "surf-side"} if not fitted else set():
        assert f"{name} plate" not in " ".join(watched.values())
