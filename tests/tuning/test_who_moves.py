"""Whom a change of seats is for: its figures hold for these people only."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from schemas.tuning_history import entries
from service.advice.tuning.requests import Did, PastChange
from tests.tuning.conftest import RIDER, Ask, seen

SEATS = [("helm", 84), ("observer", 84), ("bench-starboard", 30), ("bench-starboard", 120)]


def crew(*people: tuple[str, float]) -> list[dict[str, Any]]:
    return [{"mass": f"{mass} kg", "seat": seat} for seat, mass in people]


def case(**members: Any) -> dict[str, Any]:
    tanks = {"aft-port": 50, "aft-starboard": 50}
    return {
        "crew": crew(*SEATS), "rider": RIDER, "water": {"depth": "10 m"},
        "settings": {"tanks": tanks}, "seen": seen("white_crest"),
    } | members  # fmt: skip


def of_people(answer: dict[str, Any]) -> dict[str, Any]:
    changes: list[dict[str, Any]] = [answer["change"], *answer["alternatives"]]
    return next(change for change in changes if change["lever"] == "people")


@pytest.mark.parametrize(
    ("units", "mass", "text"), [("metric", 30, "30 kg"), ("us", 66.1, "66 lb")]
)
def test_who_moves_is_told_by_mass_where_those_on_the_seat_differ(
    ask: Ask, units: str, mass: float, text: str
) -> None:
    change = of_people(ask(**case(units=units)))
    assert (change["people"], change["masses"]) == (1, [mass])
    assert change["text"] == f"Stop, then 1 of {text} from bench-starboard to observer."
    assert change["undo"] == f"Stop, then 1 of {text} back from observer to bench-starboard."
    # The figures are those of the one named.
    moved = [("observer", m) if m == 30 else (seat, m) for seat, m in SEATS]
    after = ask(**case(crew=crew(*moved), units=units))["change"]
    assert after["predicted"]["heel"]["before"] == change["predicted"]["heel"]["after"]


def test_those_who_are_alike_are_only_counted(ask: Ask) -> None:
    alike = crew(*((s, 80) for s in ("helm", "bow-port", "bow-starboard", "observer")))
    change = of_people(ask(crew=alike, seen=seen("wandering")))
    assert change["text"].startswith("Stop, then 1 person from ")
    assert change["undo"].startswith("Stop, then back from ")
    assert change["masses"] == [80]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_whoever_moved_is_put_back(ask: Ask, units: str) -> None:
    """And not a lighter one who sat there before; without masses it is the lightest as ever."""
    now = crew(("helm", 84), ("observer", 84), ("observer", 30), ("bench-starboard", 120))
    past = {"lever": "people", "from": "bench-starboard", "to": "observer", "did": "worse"}
    texts = [
        ask(**case(units=units, crew=now, history=[past | told]))["change"]["text"]
        for told in ({}, {"masses": ["84 kg"]}, {"masses": [84 if units == "metric" else 185.2]})
    ]
    light, heavy = {"metric": ("30 kg", "84 kg"), "us": ("66 lb", "185 lb")}[units]
    assert texts == [
        f"Put it back: stop, then 1 of {mass} from observer to bench-starboard."
        for mass in (light, heavy, heavy)
    ]


def test_several_are_told_by_their_masses(ask: Ask) -> None:
    now = crew(("helm", 84), *(("bench-port", mass) for mass in (30, 60, 60)))
    past = {"lever": "people", "from": "stern", "to": "bench-port", "did": "worse", "people": 3}
    change = ask(**case(crew=now, history=[past]))["change"]
    assert "1 of 30 kg and 2 of 60 kg from bench-port to stern" in change["text"]
    assert change["masses"] == [30, 60, 60]


def test_the_change_can_be_sent_back_and_kept(client: FlaskClient, ask: Ask) -> None:
    for units in ("metric", "us"):
        change = of_people(ask(**case(units=units)))
        ask(**case(units=units, history=[change | {"did": "same"}]))
    (kept,) = entries(
        [PastChange("people", "stern", "observer", Did.SAME, masses=(30.0, 29.937096))]
    )
    assert kept["masses"] == ["30.0 kg", "29.937096 kg"]
    ask(**case(units="us", history=[copy.deepcopy(kept)]))
    for masses in (["much"], [0], 30):
        body = {"boat": "demo-7m"} | case(history=[kept | {"masses": masses}])
        (fault,) = client.post("/v1/tuning", json=body).get_json()["errors"]
        assert fault["pointer"].startswith("/history/0/masses")
