"""Who sits where on a booking's sheet."""

from __future__ import annotations

from typing import Any

from schemas.booking_sheet import seated

UNITS = {"mass": "kg"}


def test_people_are_told_by_seat_and_those_without_one_too() -> None:
    groups: list[dict[str, Any]] = [
        {"people": 2, "mass": 84.0, "from": None, "to": "helm"},
        {"people": 1, "mass": 84.0, "from": "stern", "to": "helm"},
        {"people": 3, "mass": 84.0, "from": None, "to": None},
    ]
    assert seated(groups, UNITS) == ["3 at helm", "3 without a seat"]
    groups[0]["mass"] = 45.0
    assert seated(groups, UNITS) == ["45/45/84 kg at helm", "84/84/84 kg without a seat"]
