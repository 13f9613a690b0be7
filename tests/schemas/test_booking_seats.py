"""Who sits where on a booking's sheet: by name, and never by what someone weighs."""

from __future__ import annotations

from typing import Any

from schemas.booking_sheet import seating_shown
from schemas.seating_words import places


def seated(number: int, mass: float, role: str, goal: str | None) -> dict[str, Any]:
    return {
        "person": number, "name": f"guest {number}", "people": 1, "mass": mass, "role": role,
        "from": None, "to": goal, "moves": False, "gain": None,
    }  # fmt: skip


def test_those_who_are_alike_are_counted() -> None:
    crew = [
        seated(1, 84.0, "driver", "helm"), seated(2, 84.0, "observer", "observer"),
        seated(3, 84.0, "guest", "helm"), seated(4, 84.0, "guest", None),
    ]  # fmt: skip
    shown = seating_shown(crew)
    assert [sorted(group) for group in shown] == [["from", "people", "role", "to"]] * 4
    assert places(shown) == ["2 at helm (one drives)", "1 at observer (watches)", "no seat: 1"]


def test_those_who_are_not_are_named_without_their_weight() -> None:
    crew = [seated(1, 84.0, "driver", "helm"), seated(2, 45.0, "guest", "stern")]
    shown = seating_shown(crew)
    assert places(shown) == ["guest 1 drives at helm", "guest 2 at stern"]
    assert all("mass" not in entry for entry in shown)
