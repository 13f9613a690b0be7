"""What each lever does in the advice as it is given: more of this never means less of that."""

from __future__ import annotations

import copy
import itertools
from collections.abc import Sequence
from typing import Any

import pytest
from flask.testing import FlaskClient

from rules import load
from service import create_app
from tests.advice.requests_made import BOATS

FACTS = load().fields["rider"]
LEVELS, BOARDS = FACTS["level"].words, FACTS["board"].words


@pytest.fixture(scope="module")
def asked() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


def plates(client: FlaskClient, boat: Any, crew: Any, **rider: Any) -> dict[str, float]:
    """The plates for a goofy rider, whose off side is port."""
    sent = {"boat": boat, "crew": crew, "rider": {"stance": "goofy", **rider}}
    response = client.post("/v1/advice", json=sent)
    assert response.status_code == 200, response.get_json(force=True)
    found: dict[str, float] = response.get_json()["setup"]["plates"]
    return found


def rises(values: Sequence[float]) -> bool:
    return all(a <= b for a, b in itertools.pairwise(values)) and values[0] < values[-1]


@pytest.mark.parametrize("board", BOARDS)
def test_the_centre_plate_never_goes_down_for_a_heavier_or_better_rider(
    asked: FlaskClient, board: str
) -> None:
    masses = (35, 55, 75, 95, 115)
    grid = [
        [plates(asked, "demo-7m", 3, mass=mass, level=level, board=board)["centre"]
         for mass in masses]
        for level in LEVELS
    ]  # fmt: skip
    for line in (*grid, *zip(*grid, strict=True)):
        assert rises(line[::-1]), line


@pytest.mark.parametrize("boat", sorted(BOATS))
def test_the_off_side_plate_never_goes_up_for_more_people(asked: FlaskClient, boat: str) -> None:
    people = range(1, BOATS[boat]["limits"]["persons"])
    assert rises([plates(asked, boat, count)["port"] for count in people])
    masses = range(40, 141, 10)
    assert rises([plates(asked, boat, [{"mass": m} for m in (84, 84, m)])["port"] for m in masses])


def test_the_off_side_plate_never_goes_up_for_more_water(asked: FlaskClient) -> None:
    """Water is what a limit that counts it leaves room for, up to full tanks and beyond."""
    boat = copy.deepcopy(BOATS["demo-7m"])
    found = []
    for room in range(350, 1751, 100):
        boat["limits"] = {"persons": 16, "load_mass": room, "includes_ballast": True}
        found.append(plates(asked, boat, 3)["port"])
    assert rises(found), found
    extra = [plates(asked, "demo-7m", 3, mass=mass)["port"] for mass in range(100, 131, 5)]
    assert rises(extra), extra
