"""Who sits where in the loading plan: by name where people were listed, else by how many."""

from __future__ import annotations

import pytest

from service.advice.answer import OWN_PLACE, Seating
from service.advice.requests import Person, Role
from service.pages import words
from service.pages.scene import Place


def seated(
    number: int, name: str | None = None, role: Role = Role.GUEST, goal: str | None = "helm"
) -> Seating:
    return Seating(Person(80.0, name=name, number=number), role, None, goal)


HELM = Place("helm", 3.0, 0.0, (seated(1, "Ann", Role.DRIVER), seated(2, "Ben")))
BENCH = Place("bench", 1.0, 0.0, tuple(seated(n, f"Person Long{n}") for n in range(3)))


def test_a_seat_tells_who_drives_and_who_else_sits_there() -> None:
    assert words.sitting(HELM, 18, listed=True) == ["Ann drives", "Ben"]
    assert words.sitting(BENCH, 18, listed=True) == ["PL, PL, PL"]
    assert words.sitting(Place("bow", 5.0, 0.0), 18, listed=True) == []


def test_of_a_head_count_a_seat_tells_only_that_one_drives() -> None:
    assert words.sitting(HELM, 18, listed=False) == ["drives"]
    assert words.sitting(BENCH, 18, listed=False) == []
    watch = Place("observer", 3.0, 0.0, (seated(3, role=Role.OBSERVER),))
    assert words.sitting(watch, 18, listed=False) == ["watches"]


@pytest.mark.parametrize(
    ("name", "short"), [("Ann Bell", "AB"), ("Ann", "A"), ("person 3", "3"), ("guest 12", "12")]
)
def test_initials(name: str, short: str) -> None:
    assert words.initials(name) == short


def test_people_are_told_by_name_or_number() -> None:
    people = [seated(1, "Ann"), seated(2)]
    assert words.who(people, listed=True) == "Ann, person 2"
    assert words.who(people, listed=False) == "2 people"
    assert words.who(people[:1], listed=False) == "1 person"


def test_those_without_a_seat_and_those_in_their_own_place_are_named() -> None:
    class Scene:
        listed = True
        unplaced = (seated(1, "Ann", goal=None), seated(2, goal=OWN_PLACE), seated(3, goal=None))

    told = list(words.unplaced(Scene()))  # type: ignore[arg-type]
    assert told == ["no seat: Ann, person 3", "in a place of their own: person 2"]
