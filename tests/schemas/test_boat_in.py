"""A boat as it comes in."""

from __future__ import annotations

import copy
import json
import math
from importlib.resources import files
from typing import Any

import pytest
from marshmallow import ValidationError

from schemas.boat import BoatSchema, KeptBoatSchema
from schemas.units import System, using
from service.boats.fleet import Fleet, UnknownBoatError
from service.boats.model import Boat, Faces, Limits, Propulsion, SeatRole, mirrored
from service.boats.seat_roles import role_by_place

DEMO = {
    name: json.loads((files("service.boats") / "demo" / f"{name}.json").read_text("utf-8"))
    for name in ("demo-6m", "demo-7m", "demo-8m")
}


@pytest.fixture
def data() -> dict[str, Any]:
    """The 7 m boat of the demo fleet, to be changed at will."""
    return copy.deepcopy(DEMO["demo-7m"])


def load(data: dict[str, Any]) -> Boat:
    boat = BoatSchema().load(data)
    assert isinstance(boat, Boat)
    return boat


def refused(data: dict[str, Any]) -> Any:
    with pytest.raises(ValidationError) as caught:
        BoatSchema().load(data)
    return caught.value.messages


def test_everything_inside_is_si(data: dict[str, Any]) -> None:
    boat = load(data)
    assert boat.propulsion is Propulsion.INBOARD
    assert boat.light.mass == 2200.0
    assert boat.fuel.capacity == 0.19
    tank = boat.tanks[0]
    assert (tank.id, tank.capacity, tank.max_fill) == ("aft-port", 0.36, 1.1)
    assert tank.fill_rate == pytest.approx(0.075 / 60)
    assert boat.plates.port is not None
    assert boat.plates.port.max_angle == pytest.approx(math.radians(38))
    assert boat.limits == Limits(16, 1360.0, 1700.0, includes_ballast=False)


def test_us_units_are_read_alike() -> None:
    data = {
        "propulsion": "v_drive",
        "length_overall": 23,
        "beam": 8.4,
        "hull": {
            "particulars": {
                "waterline_length": "20 ft",
                "chine_beam": "86 in",
                "depth": 3.7,
                "deadrise": 19,
            }
        },
        "light": {"mass": 4850, "x": 9, "y": 0, "z": 2.4},
        "fuel": {"capacity": 50, "x": 6, "y": 0, "z": "46 cm"},
        "tanks": [{"id": "aft", "capacity": 95, "x": 2, "y": 1.5, "z": 2, "fill_rate": 20}],
        "seats": [{"id": "wheel", "x": 10, "y": -2, "z": 3, "role": "driver"}],
        "limits": {"load_mass": 3750},
    }
    with using(System.US):
        boat = load(data)
    assert boat.length_overall == pytest.approx(23 * 0.3048, rel=1e-15)
    assert boat.light.mass == pytest.approx(4850 * 0.45359237, rel=1e-15)
    assert boat.fuel.capacity == pytest.approx(50 * 231 * 0.0254**3, rel=1e-15)
    assert boat.fuel.z == 0.46
    assert boat.tanks[0].fill_rate == pytest.approx(20 * 231 * 0.0254**3 / 60, rel=1e-15)
    assert boat.limits == Limits(load_mass=1700.9713875)
    assert boat.hull.sheer[0, 2] == pytest.approx(3.7 * 0.3048)


def test_what_is_left_out_is_unknown(data: dict[str, Any]) -> None:
    for name in ("id", "name", "limits", "plates", "tanks"):
        del data[name]
    data["seats"] = [{"id": "s", "x": 3, "y": 0, "z": 1, "role": "driver"}]
    boat = load(data)
    assert boat.id == "inline"
    assert boat.limits == Limits(None, None, None, None)
    assert boat.plates.centre is boat.plates.port is boat.plates.starboard is None
    assert (boat.seats[0].places, boat.seats[0].faces) == (1, None)
    assert not boat.tanks


@pytest.mark.parametrize(
    ("x", "role"),
    [(0.5, "stern"), (1.39, "stern"), (1.41, "cockpit"), (4.66, "cockpit"), (4.67, "bow")],
)
def test_a_seat_without_a_role_goes_by_its_place(data: dict[str, Any], x: float, role: str) -> None:
    """The boat is 7 m: stern to 1.4 m, bow from 4.667 m; whatever the seat is called."""
    for name in ("observer", "helm2", "bow"):
        data["seats"][2] = {"id": f"{name}-x", "x": x, "y": 0, "z": 1}
        assert load(data).seats[2].role == role


def test_a_seat_has_a_role_and_a_direction(data: dict[str, Any]) -> None:
    data["seats"][4] |= {"role": "stern", "faces": "forward"}
    seat = load(data).seats[4]
    assert (seat.role, seat.faces, seat.can_watch) == (SeatRole.STERN, Faces.FORWARD, False)
    data["seats"][4] |= {"role": None, "faces": None}
    seat = load(data).seats[4]
    assert (seat.role, seat.faces, seat.can_watch) == (SeatRole.COCKPIT, None, True)


@pytest.mark.parametrize("id_", ["helm", "driver", "a"])
def test_a_boat_without_a_drivers_seat_is_refused_and_kept_as_before(
    data: dict[str, Any], id_: str
) -> None:
    data["seats"][0] = {"id": id_, "x": 3.3, "y": -0.6, "z": 1.05}
    fault = 'no seat here is the driver\'s: give the seat at the wheel "role": "driver".'
    assert refused(data) == {"seats": [fault]}
    assert KeptBoatSchema().load(data).seats[0].role is SeatRole.COCKPIT


def test_a_boat_without_seats_is_refused_and_kept_as_before(data: dict[str, Any]) -> None:
    data["seats"] = []
    assert "driver" in refused(data)["seats"][0]
    assert KeptBoatSchema().load(data).seats == ()
    del data["seats"]
    form = 'is missing: give a list of seats, one of them with "role": "driver".'
    assert refused(data) == {"seats": [form]}
    assert KeptBoatSchema().load(data).seats == ()


def test_the_bow_may_have_limits_of_its_own(data: dict[str, Any]) -> None:
    data["limits"] |= {"bow_persons": 4, "bow_mass": "700 lb"}
    limits = load(data).limits
    assert limits.bow_persons == 4
    assert limits.bow_mass == pytest.approx(700 * 0.45359237)


def test_a_boat_may_say_the_step_of_its_gauges(data: dict[str, Any]) -> None:
    assert load(data).fill_step is None
    data["fill_step"] = "5 %"
    assert load(data).fill_step == 0.05
    data["fill_step"] = 0
    assert "5 to 25 %" in refused(data)["fill_step"][0]


def test_every_seat_of_the_demo_fleet_has_its_role(fleet: Fleet) -> None:
    for boat in fleet:
        roles = [seat.role for seat in boat.seats]
        assert (roles.count(SeatRole.DRIVER), roles.count(SeatRole.OBSERVER)) == (1, 1)
        assert all(seat.faces is not None for seat in boat.seats)
        by_place = {role_by_place(seat.x, boat.length_overall) for seat in boat.seats}
        assert by_place == set(SeatRole) - {SeatRole.DRIVER, SeatRole.OBSERVER}
        for seat in boat.seats:
            if seat.role not in (SeatRole.DRIVER, SeatRole.OBSERVER):
                assert seat.role is role_by_place(seat.x, boat.length_overall)


def test_null_limits_are_unknown(data: dict[str, Any]) -> None:
    data["limits"] = dict.fromkeys(data["limits"])
    assert load(data).limits == Limits()


STATIONS: list[dict[str, Any]] = [
    {"x": 0.0, "points": [[0, 0], [1.1, 0.4], [1.2, 1.1]]},
    {"x": "10 ft", "points": [[0, 0], ["43 in", 0.4], [1.2, 1.1]]},
    {"x": 6.5, "points": [[0, 0.6], [0.2, 0.9], [0.3, 1.3]]},
]


def test_stations_are_the_exact_form(data: dict[str, Any]) -> None:
    data["hull"] = {"stations": STATIONS}
    boat = load(data)
    assert boat.hull.length == pytest.approx(6.5)
    assert boat.hull.stations[1][0] == pytest.approx(3.048)
    assert boat.hull.stations[1][1][1, 0] == pytest.approx(43 * 0.0254)


@pytest.mark.parametrize(
    ("name", "most", "unit"),
    [
        ("waterline_length", 7.0, "m"),
        ("length_overall", 7.0, "m"),
        ("chine_beam", 2.55, "m"),
        ("sheer_beam", 2.55, "m"),
        ("sheer_beam", 2.55, "ft"),
    ],
)
def test_a_hull_is_not_larger_than_its_boat(
    data: dict[str, Any], name: str, most: float, unit: str
) -> None:
    """The boat is 7 m by 2.55 m; a centimetre more is a rounding."""
    factor = {"m": 1.0, "ft": 0.3048}[unit]
    particulars = data["hull"]["particulars"]
    if name == "waterline_length":
        del particulars["length_overall"]  # which is not less
    particulars[name] = f"{(most + 0.005) / factor:.4f} {unit}"
    load(data)
    particulars[name] = f"{(most + 0.015) / factor:.4f} {unit}"
    assert list(refused(data)["hull"]["particulars"]) == [name]
    # One that was kept while that was no fault is found as before.
    assert isinstance(KeptBoatSchema().load(data), Boat)


def test_of_the_hull_only_what_was_told_is_too_large(data: dict[str, Any]) -> None:
    """Left out, the sheer is 1.15 chine beams wide, 2.76 m here, and the boat 2.55 m."""
    particulars = data["hull"]["particulars"]
    del particulars["sheer_beam"]
    particulars["chine_beam"] = 2.4
    assert load(data).hull.beam > data["beam"]


def test_stations_are_not_larger_than_their_boat(data: dict[str, Any]) -> None:
    stations = copy.deepcopy(STATIONS)
    stations[1]["points"][2] = [1.3, 1.1]
    stations[2]["x"] = 7.2
    data["hull"] = {"stations": stations}
    faults = refused(data)["hull"]["stations"]
    assert {number: list(fault) for number, fault in faults.items()} == {1: ["points"], 2: ["x"]}


@pytest.mark.parametrize(
    ("hull", "at"),
    [
        ({}, "_schema"),
        ({"stations": STATIONS, "particulars": DEMO["demo-7m"]["hull"]["particulars"]}, "_schema"),
        ({"stations": STATIONS[::-1]}, "_schema"),  # not forward of the one before
        ({"stations": STATIONS[:1]}, "stations"),
        ({"stations": STATIONS[:1] * 102}, "stations"),
        ({"stations": [{"x": 0, "points": [[0, 0]] * 61}, STATIONS[2]]}, "stations"),
        ({"stations": [{"x": 0, "points": [[0, 0], [1]]}, STATIONS[2]]}, "stations"),
        ({"stations": [{"x": 0, "points": [[0, 0], [-1, 1]]}, STATIONS[2]]}, "stations"),
        ({"stations": [{"points": [[0, 0], [1, 1]]}, STATIONS[2]]}, "stations"),
        ({"lines": []}, "lines"),
    ],
)
def test_a_hull_that_is_none_is_refused(data: dict[str, Any], hull: Any, at: str) -> None:
    data["hull"] = hull
    messages = refused(data)
    assert list(messages) == ["hull"]
    assert at in messages["hull"]


def test_a_hull_s_own_reason_is_passed_on(data: dict[str, Any]) -> None:
    data["hull"]["particulars"]["depth"] = 0.31  # below the chine
    assert "depth" in refused(data)["hull"]["_schema"][0]


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (("length_overall",), 2.9, "3 to 15 m"),
        (("length_overall",), "82 kg", "82 kg"),
        (("beam",), "2.5", "2.5"),
        (("propulsion",), "paddle", "inboard"),
        (("propulsion",), 1, "inboard"),
        (("colour",), "red", "no such field"),
        (("light", "mass"), True, "true"),
        (("light", "mass"), None, "null"),
        (("light", "x"), 7.5, "outside the boat's length"),
        (("fuel", "y"), -1.4, "outside the boat's beam"),
        (("tanks", 3, "capacity"), 0, "1 to 3000 L"),
        (("tanks", 3, "max_fill"), 99, "100 to 150 %"),
        (("tanks", 3, "id"), "aft-port", "earlier one"),
        (("tanks", 3, "id"), "aft port", "letters"),
        (("tanks", 3, "id"), "aft\n", "letters"),
        (("tanks", 3, "y"), 2.0, "outside the boat's beam"),
        (("seats", 2, "places"), 0, "1 to 10"),
        (("seats", 2, "places"), 2.5, "whole number"),
        (("seats", 2, "places"), "2", "whole number"),
        (("seats", 2, "places"), True, "whole number"),
        (("seats", 2, "places"), 10**400, "1 to 10"),
        (("seats", 2, "id"), "helm", "earlier one"),
        (("plates", "port", "max_angle"), 90, "1 to 60 °"),
        (("limits", "includes_ballast"), 1, "1 is not accepted: give true or false"),
        (("limits", "includes_ballast"), "yes", '"yes" is not accepted'),
        (("name",), "two\nlines", "one line"),
        (("name",), "turned \u202e round", "one line"),
        (("name",), "", "has 0 characters: give 1 to 80"),
        (("id",), "../etc", "letters"),
    ],
)
def test_a_fault_is_named_where_it_stands(
    data: dict[str, Any], path: tuple[str | int, ...], value: object, says: str
) -> None:
    parent: Any = data
    for step in path[:-1]:
        parent = parent[step]
    parent[path[-1]] = value
    messages = refused(data)
    for step in path:
        assert list(messages) == [step]
        messages = messages[step]
    assert says in messages[0]


def test_too_many_tanks_or_seats_are_refused(data: dict[str, Any]) -> None:
    data["tanks"] = [{**data["tanks"][0], "id": f"t{n}"} for n in range(21)]
    data["seats"] = [{**data["seats"][0], "id": f"s{n}"} for n in range(41)]
    assert set(refused(data)) == {"tanks", "seats"}


def test_the_demo_fleet_loads_and_is_symmetrical(fleet: Fleet) -> None:
    assert [boat.id for boat in fleet] == list(DEMO)
    for boat in fleet:
        other = mirrored(boat)
        assert boat.plates == other.plates
        assert boat.light == other.light
        assert {(t.x, t.y, t.z, t.capacity) for t in boat.tanks} == {
            (t.x, t.y + 0.0, t.z, t.capacity) for t in other.tanks
        }
        assert {(s.x, s.y, s.z, s.places) for s in boat.seats} == {
            (s.x, s.y + 0.0, s.z, s.places) for s in other.seats
        }


def test_the_demo_boats_seat_the_persons_they_are_rated_for(fleet: Fleet) -> None:
    for boat in fleet:
        assert boat.limits.persons is not None
        assert sum(seat.places for seat in boat.seats) >= boat.limits.persons


def test_the_fleet_finds_by_id_and_says_what_it_knows(fleet: Fleet) -> None:
    assert fleet.find("demo-8m").id == "demo-8m"
    with pytest.raises(UnknownBoatError) as caught:
        fleet.find("demo-9m")
    assert caught.value.known == ("demo-6m", "demo-7m", "demo-8m")
