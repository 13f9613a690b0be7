"""More or less water in several tanks: what is said can be carried out, and be undone."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.advice.requests_made import OTHER, swapped
from tests.tuning.conftest import RIDER, Ask, seen

FULL = {"aft-port": 100, "mid-port": 100, "bow": 100, "aft-starboard": 90, "mid-starboard": 90}
UNEVEN = {"aft-port": 20, "aft-starboard": 10, "mid-port": 30, "mid-starboard": 40, "bow": 5}
OVER = {"aft-port": 110, "mid-port": 100, "bow": 100, "aft-starboard": 100, "mid-starboard": 100}


def case(side: str, tanks: dict[str, int], sign: str) -> dict[str, Any]:
    """As told for a wave to port; to starboard everything is mirrored."""
    port = side == "port"
    off = "starboard" if port else "port"
    plates = [("plates.centre", 57, 42), (f"plates.{off}", 72, 87)]
    return {
        "boat": "demo-7m",
        "crew": 6,
        "rider": RIDER | {"stance": "regular" if port else "goofy"},
        "water": {"depth": 10},
        "settings": {
            "surf_side": side,
            "plates": {"centre": 42, side: 0, off: 87},
            "tanks": tanks if port else {swapped(tank): fill for tank, fill in tanks.items()},
        },
        "seen": seen(sign),
        # Both plates were tried, so that water is asked for.
        "history": [
            {"lever": lever, "from": before, "to": after, "did": "same"}
            for lever, before, after in plates
        ],
    }


def of_tanks(answer: dict[str, Any]) -> dict[str, Any]:
    changes: list[dict[str, Any]] = [answer["change"], *answer["alternatives"]]
    return next(change for change in changes if change["lever"] == "tanks")


@pytest.mark.parametrize("side", ["port", "starboard"])
def test_full_tanks_on_one_side_hold_those_of_the_other_back(ask: Ask, side: str) -> None:
    change = of_tanks(ask(**case(side, FULL, "too_little_push")))
    off = OTHER[side]
    # The tanks aft take a tenth more than they hold; amidships the surf side is full.
    assert change["tanks"] == [
        {"tank": f"aft-{off}", "from": 90, "to": 100},
        {"tank": f"aft-{side}", "from": 100, "to": 110},
    ]
    assert change["text"] == f"More water: aft-{off} 90 % to 100 %, aft-{side} 100 % to 110 %."
    assert change["undo"] == f"Back to aft-{off} 90 %, aft-{side} 100 %."
    assert abs(change["predicted"]["heel"]["change"]) < 0.1


@pytest.mark.parametrize("side", ["port", "starboard"])
@pytest.mark.parametrize(("sign", "fills"), [("rolls_over", OVER), ("too_little_push", UNEVEN)])
def test_of_two_tanks_that_mirror_each_other_both_change_by_the_same(
    ask: Ask, side: str, sign: str, fills: dict[str, int]
) -> None:
    tanks = of_tanks(ask(**case(side, fills, sign)))["tanks"]
    steps = {tank["tank"]: tank["to"] - tank["from"] for tank in tanks}
    assert len(steps) == len(UNEVEN)
    assert all(steps[swapped(tank)] == step for tank, step in steps.items())


def test_the_card_names_every_tank_there_and_back(client: FlaskClient) -> None:
    body = case("port", UNEVEN, "too_little_push")
    answer = client.post("/v1/tuning", json=body).get_json()
    assert answer["change"]["lever"] == "tanks"
    card = client.post("/v1/tuning", json=body, headers={"Accept": "text/plain"}).text
    do, _, undo = (" ".join(part.split()) for part in card.replace("UNDO IF", "LOOK").split("LOOK"))
    for tank in answer["change"]["tanks"]:
        assert f"{tank['tank']} {tank['from']:.0f} % to {tank['to']:.0f} %" in do
        assert f"{tank['tank']} {tank['from']:.0f} %" in undo


@pytest.mark.parametrize(
    ("did", "text"),
    [
        ("worse", "Put it back: aft-starboard 100 % to 90 %, aft-port 100 % to 80 %."),
        ("reversed", "Half way back: aft-starboard 100 % to 95 %, aft-port 100 % to 90 %."),
    ],
)
def test_what_is_put_back_is_named_and_the_other_tanks_stay(ask: Ask, did: str, text: str) -> None:
    now = {"aft-port": 100, "aft-starboard": 100, "mid-port": 62.5, "mid-starboard": 62.5}
    before = [{"tank": "aft-port", "from": 80}, {"tank": "aft-starboard", "from": 90}]
    past = {"lever": "tanks", "from": 60, "to": 70, "did": did, "tanks": before}
    answer = ask(settings={"tanks": now}, seen=seen("rolls_over"), history=[past])
    assert answer["change"]["text"] == text
