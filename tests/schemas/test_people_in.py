"""People as they are listed: who they are, what they do, and what cannot be so of them."""

from __future__ import annotations

from typing import Any

import pytest
from marshmallow import ValidationError

from schemas.advice_request import AdviceRequestSchema
from schemas.outing_request import OutingRequestSchema
from service.advice.requests import Person, Rider, Role, Stance
from service.boats.fleet import Fleet

RIDER = {"stance": "goofy", "mass": 80}


class Known:
    """Every id is a rider's."""

    def find(self, rider_id: str) -> Rider:
        return Rider(mass=70.0, stance=Stance.GOOFY, id=rider_id)


def crew_of(fleet: Fleet, *crew: Any, rider: Any = RIDER) -> tuple[Person, ...]:
    body = {"boat": "demo-7m", "rider": rider, "crew": list(crew)}
    people: tuple[Person, ...] | None = AdviceRequestSchema(fleet, Known()).load(body).request.crew
    assert people is not None
    return people


def refused(fleet: Fleet, *crew: Any, rider: Any = RIDER) -> Any:
    with pytest.raises(ValidationError) as caught:
        crew_of(fleet, *crew, rider=rider)
    messages = caught.value.messages
    assert isinstance(messages, dict)
    return messages["crew"]


def test_a_person_keeps_who_they_are(fleet: Fleet) -> None:
    ann = {"name": "Ann", "mass": 62, "age": 41, "role": "driver", "seat": "helm"}
    assert crew_of(fleet, ann, {"age": 0.5}, {"role": "guest"}) == (
        Person(62.0, "helm", age=41.0, role=Role.DRIVER, name="Ann"),
        Person(age=0.5),
        Person(role=Role.GUEST),
    )


def test_two_of_one_name_are_told_apart(fleet: Fleet) -> None:
    people = crew_of(fleet, {"name": "Ann"}, {}, {"name": "Ann"})
    assert [person.name for person in people] == ["Ann", None, "Ann (3)"]


@pytest.mark.parametrize(
    ("member", "value", "says"),
    [
        ("age", -1, "-1 is not accepted: give the age in years, a number from 0 to 120."),
        ("age", 120.5, "0 to 120"),
        ("age", "12", '"12" is not accepted'),
        ("age", True, "true is not accepted"),
        ("age", 10**400, "0 to 120"),
        ("name", "x" * 61, "has 61 characters: give 1 to 60"),
        ("name", "Ann\n!! GO", "one line"),
        ("role", "captain", "one of: driver, observer, crew, guest"),
    ],
)
def test_a_fault_is_named_where_it_stands(
    fleet: Fleet, member: str, value: object, says: str
) -> None:
    assert says in refused(fleet, {}, {member: value})[1][member][0]


def test_two_drivers_are_refused_by_name(fleet: Fleet) -> None:
    crew: Any = ({"name": "Ann", "role": "driver"}, {}, {"role": "driver"})
    fault = "more than one driver: Ann and person 3. Name one."
    assert refused(fleet, *crew) == {2: {"role": [fault]}}


def test_two_observers_are_refused_by_name(fleet: Fleet) -> None:
    crew = {"role": "observer"}, {"role": "observer", "name": "Ben"}, {"role": "observer"}
    fault = "more than one observer: person 1, Ben and person 3. Name one."
    assert refused(fleet, *crew) == {1: {"role": [fault]}}


def test_a_driver_away_from_the_wheel_is_refused(fleet: Fleet) -> None:
    fault = 'Ann drives, but seat "stern" is not the driver\'s: give helm or none.'
    ann = {"name": "Ann", "role": "driver", "seat": "stern"}
    assert refused(fleet, ann) == {0: {"seat": [fault]}}


def test_a_driver_whose_seat_is_given_away_is_refused(fleet: Fleet) -> None:
    crew = [{"role": "driver", "name": "Ann"}, {"seat": "helm", "name": "Ben"}]
    assert len(crew_of(fleet, *crew)) == 2  # the seat takes two
    fault = "Ann drives, but the driver's seat is given to Ben and person 3: keep helm for Ann."
    assert refused(fleet, *crew, {"seat": "helm"}) == {0: {"seat": [fault]}}


@pytest.mark.parametrize(
    ("role", "fault"),
    [
        ("driver", "r-7 cannot drive and ride: name another driver."),
        ("observer", "r-7 cannot watch and ride: name another observer."),
    ],
)
def test_who_rides_neither_drives_nor_watches(fleet: Fleet, role: str, fault: str) -> None:
    crew: Any = ({}, {"rider": "r-7", "role": role})
    assert refused(fleet, *crew, rider="r-7") == {1: {"role": [fault]}}


def test_a_child_is_not_called_driver(fleet: Fleet) -> None:
    fault = "Kim is 4: nobody under 13 drives."
    assert refused(fleet, {"name": "Kim", "age": 4, "role": "driver"}) == {0: {"role": [fault]}}
    assert crew_of(fleet, {"age": 13, "role": "driver"}, {"age": 4, "role": "guest"})


def test_more_people_on_a_seat_than_it_has_places(fleet: Fleet) -> None:
    crew = [{"seat": "bow-port", "name": name} for name in ("Ann", "Ben")]
    fault = 'seat "bow-port" has 2 places, too few for Ann, Ben and person 4.'
    assert refused(fleet, *crew, {}, {"seat": "bow-port"}) == {3: {"seat": [fault]}}


def test_several_faults_are_told_at_once(fleet: Fleet) -> None:
    crew = {"role": "driver", "age": 3, "seat": "stern"}, {"role": "driver", "seat": "roof"}
    found = refused(fleet, *crew)
    assert {(n, name) for n, faults in found.items() for name in faults} == {
        (0, "role"), (0, "seat"), (1, "role"), (1, "seat"),
    }  # fmt: skip
    assert len(found[1]["seat"]) == 2  # not aboard, and not the driver's


def outing(fleet: Fleet, *riders: Any, crew: Any) -> Any:
    body = {"boat": "demo-6m", "crew": crew, "riders": list(riders)}
    return OutingRequestSchema(fleet, Known()).load(body).request


def test_the_riders_of_an_outing_have_ages_and_names_of_their_own(fleet: Fleet) -> None:
    asked = outing(
        fleet, {"rider": RIDER, "name": "Ann", "age": 9}, {"rider": RIDER, "name": "Kim"},
        crew=[{"name": "Ann", "role": "driver"}],
    )  # fmt: skip
    assert [(rider.name, rider.age) for rider in asked.riders] == [("Ann (1)", 9.0), ("Kim", None)]


def test_who_rides_in_an_outing_does_not_drive_it(fleet: Fleet) -> None:
    with pytest.raises(ValidationError) as caught:
        outing(fleet, {"rider": "r-7"}, crew=[{"rider": "r-7", "role": "driver", "name": "Bo"}])
    fault = "Bo cannot drive and ride: name another driver."
    assert caught.value.messages == {"crew": {0: {"role": [fault]}}}


def test_crew_and_riders_share_the_seats_of_an_outing(fleet: Fleet) -> None:
    crew = [{"name": "Ann", "seat": "observer"}]
    with pytest.raises(ValidationError) as caught:
        outing(fleet, {"rider": RIDER}, {"rider": RIDER, "seat": "observer"}, crew=crew)
    fault = 'seat "observer" has 1 place, too few for Ann and rider 2.'
    assert caught.value.messages == {"riders": {1: {"seat": [fault]}}}
