"""Whom a change of seats is for: its figures hold for these people only."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from schemas.tuning_history import entries
from service.advice.tuning.requests import Did, PastChange
from tests.tuning.conftest import RIDER, Ask, seen

SEATS = [("helm", 84), ("observer", 84), ("bench-starboard", 50), ("bench-starboard", 120)]
NAMES = ["Ann", "Ben", "Kim", "Lee"]


def crew(*people: tuple[str, float], names: list[str] | None = None) -> list[dict[str, Any]]:
    listed = [{"mass": f"{mass} kg", "seat": seat} for seat, mass in people]
    return [
        person | ({} if names is None else {"name": names[number]})
        for number, person in enumerate(listed)
    ]


def case(**members: Any) -> dict[str, Any]:
    tanks = {"aft-port": 50, "aft-starboard": 50}
    return {
        "crew": crew(*SEATS, names=NAMES), "rider": RIDER, "water": {"depth": "10 m"},
        "settings": {"tanks": tanks}, "seen": seen("white_crest"),
    } | members  # fmt: skip


def of_people(answer: dict[str, Any]) -> dict[str, Any]:
    changes: list[dict[str, Any]] = [answer["change"], *answer["alternatives"]]
    return next(change for change in changes if change["lever"] == "people")


@pytest.mark.parametrize("names", [NAMES, None])
def test_who_moves_is_named(ask: Ask, names: list[str] | None) -> None:
    change = of_people(ask(**case(crew=crew(*SEATS, names=names))))
    (number,) = change["persons"]
    who = names[number - 1] if names else f"person {number}"
    origin, goal = change["from"], change["to"]
    assert change["text"] == f"Stop, then {who} from {origin} to {goal}."
    assert change["undo"] == f"Stop, then {who} back from {goal} to {origin}."
    # The figures are those of the one named.
    now = [(goal, mass) if n == number else (seat, mass) for n, (seat, mass) in enumerate(SEATS, 1)]
    after = ask(**case(crew=crew(*now, names=names)))["change"]
    assert after["predicted"]["heel"]["before"] == change["predicted"]["heel"]["after"]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_whoever_moved_is_put_back(ask: Ask, units: str) -> None:
    """And not a lighter one who sat there before; without numbers it is the lightest as ever."""
    now = crew(("helm", 84), ("observer", 84), ("observer", 50), ("bench-starboard", 120))
    past = {"lever": "people", "from": "bench-starboard", "to": "observer", "did": "worse"}
    texts = [
        ask(**case(units=units, crew=now, history=[past | told]))["change"]["text"]
        for told in ({}, {"persons": [2]}, {"persons": [3], "masses": [84]})
    ]
    assert texts == [
        f"Put it back: stop, then person {number} from observer to bench-starboard."
        for number in (3, 2, 3)
    ]


def test_several_are_named(ask: Ask) -> None:
    now = crew(("helm", 84), *(("bench-port", mass) for mass in (50, 60, 60)))
    past = {"lever": "people", "from": "stern", "to": "bench-port", "did": "worse", "people": 3}
    change = ask(**case(crew=now, history=[past]))["change"]
    assert "person 2, person 3 and person 4 from bench-port to stern" in change["text"]
    assert change["persons"] == [2, 3, 4]


def test_the_change_can_be_sent_back_and_kept(client: FlaskClient, ask: Ask) -> None:
    for units in ("metric", "us"):
        change = of_people(ask(**case(units=units)))
        ask(**case(units=units, history=[change | {"did": "same"}]))
    (kept,) = entries([PastChange("people", "stern", "observer", Did.SAME, persons=(3, 4))])
    assert kept["persons"] == [3, 4]
    ask(**case(units="us", history=[copy.deepcopy(kept)]))
    for persons in (["much"], [0], 30, [5]):
        body = {"boat": "demo-7m"} | case(history=[kept | {"persons": persons}])
        (fault,) = client.post("/v1/tuning", json=body).get_json()["errors"]
        assert fault["pointer"].startswith("/history/0/persons")
