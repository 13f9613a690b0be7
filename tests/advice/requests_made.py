"""Requests made by hypothesis, and their mirror images."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

DEMO = Path(__file__).parents[2] / "service" / "boats" / "demo"
BOATS = {path.stem: json.loads(path.read_text()) for path in sorted(DEMO.glob("*.json"))}
OTHER = {"port": "starboard", "starboard": "port"}
WISHES = ("steeper", "mellower", "longer", "shorter", "more_push", "less_push")


def swapped(name: str) -> str:
    """``aft-port`` for ``aft-starboard`` and back."""
    stem, _, side = name.rpartition("-")
    return f"{stem}-{OTHER[side]}" if side in OTHER else name


@st.composite
def bodies(draw: st.DrawFn, inline: bool = False) -> dict[str, Any]:
    """A valid body of ``POST /v1/advice`` on a demo boat, by id or (lopsided) inline."""
    name = draw(st.sampled_from(sorted(BOATS)))
    boat = copy.deepcopy(BOATS[name])
    if inline:
        _make_lopsided(draw, boat)
    rider: dict[str, Any] = {
        "mass": f"{draw(st.integers(15, 200))} kg",
        "stance": draw(st.sampled_from(["regular", "goofy"])),
        "board": draw(st.sampled_from(["skim", "surf"])),
        "level": draw(
            st.sampled_from(["first_time", "beginner", "intermediate", "advanced", "expert"])
        ),
        "wants": draw(st.lists(st.sampled_from(WISHES), unique=True, max_size=3)),
    }
    body: dict[str, Any] = {
        "boat": boat if inline else name,
        "rider": rider,
        "crew": draw(st.one_of(st.integers(1, 20), crews(boat))),
        "water": draw(_waters()),
        "fuel": draw(st.integers(0, 100)),
    }
    if draw(st.booleans()):
        body["ballast"] = {
            tank["id"]: draw(st.integers(0, int(tank.get("max_fill", 100))))
            for tank in boat["tanks"]
            if draw(st.booleans())
        }
    body["loads"] = draw(st.lists(_loads(boat), max_size=2))
    return body


def _make_lopsided(draw: st.DrawFn, boat: dict[str, Any]) -> None:
    boat["light"]["y"] = draw(st.integers(-3, 3)) / 100
    if draw(st.booleans()):
        boat["tanks"].pop(draw(st.integers(0, len(boat["tanks"]) - 1)))
    if draw(st.booleans()):
        boat["seats"].pop(draw(st.integers(1, len(boat["seats"]) - 1)))  # not the driver's
    if draw(st.booleans()):
        del boat["plates"][draw(st.sampled_from(["centre", "port", "starboard"]))]


def _person(draw: st.DrawFn, number: int, places: list[str]) -> dict[str, Any]:
    """Someone; a seat is taken out of ``places``."""
    person: dict[str, Any] = {"mass": f"{draw(st.integers(20, 140))} kg"}
    if draw(st.integers(0, 3)) == 0:
        person["age"] = draw(st.integers(1, 80))
    if draw(st.booleans()):
        person["name"] = f"{draw(st.sampled_from(['Kim', 'Ann', 'Ola', 'Sam']))} {number}"
    if role := draw(st.sampled_from([None, None, None, "crew", "guest"])):
        person["role"] = role
    where = draw(st.sampled_from(["seat", "seat", "spot", "none"]))
    if where == "seat" and places:
        person["seat"] = places.pop(draw(st.integers(0, len(places) - 1)))
    elif where == "spot":
        person["x"] = f"{draw(st.integers(5, 45)) / 10} m"
        person["y"] = f"{draw(st.integers(-10, 10)) / 10} m"
    return person


@st.composite
def crews(draw: st.DrawFn, boat: dict[str, Any]) -> list[dict[str, Any]]:
    """People on seats, no more than there are places, at places of their own, or without one.

    Some have an age, a name, or a role; nobody is both driver and observer, no child drives.
    """
    places = [seat["id"] for seat in boat["seats"] for _ in range(seat["places"])]
    people = [_person(draw, number, places) for number in range(draw(st.integers(1, 10)))]
    named = draw(st.lists(st.sampled_from(["driver", "observer"]), unique=True, max_size=2))
    for role, person in zip(named, draw(st.permutations(people)), strict=False):
        if person.get("age", 40) >= 16 or role == "observer":
            person["role"] = role
            for place in ("seat", "x", "y"):
                person.pop(place, None)
    if any(person.get("role") == "driver" for person in people):  # who has the wheel then
        wheel = {seat["id"] for seat in boat["seats"] if seat["role"] == "driver"}
        for person in people:
            if person.get("seat") in wheel:
                del person["seat"]
    return people


@st.composite
def _waters(draw: st.DrawFn) -> dict[str, Any]:
    water: dict[str, Any] = {"kind": draw(st.sampled_from(["fresh", "salt"]))}
    if draw(st.booleans()):
        water["depth"] = f"{draw(st.integers(1, 40))} m"
    if draw(st.booleans()):
        water["distance_to_shore"] = f"{draw(st.integers(0, 500))} m"
    return water


@st.composite
def _loads(draw: st.DrawFn, boat: dict[str, Any]) -> dict[str, Any]:
    half = boat["beam"] / 2
    return {
        "mass": f"{draw(st.integers(0, 200))} kg",
        "x": f"{draw(st.integers(0, 50)) / 10} m",
        "y": f"{draw(st.integers(-10, 10)) / 10 * half} m",
        "z": "0.8 m",
        "movable": draw(st.booleans()),
    }


def mirrored(body: dict[str, Any]) -> dict[str, Any]:
    """The request seen in a mirror: port and starboard swapped everywhere."""
    body = copy.deepcopy(body)
    body["rider"]["stance"] = {"regular": "goofy", "goofy": "regular"}[body["rider"]["stance"]]
    if isinstance(body["crew"], list):
        for person in body["crew"]:
            if "seat" in person:
                person["seat"] = swapped(person["seat"])
            if "y" in person:
                person["y"] = _across(person["y"])
    if "ballast" in body:
        body["ballast"] = {swapped(tank): fill for tank, fill in body["ballast"].items()}
    for load in body["loads"]:
        load["y"] = _across(load["y"])
    if isinstance(body["boat"], dict):
        body["boat"] = mirrored_boat(body["boat"])
    elif "surf_side" in body:
        body["surf_side"] = OTHER[body["surf_side"]]
    return body


def _across(y: str) -> str:
    return y[1:] if y.startswith("-") else f"-{y}"


def mirrored_boat(boat: dict[str, Any]) -> dict[str, Any]:
    boat = copy.deepcopy(boat)
    for part in (boat["light"], boat["fuel"], *boat["tanks"], *boat["seats"]):
        part["y"] = -part["y"]
    for part in (*boat["tanks"], *boat["seats"]):
        part["id"] = swapped(part["id"])
    plates = boat["plates"]
    boat["plates"] = {OTHER.get(name, name): plate for name, plate in plates.items()}
    return boat
