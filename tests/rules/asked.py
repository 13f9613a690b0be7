"""Requests of ``POST /v1/advice`` from everywhere inside the documented ranges.

The ranges are those of the schemas, so whatever is documented is drawn, its ends often.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from schemas import units
from schemas.advice_request import RiderSchema
from schemas.boat import LightSchema, LimitsSchema
from schemas.fields import Count, Quantity
from schemas.people import PersonSchema
from schemas.record import RecordSchema
from schemas.request import MOST_PEOPLE, LoadSchema, WaterSchema
from schemas.units import System
from service.advice.requests import Board, Level, Role, Stance, WaterKind, Wish
from service.boats.model import Propulsion, Side
from tests.advice.requests_made import BOATS

RIDER, PERSON, LOAD, WATER = RiderSchema(), PersonSchema(), LoadSchema(), WaterSchema()
LIGHT, LIMITS = LightSchema(), LimitsSchema()


@st.composite
def requests(draw: st.DrawFn) -> dict[str, Any]:
    """A request of any boat, crew, rider, water, load, wish and system of units."""
    name = draw(st.sampled_from(sorted(BOATS)))
    kept = draw(st.booleans())
    boat = BOATS[name] if kept else _inline(draw, BOATS[name])
    body: dict[str, Any] = {
        # A boat that is sent along is written in metric numbers.
        "units": draw(_word(System)) if kept else System.METRIC.value,
        "boat": name if kept else boat,
        "rider": _rider(draw),
    }
    if draw(st.booleans()):
        body["surf_side"] = draw(_word(Side))
    elif "stance" not in body["rider"]:
        body["rider"]["stance"] = draw(_word(Stance))
    told: dict[str, Callable[[], Any]] = {
        "crew": lambda: draw(st.integers(1, MOST_PEOPLE)) if draw(st.booleans()) else _crew(
            draw, boat
        ),
        "ballast": lambda: _ballast(draw, boat),
        "loads": lambda: [_load(draw, boat) for _ in range(draw(st.integers(0, 2)))],
        "water": lambda: _some(draw, WATER, "temperature", "depth", "distance_to_shore")
        | draw(st.sampled_from([{}, *({"kind": kind.value} for kind in WaterKind)])),
        "fuel": lambda: draw(st.integers(0, 100)),
    }  # fmt: skip
    return body | {part: make() for part, make in told.items() if draw(st.booleans())}


def number(schema: RecordSchema, name: str, low: float = -1e9, high: float = 1e9) -> Any:
    """A number of a field's range, or of the part of it between ``low`` and ``high``.

    Written with its unit, so that it means the same in every request.
    """
    field = schema.fields[name]
    if isinstance(field, Count):
        return st.integers(field.minimum, field.maximum)
    assert isinstance(field, Quantity)
    least, most = (float(bound) for bound in field.bounds)
    ends = max(least, low), min(most, high)
    unit = units.unit_name(field.dimension, System.METRIC)
    found = st.sampled_from(ends) | st.floats(*ends)
    return found.map(lambda value: f"{min(max(round(value, 3), ends[0]), ends[1])} {unit}")


def _word(words: Any) -> Any:
    return st.sampled_from([word.value for word in words])


def _some(draw: st.DrawFn, schema: RecordSchema, *names: str) -> dict[str, Any]:
    """Some of the fields, or none, or all."""
    return {name: draw(number(schema, name)) for name in names if draw(st.booleans())}


def _rider(draw: st.DrawFn) -> dict[str, Any]:
    rider = _some(draw, RIDER, "mass")
    for name, words in (("stance", Stance), ("board", Board), ("level", Level)):
        if draw(st.booleans()):
            rider[name] = draw(_word(words))
    if draw(st.booleans()):
        rider["wants"] = draw(st.lists(_word(Wish), unique=True))
    return rider


def _inline(draw: st.DrawFn, demo: dict[str, Any]) -> dict[str, Any]:
    """A demo boat's hull with another drive, weight, parts and limits."""
    boat = copy.deepcopy(demo)
    half = boat["beam"] / 2
    boat["propulsion"] = draw(_word(Propulsion))
    if draw(st.booleans()):
        boat["light"]["mass"] = draw(number(LIGHT, "mass"))
        boat["light"]["y"] = draw(number(LIGHT, "y", -half / 10, half / 10))
        boat["light"]["z"] = draw(number(LIGHT, "z", 0.2, 2.0))
    for part in ("tanks", "seats"):
        boat[part] = [
            one for one in boat[part] if one.get("role") == "driver" or draw(st.integers(0, 3))
        ]
    boat["plates"] = {name: one for name, one in boat["plates"].items() if draw(st.integers(0, 3))}
    boat["limits"] = _some(draw, LIMITS, "persons", "persons_mass", "load_mass")
    boat["limits"]["includes_ballast"] = draw(st.sampled_from([None, True, False]))
    return boat


def _crew(draw: st.DrawFn, boat: dict[str, Any]) -> list[dict[str, Any]]:
    """People on seats, at a place of their own, or anywhere."""
    free = [seat["id"] for seat in boat["seats"] for _ in range(seat["places"])]
    crew: list[dict[str, Any]] = []
    for _ in range(draw(st.integers(1, 8))):
        person = _some(draw, PERSON, "mass")
        how = draw(st.sampled_from(["seat", "place", "anywhere"]))
        if how == "seat" and free:
            person["seat"] = free.pop(draw(st.integers(0, len(free) - 1)))
        elif how == "place":
            person |= _place(draw, PERSON, boat)
        if (age := draw(st.none() | st.integers(0, 99))) is not None:
            person["age"] = age
        crew.append(person)
    _give_roles(draw, boat, crew)
    return crew


def _give_roles(draw: Any, boat: dict[str, Any], crew: list[dict[str, Any]]) -> None:
    """Staff and guests, at most one observer, and at most one driver, who may be at the wheel."""
    for person in crew:
        if role := draw(st.sampled_from([None, Role.CREW, Role.GUEST])):
            person["role"] = role.value
    if draw(st.booleans()):
        draw(st.sampled_from(crew))["role"] = Role.OBSERVER.value
    wheel = {seat["id"] for seat in boat["seats"] if seat.get("role") == "driver"}
    taken = any(person.get("seat") in wheel for person in crew)
    able = [
        person for person in crew
        if person.get("age", 99) >= 13
        and (person["seat"] in wheel if "seat" in person else "x" in person or not taken)
    ]  # fmt: skip
    if able and draw(st.booleans()):
        draw(st.sampled_from(able))["role"] = Role.DRIVER.value


def _place(draw: st.DrawFn, schema: RecordSchema, boat: dict[str, Any]) -> dict[str, Any]:
    half = boat["beam"] / 2
    return {
        "x": draw(number(schema, "x", -2, boat["length_overall"])),
        "y": draw(number(schema, "y", -half, half)),
    }


def _load(draw: st.DrawFn, boat: dict[str, Any]) -> dict[str, Any]:
    rest = {name: draw(number(LOAD, name)) for name in ("mass", "z")}
    return _place(draw, LOAD, boat) | rest | {"movable": draw(st.booleans())}


def _ballast(draw: st.DrawFn, boat: dict[str, Any]) -> dict[str, Any]:
    return {
        tank["id"]: draw(st.integers(0, int(tank.get("max_fill", 100))))
        for tank in boat["tanks"]
        if draw(st.booleans())
    }
