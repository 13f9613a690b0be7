"""People aboard, as they are listed in a request, and what cannot be so of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

import rules
from schemas import error_texts as say
from schemas.fields import Age, Choice, Identifier, Quantity, Text
from schemas.known import KnownRider, Riders
from schemas.plain import shown as shown_value
from schemas.record import RecordSchema
from schemas.units import Dimension
from service.advice.requests import Person, Rider, Role
from service.boats.model import Boat, SeatRole

LONGEST_NAME = 60
CHILD_AGE = rules.load().number("crew.child_age")
"""As shipped; what an outfit tightens is looked at with the advice."""

Faults = dict[str, list[str]]


class PersonSchema(RecordSchema):
    """Someone aboard: at a seat, or at a place given by ``x`` and ``y``, or anywhere."""

    record = Person

    def __init__(self, riders: Riders | None = None, **kwargs: Any) -> None:
        self.riders = riders
        super().__init__(**kwargs)

    name = Text(
        longest=LONGEST_NAME,
        load_default=None,
        metadata={"description": "How the answer calls them; an initial will do."},
    )
    mass = Quantity(
        Dimension.MASS, 3, 250, load_default=None, metadata={"description": "Body mass."}
    )
    age = Age(load_default=None)
    role = Choice(
        Role,
        load_default=None,
        metadata={
            "description": "What they do aboard: one driver, one observer, crew (staff), guest. "
            "Left out, the driver and the observer are chosen, and the answer says who."
        },
    )
    rider = KnownRider(
        load_default=None,
        metadata={"description": "Id of a kept rider, whose body mass it is; instead of mass."},
    )
    seat = Identifier(load_default=None, metadata={"description": "Id of a seat of the boat."})
    x = Quantity(
        Dimension.LENGTH,
        -2,
        15,
        load_default=None,
        metadata={"description": "Forward of the transom."},
    )
    y = Quantity(
        Dimension.LENGTH,
        -3,
        3,
        load_default=None,
        metadata={"description": "To port of the centreline."},
    )

    @validates_schema
    def _one_place(self, data: dict[str, Any], **_: Any) -> None:
        has_x, has_y = data["x"] is not None, data["y"] is not None
        if has_x != has_y:
            raise ValidationError(say.X_AND_Y, "y" if has_x else "x")
        if has_x and data["seat"] is not None:
            raise ValidationError(say.SEAT_OR_PLACE, "seat")

    @validates_schema
    def _one_mass(self, data: dict[str, Any], **_: Any) -> None:
        if data["mass"] is not None and data.get("rider") is not None:
            raise ValidationError(say.MASS_OR_RIDER, "rider")

    @post_load
    def _record(self, data: dict[str, Any], **kwargs: Any) -> Any:
        rider: Rider | None = data.pop("rider", None)
        return super()._record(data if rider is None else data | {"mass": rider.mass}, **kwargs)


def with_own_names(people: Sequence[Person]) -> tuple[Person, ...]:
    """Everybody, the second of a name with the place in the list after it."""
    names = [person.name for person in people]
    return tuple(
        replace(person, name=f"{person.name} ({index + 1})")
        if person.name is not None and person.name in names[:index]
        else person
        for index, person in enumerate(people)
    )


def label(number: int, sent: Any, unnamed: str = "person {number}") -> str:
    """How an error calls the person listed at this number, counted from 1."""
    name = sent.get("name") if isinstance(sent, Mapping) else None
    return name if isinstance(name, str) else unnamed.format(number=number)


def seat_faults(
    boat: Boat, people: Iterable[tuple[str, Any]], seated: Mapping[str, Sequence[str]] | None = None
) -> Iterator[tuple[int, Faults]]:
    """Faults by index: seats the boat has not, and more people on one than it has places.

    ``people``: what each is called and the seat that was given. ``seated``: who sits there already.
    """
    places = {seat.id: seat.places for seat in boat.seats}
    there = {seat: list(names) for seat, names in (seated or {}).items()}
    last: dict[str, int] = {}
    for index, (who, seat) in enumerate(people):
        if not isinstance(seat, str):
            continue
        if seat not in places:
            fault = say.NO_SUCH_SEAT.format(
                boat=boat.name, seat=shown_value(seat), known=", ".join(places)
            )
            yield index, {"seat": [fault]}
        there.setdefault(seat, []).append(who)
        last[seat] = index
    for seat, index in last.items():
        if seat in places and len(there[seat]) > places[seat]:
            fault = say.SEAT_TAKES.format(
                seat=seat, places=_places(places[seat]), people=enumeration(there[seat])
            )
            yield index, {"seat": [fault]}


def role_faults(boat: Boat, people: Sequence[Person]) -> Iterator[tuple[int, Faults]]:
    """Faults by index: two who drive or watch, and a driver too young or away from the wheel."""
    people = [replace(person, number=number) for number, person in enumerate(people, 1)]
    for role, text in (
        (Role.DRIVER, say.MORE_THAN_ONE_DRIVER), (Role.OBSERVER, say.MORE_THAN_ONE_OBSERVER),
    ):  # fmt: skip
        named = [index for index, person in enumerate(people) if person.role is role]
        if len(named) > 1:
            who = enumeration([people[index].label for index in named])
            yield named[1], {"role": [text.format(people=who)]}
    at_wheel = {seat.id: seat.places for seat in boat.seats if seat.role is SeatRole.DRIVER}
    for index, person in enumerate(people):
        if person.role is not Role.DRIVER:
            continue
        if person.age is not None and person.age < CHILD_AGE:
            fault = say.TOO_YOUNG_TO_DRIVE.format(
                who=person.label, age=f"{person.age:g}", least=f"{CHILD_AGE:g}"
            )
            yield index, {"role": [fault]}
        seats = ", ".join(at_wheel)
        if not at_wheel:
            continue  # which the rules speak of
        if person.seat is not None and person.seat not in at_wheel:
            fault = say.DRIVES_ELSEWHERE.format(who=person.label, seat=person.seat, seats=seats)
            yield index, {"seat": [fault]}
        others = [p for p in people if p.role is not Role.DRIVER and p.seat in at_wheel]
        if not person.placed and len(others) >= sum(at_wheel.values()):
            who = enumeration([other.label for other in others])
            fault = say.WHEEL_TAKEN.format(who=person.label, seats=seats, people=who)
            yield index, {"seat": [fault]}


def rides_too(sent: Mapping[str, Any], number: int) -> Faults:
    """The fault of someone in the crew who is among the riders, or twice in the crew."""
    both = {Role.DRIVER: say.DRIVES_AND_RIDES, Role.OBSERVER: say.WATCHES_AND_RIDES}
    text = both.get(sent["role"]) if isinstance(sent.get("role"), str) else None
    if text is None:
        return {"rider": [say.ABOARD_ALREADY]}
    return {"role": [text.format(who=label(number, sent, str(sent["rider"])))]}


def enumeration(names: Sequence[str]) -> str:
    """``Ann``, ``Ann and Ben``, ``Ann, Ben and person 3``."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def _places(count: int) -> str:
    return say.ONE_PLACE if count == 1 else say.PLACES.format(count=count)
