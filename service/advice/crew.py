"""Who drives, who watches the rider, and what must not be: settled before anything is balanced."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rules.base import RuleBase
from rules.model import Value
from service.advice.loading_condition import LoadingCondition, bow_begins
from service.advice.requests import Person, Role
from service.advice.situation import Gaps
from service.boats.model import Boat, Seat, SeatRole

REACH = 0.6
"""Metres from a seat's centre within which someone given by ``x, y`` counts as on that seat."""


@dataclass(frozen=True, slots=True)
class CrewRules:
    """The rule base's lines for people: ages in years, masses in kg, distances in m.

    A mass decides only where the age was not given. ``mirror``: local law lets a mirror stand in
    for the observer.
    """

    driver_age: float
    driver_mass: float
    observer_age: float
    observer_mass: float
    adult_age: float
    child_age: float
    child_mass: float
    beside_child: float
    bow_mass: float
    mirror: bool

    @classmethod
    def of(cls, base: RuleBase) -> CrewRules:
        def number(name: str) -> float:
            return base.number(f"crew.{name}")

        return cls(
            driver_age=number("driver_age"),
            driver_mass=number("driver_mass"),
            observer_age=number("observer_age"),
            observer_mass=number("observer_mass"),
            adult_age=number("adult_age"),
            child_age=number("child_age"),
            child_mass=number("child_mass"),
            beside_child=number("beside_child"),
            bow_mass=number("bow_mass"),
            mirror=number("mirror_allowed") > 0.0,
        )

    def may_drive(self, person: Person) -> bool:
        return _old_enough(person, self.driver_age, self.driver_mass)

    def may_watch(self, person: Person) -> bool:
        return _old_enough(person, self.observer_age, self.observer_mass)

    def is_adult(self, person: Person) -> bool:
        return _old_enough(person, self.adult_age, self.driver_mass)

    def is_child(self, person: Person) -> bool:
        return not _old_enough(person, self.child_age, self.child_mass)


def _old_enough(person: Person, age: float, mass: float) -> bool:
    return person.kilograms >= mass if person.age is None else person.age >= age


@dataclass(frozen=True, slots=True)
class CrewRoles:
    """Indices of the people who drive and who watch; ``None`` where nobody aboard can.

    ``driver_given`` and ``observer_given``: the request said so, by role or by seat.
    """

    driver: int | None
    observer: int | None
    driver_given: bool = False
    observer_given: bool = False

    def role_of(self, index: int, person: Person) -> Role:
        """What someone does aboard in the end."""
        if index == self.driver:
            return Role.DRIVER
        if index == self.observer:
            return Role.OBSERVER
        return Role.CREW if person.role is Role.CREW else Role.GUEST


def settle_roles(condition: LoadingCondition, rules: CrewRules) -> CrewRoles:
    """Who drives and who watches: as given; else staff before guests, adults before youths.

    Among equals whoever has no place yet comes first, then whoever was given the nearest one, then
    the order of the request. Someone unfit drives or watches only where the request says so.
    """
    people, seats = condition.people, condition.boat.seats
    driver, driver_given = _settle(
        people, seats, Role.DRIVER, rules, [i for i, p in enumerate(people) if rules.may_drive(p)],
    )  # fmt: skip
    able = [i for i, p in enumerate(people) if rules.may_watch(p) and i != driver]
    observer, observer_given = _settle(people, seats, Role.OBSERVER, rules, able, driver)
    return CrewRoles(driver, observer, driver_given, observer_given)


def _settle(
    people: Sequence[Person], seats: Sequence[Seat], role: Role, rules: CrewRules,
    able: Sequence[int], taken: int | None = None,
) -> tuple[int | None, bool]:  # fmt: skip
    """The one with ``role`` and whether the request said so."""
    named = [i for i, person in enumerate(people) if person.role is role]
    if named:
        return named[0], True
    other = {Role.DRIVER: Role.OBSERVER, Role.OBSERVER: Role.DRIVER}[role]
    free = [
        i
        for i, person in enumerate(people)
        if person.role is not other and i != taken and not (person.rides and role is Role.DRIVER)
    ]
    own_seats = [seat for seat in seats if seat.role.value == role.value]
    watch_seats = [seat for seat in seats if seat.role is SeatRole.OBSERVER]

    def rank(i: int) -> tuple[float, ...]:
        person = people[i]
        # Whoever was given the observer's seat is not the first to be sent to the wheel.
        watches = role is Role.OBSERVER
        stays = _may_stay(person, seats) if watches else not is_at(person, seats, watch_seats)
        staff, adult = person.role is Role.CREW, rules.is_adult(person)
        return (not staff, not adult, not stays, _distance(person, seats, own_seats), i)

    at_seat = [i for i in free if is_at(people[i], seats, own_seats)]
    if role is Role.OBSERVER:
        # To sit on the observer's seat is no order to watch for someone who cannot.
        at_seat = [i for i in at_seat if i in able]
    if at_seat:
        return min(at_seat, key=lambda i: (i not in able, rank(i))), True
    able = [i for i in able if i in free]
    return (min(able, key=rank), False) if able else (None, False)


def _may_stay(person: Person, seats: Sequence[Seat]) -> bool:
    """Whether someone who watches need not leave a place that was given."""
    return person.seat is None or any(seat.can_watch for seat in seats if seat.id == person.seat)


def is_at(person: Person, seats: Sequence[Seat], wanted: Sequence[Seat]) -> bool:
    """Whether someone sits on one of the seats ``wanted``, or at a place nearest to one."""
    if person.seat is not None:
        return any(seat.id == person.seat for seat in wanted)
    if person.x is None or person.y is None or not wanted:
        return False
    nearest = min(seats, key=lambda seat: _away(person, seat))
    return _away(person, nearest) <= REACH and nearest in wanted


def _away(person: Person, seat: Seat) -> float:
    return math.dist((seat.x, seat.y), (person.x or 0.0, person.y or 0.0))


def _distance(person: Person, seats: Sequence[Seat], goals: Sequence[Seat]) -> float:
    """Metres from a given place to the nearest of ``goals``; 0 without a place."""
    own = next((seat for seat in seats if seat.id == person.seat), None)
    spot = person if own is None else own
    if spot.x is None or spot.y is None or not goals:
        return 0.0
    return min(math.dist((spot.x, spot.y), (seat.x, seat.y)) for seat in goals)


def say_roles(condition: LoadingCondition, roles: CrewRoles, gaps: Gaps, *, counted: bool) -> None:
    """Lists the choice of driver and observer, by name, where the request did not make it."""
    choices = (
        ("driver", roles.driver, roles.driver_given),
        ("observer", roles.observer, roles.observer_given),
    )
    for word, index, given in choices:
        if index is None or given:
            continue
        who = condition.people[index].label
        pointer = "/crew" if counted else f"/crew/{index}/role"
        gaps.say(pointer, f"{who}: {word}", "", f"nobody was named as {word}; {ORDER}")


ORDER = "staff before guests, adults before youths, then the nearest seat and the order given"


def crew_facts(
    condition: LoadingCondition, roles: CrewRoles, rules: CrewRules
) -> dict[str, Value | None]:
    """People as given: who drives and watches, who must not be where they are."""
    people, boat = condition.people, condition.boat
    bow, children = condition.bow_people(), [p for p in people if rules.is_child(p)]
    most, most_mass = bow_limits(boat, rules)
    bow_children = [person for person in bow if rules.is_child(person)]
    seated = not boat.seats or bool(driver_seats(boat))
    alone = bow_children if not any(map(rules.is_adult, bow)) else []
    return {
        "driver": _fitness(roles.driver, people, rules.may_drive) if seated else "no_seat",
        "observer": _fitness(roles.observer, people, rules.may_watch),
        "mirror_allowed": "yes" if rules.mirror else "no",
        "children": float(len(children)),
        "behind_transom": float(sum(is_behind_transom(p, condition) for p in people)),
        "bow_people_over": float(len(bow) - most),
        "bow_mass_over": math.fsum(person.kilograms for person in bow) - most_mass,
        "bow_mass_limit": most_mass,
        "bow_people_limit": float(most),
        "child_alone_in_bow": float(len(alone)),
    }


def _fitness(
    index: int | None, people: Sequence[Person], fit: object, boat: Boat | None = None
) -> str:
    if boat is not None and boat.seats and not driver_seats(boat):
        return "no_seat"
    if index is None:
        return "none"
    return "fit" if callable(fit) and fit(people[index]) else "unfit"


def driver_seats(boat: Boat) -> list[Seat]:
    return [seat for seat in boat.seats if seat.role is SeatRole.DRIVER]


def is_behind_transom(person: Person, condition: LoadingCondition) -> bool:
    """Whether someone is on or behind the transom, as on a swim platform."""
    seat = condition.seat_of(person)
    x = person.x if seat is None else seat.x
    return x is not None and x <= condition.boat.hull.x_min


def bow_limits(boat: Boat, rules: CrewRules) -> tuple[int, float]:
    """Most people and most mass (kg) in the bow: the maker's, else the places and the rule's."""
    begins = bow_begins(boat.hull)
    places = sum(seat.places for seat in boat.seats if seat.x > begins)
    persons = places if boat.limits.bow_persons is None else boat.limits.bow_persons
    mass = rules.bow_mass if boat.limits.bow_mass is None else boat.limits.bow_mass
    return persons, mass


def without_adult(
    people: Iterable[Person], condition: LoadingCondition, rules: CrewRules
) -> list[Person]:
    """Children with no adult on their seat or within arm's reach of it."""
    seats = {seat.id: (seat.x, seat.y) for seat in condition.boat.seats}

    def spot(person: Person) -> tuple[float, float] | None:
        if person.seat is not None:
            return seats[person.seat]
        return None if person.x is None or person.y is None else (person.x, person.y)

    listed = list(people)
    adults = [place for p in listed if rules.is_adult(p) and (place := spot(p)) is not None]
    return [
        person
        for person in listed
        if rules.is_child(person)
        and (place := spot(person)) is not None
        and not any(math.dist(place, adult) <= rules.beside_child for adult in adults)
    ]
