"""Ids and names decide nothing: renamed, a request gets the same advice."""

from __future__ import annotations

import copy
import json
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tests.advice.requests_made import bodies
from tests.advice.test_mirror_and_units import FEW, advice


def renamed(body: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    """The request with the ids of boat, seats and tanks replaced."""
    body = copy.deepcopy(body)
    boat = body["boat"]
    for part in (boat, *boat["tanks"], *boat["seats"]):
        part["id"] = names[part["id"]]
    if isinstance(body["crew"], list):
        for person in body["crew"]:
            if "seat" in person:
                person["seat"] = names[person["seat"]]
    if "ballast" in body:
        body["ballast"] = {names[tank]: fill for tank, fill in body["ballast"].items()}
    return body


def named_back(answer: Any, names: dict[str, str]) -> Any:
    """The answer with the old ids, wherever one stands."""
    text = json.dumps(answer)
    for old, new in names.items():
        text = text.replace(new, old)
    return json.loads(text)


@FEW
@given(body=bodies(inline=True), numbers=st.permutations(range(100, 140)))
def test_ids_of_boat_seats_and_tanks_have_no_meaning(
    client: Any, body: dict[str, Any], numbers: list[int]
) -> None:
    boat = body["boat"]
    ids = [part["id"] for part in (boat, *boat["tanks"], *boat["seats"])]
    names = {old: f"q{number}z" for old, number in zip(ids, numbers, strict=False)}
    seen = named_back(advice(client, renamed(body, names)), names)
    assert seen == advice(client, body)


@FEW
@given(body=bodies(), order=st.permutations(range(10)))
def test_names_of_people_and_their_order_among_equals_change_no_number(
    client: Any, body: dict[str, Any], order: list[int]
) -> None:
    crew = body["crew"]
    if isinstance(crew, int):
        return
    renaming = copy.deepcopy(crew)
    for person, number in zip(renaming, order, strict=False):
        person["name"] = f"N{number}"
    # Equal but for their names, they are told in another order.
    alike = [{**person, "name": None} for person in crew]
    for one, other in zip(range(len(crew)), reversed(range(len(crew))), strict=True):
        if alike[one] == alike[other]:
            renaming[one], renaming[other] = renaming[other], renaming[one]
    first, second = advice(client, body), advice(client, body | {"crew": renaming})
    assert second["predicted"] == first["predicted"]
    for part in ("surf_side", "speed", "plates", "tanks", "loads"):
        assert second["setup"][part] == first["setup"][part]
    places = [[one["to"] for one in answer["setup"]["seating"]] for answer in (first, second)]
    assert sorted(places[0], key=str) == sorted(places[1], key=str)
