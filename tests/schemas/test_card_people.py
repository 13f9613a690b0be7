"""Who moves, who drives, who watches and who sits where, on the card and in words."""

from __future__ import annotations

from typing import Any

from schemas.card import LINES, card
from schemas.seating_words import moves, places

UNITS = {"mass": "kg", "length": "m", "volume": "L", "speed": "km/h"}


def person(
    number: int, goal: str | None, origin: str | None = None, *, role: str = "guest",
    name: str | None = None,
) -> dict[str, Any]:  # fmt: skip
    return {
        "person": number, "name": name, "people": 1, "mass": 80.0 + number, "role": role,
        "from": origin, "to": goal, "moves": origin is not None and origin != goal, "gain": None,
    }  # fmt: skip


def group(people: int, goal: str | None, role: str = "guest") -> dict[str, Any]:
    return {"people": people, "mass": 84.0, "role": role, "from": None, "to": goal}


CREW = [
    person(1, "helm", role="driver", name="Ann"),
    person(2, "stern", "bench-port", name="Ben"),
    person(3, "observer", "observer", role="observer", name="Jo"),
    person(4, "bench-port", "bench-port"),
    person(5, "bench-port", name="Kim"),
]


def answer(seating: list[dict[str, Any]], verdict: str = "go") -> dict[str, Any]:
    """An answer with nothing in it but what the card needs."""
    not_yet = {"text": "Wait.", "first": []} if verdict == "do_not_go" else None
    freeboard = {"port": 0.6, "starboard": 0.5, "stern": 0.434, "bow": 1.02, "least": 0.434}
    return {
        "verdict": verdict, "not_yet": not_yet, "boat": {"name": "Brindle Cove 7"}, "units": UNITS,
        "rider": {"mass": 70, "stance": None, "board": "surf", "level": "expert"},
        "setup": {
            "surf_side": "port", "speed": 17.0, "seating": seating, "loads": [],
            "plates": {"centre": 50.0, "port": 0.0, "starboard": 70.0},
            "tanks": [{"tank": f"tank-{n}", "fill": 50.0, "volume": 180.0} for n in range(5)],
        },
        "predicted": {"at_rest": {
            "status": "floats", "heel": -1.84, "trim": 2.1, "freeboard": freeboard,
        }},
        "changeover": None, "saved": None, "accounts": {}, "reasons": [],
        "watch_for": [{"look": "the wave on the wrong side", "lever": "stop"}],
        "cautions": [
            {"rule": f"r.{n}", "severity": "warning", "text": "Mind the swimmers here.",
             "action": "Keep away from them."}
            for n in range(4)
        ],
    }  # fmt: skip


def rows(text: str) -> dict[str, str]:
    """The card's rows by their labels, further lines joined."""
    found: dict[str, str] = {}
    label = ""
    for line in text.splitlines():
        start = 11 if line.startswith("IF YOU SEE") else 9
        label = line[:start].strip() or label
        found[label] = f"{found.get(label, '')} {line[start:].strip()}".strip()
    return found


def test_who_has_to_move_stands_before_who_sits_where() -> None:
    text = card(answer(CREW))
    found = rows(text)
    assert found["MOVE"] == "Ben: bench-port to stern"
    assert (
        found["PEOPLE"] == "Ann drives at helm; Jo watches at observer; person 4, Kim at bench-port"
    )
    assert text.index("MOVE") < text.index("PEOPLE")
    assert "kg" not in found["PEOPLE"]


def test_without_a_move_there_is_no_row_for_it() -> None:
    assert "MOVE" not in card(answer([CREW[0], CREW[2], CREW[3]]))


def test_nobody_is_told_to_move_on_a_boat_that_must_not_go() -> None:
    found = rows(card(answer(CREW, "do_not_go")))
    assert "MOVE" not in found
    assert found["PEOPLE"].endswith("Ben at stern; person 4, Kim at bench-port")
    assert "DO NOT SET. For reference only:" in card(answer(CREW, "do_not_go"))


def test_those_who_move_are_never_cut_off() -> None:
    """Twenty people of long names, each with another way to go."""
    crew = [
        person(
            n, f"seat-on-the-starboard-side-{n}", f"bench-{n}", name=f"{n} Bartholomew Featherstone"
        )
        for n in range(1, 21)
    ]
    text = card(answer(crew))
    lines = text.splitlines()
    said = rows(text)["MOVE"]
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= 80
    assert said.count(" to ") >= 10
    few = [*crew[:6], *CREW]
    found = rows(card(answer(few)))["MOVE"]
    assert all(f"bench-{n} to seat-on-the-starboard-side-{n}" in found for n in range(1, 7))
    assert "Ben: bench-port to stern" in found


def test_those_who_go_the_same_way_are_told_at_once() -> None:
    crew = [person(n, "stern", "bow") for n in (1, 2)]
    assert moves(crew) == ["person 1, person 2: bow to stern"]


def test_of_a_head_count_it_is_told_where_the_driver_sits() -> None:
    seating = [
        group(1, "helm", "driver"), group(1, "observer", "observer"), group(1, "helm"),
        group(3, "bench-port"), group(2, None),
    ]  # fmt: skip
    assert moves(seating) == []
    assert places(seating) == [
        "2 at helm (one drives)", "1 at observer (watches)", "3 at bench-port", "no seat: 2",
    ]  # fmt: skip


def test_people_without_a_seat_and_in_their_own_place_are_named() -> None:
    seating = [
        person(1, "own place", "own place", role="driver"), person(2, None, name="Ben"),
        person(3, "own place", "own place"),
    ]  # fmt: skip
    assert places(seating) == [
        "person 1 drives at their own place", "no seat: Ben", "person 3 at their own place",
    ]  # fmt: skip


def test_how_the_boat_sits_is_told_in_lengths_that_people_read() -> None:
    found = rows(card(answer(CREW)))
    assert found["SITS"] == ("1.8° to port, 2.1° bow up; lowest freeboard 43 cm, at the stern")
    feet = answer(CREW)
    feet["units"] = UNITS | {"length": "ft"}
    feet["predicted"]["at_rest"]["freeboard"] |= {"least": -0.25, "stern": -0.25}
    said = rows(card(feet))["SITS"]
    assert "lowest freeboard 3 in under water, at the stern" in said


def test_what_to_look_for_is_said_as_on_the_dock() -> None:
    assert rows(card(answer(CREW)))["IF YOU SEE"] == "the wave on the wrong side: stop"
