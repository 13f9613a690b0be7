"""What is asked: for advice, and for the loading check alone."""

from __future__ import annotations

import json
import math
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError

from schemas.advice_request import AdviceRequestSchema
from schemas.loading_request import LoadingRequestSchema
from schemas.units import System
from service.advice.requests import (
    AdviceRequest,
    Board,
    Level,
    Load,
    LoadingRequest,
    Person,
    Rider,
    Stance,
    Water,
    WaterKind,
    Wish,
)
from service.boats.fleet import Fleet, UnknownBoatError
from service.boats.model import Side

SMALLEST = {
    "boat": "demo-7m",
    "crew": 8,
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"},
}


def load(fleet: Fleet, **changes: Any) -> AdviceRequest:
    asked = AdviceRequestSchema(fleet).load({**SMALLEST, **changes})
    assert isinstance(asked.request, AdviceRequest)
    return asked.request


def refused(fleet: Fleet, **changes: Any) -> Any:
    with pytest.raises(ValidationError) as caught:
        AdviceRequestSchema(fleet).load({**SMALLEST, **changes})
    return caught.value.messages


def test_the_smallest_request_of_the_contract(fleet: Fleet) -> None:
    asked = AdviceRequestSchema(fleet).load(SMALLEST)
    assert asked.system is System.METRIC
    assert asked.request == AdviceRequest(
        boat=fleet.find("demo-7m"),
        rider=Rider(82.0, Stance.GOOFY, Board.SKIM, Level.INTERMEDIATE),
        crew=(Person(),) * 8,
    )


def test_gaps_stay_gaps(fleet: Fleet) -> None:
    asked = AdviceRequestSchema(fleet).load({"boat": "demo-7m", "rider": {"stance": "regular"}})
    assert asked.request == AdviceRequest(
        boat=fleet.find("demo-7m"), rider=Rider(stance=Stance.REGULAR)
    )
    assert asked.request.crew is None
    assert asked.request.fuel is None


def test_the_full_request_in_us_units(fleet: Fleet) -> None:
    asked = AdviceRequestSchema(fleet).load(
        {
            "units": "us",
            "boat": "demo-7m",
            "crew": [
                {"mass": 180, "seat": "helm"},
                {"mass": "82 kg", "x": 10, "y": -2},
                {"mass": 120},
                {},
            ],
            "ballast": {"aft-port": 110, "bow": "25 %"},
            "loads": [{"mass": 50, "x": 1, "y": 0, "z": "30 in", "name": "bag", "movable": True}],
            "rider": {
                "mass": 180,
                "stance": "regular",
                "board": "surf",
                "level": "first_time",
                "wants": ["longer", "more_push"],
            },
            "water": {
                "kind": "salt",
                "temperature": 68,
                "depth": 20,
                "distance_to_shore": "150 m",
            },
            "fuel": 60,
            "surf_side": "starboard",
        }
    )
    # 1 lb = 0.45359237 kg, 1 ft = 0.3048 m: exact, so the products are too.
    assert asked.system is System.US
    assert asked.request == AdviceRequest(
        boat=fleet.find("demo-7m"),
        crew=(
            Person(mass=81.6466266, seat="helm"),
            Person(mass=82.0, x=3.048, y=-0.6096),
            Person(mass=54.4310844),
            Person(),
        ),
        ballast={"aft-port": 1.1, "bow": 0.25},
        loads=(Load(22.6796185, 0.3048, 0.0, 0.762, "bag", movable=True),),
        rider=Rider(
            81.6466266,
            Stance.REGULAR,
            Board.SURF,
            Level.FIRST_TIME,
            (Wish.LONGER, Wish.MORE_PUSH),
        ),
        water=Water(WaterKind.SALT, 20.0, 6.096, 150.0),
        fuel=0.6,
        surf_side=Side.STARBOARD,
    )


def test_one_request_s_units_are_not_the_next_one_s(fleet: Fleet) -> None:
    schema = AdviceRequestSchema(fleet)
    for units, mass in (("us", 100 * 0.45359237), ("metric", 100.0), ("us", 100 * 0.45359237)):
        asked = schema.load(
            {"units": units, "boat": "demo-7m", "rider": {"mass": 100, "stance": "goofy"}}
        )
        assert asked.request.rider.mass == pytest.approx(mass)
    with pytest.raises(ValidationError):
        schema.load({"units": "us", "boat": "demo-7m", "rider": {"mass": "x", "stance": "goofy"}})
    asked = schema.load({"boat": "demo-7m", "rider": {"mass": 100, "stance": "goofy"}})
    assert asked.request.rider.mass == 100.0


def test_a_boat_may_come_inline(fleet: Fleet) -> None:
    text = (files("service.boats") / "demo" / "demo-6m.json").read_text("utf-8")
    request = load(fleet, boat=json.loads(text), crew=[{"seat": "stern"}])
    assert request.boat.light == fleet.find("demo-6m").light


def test_an_inline_boat_s_faults_stand_under_boat(fleet: Fleet) -> None:
    messages = refused(fleet, boat={"propulsion": "oars", "sails": 2}, crew=[{"mass": 1}])
    assert "sails" in messages["boat"]
    assert "oars" in messages["boat"]["propulsion"][0]
    assert messages["boat"]["hull"] == ["is missing: give an object with particulars, stations."]
    assert "mass" in messages["crew"][0]


def test_an_unknown_boat_is_not_merely_invalid(fleet: Fleet) -> None:
    with pytest.raises(UnknownBoatError):
        load(fleet, boat="no-such-boat")


@pytest.mark.parametrize("crew", [0, []])
def test_someone_drives_while_someone_rides(fleet: Fleet, crew: Any) -> None:
    assert refused(fleet, crew=crew) == {"crew": ["someone has to stay aboard and drive."]}
    empty = LoadingRequestSchema(fleet).load({"boat": "demo-7m", "crew": crew})
    assert empty.request.crew == ()


def test_no_word_of_crew_is_unknown(fleet: Fleet) -> None:
    assert load(fleet, crew=None).crew is None
    assert load(fleet, crew=1).crew == (Person(),)


def test_a_stance_or_a_side_is_needed(fleet: Fleet) -> None:
    assert list(refused(fleet, rider={})) == ["rider"]
    assert list(refused(fleet, rider={})["rider"]) == ["stance"]
    assert load(fleet, rider={}, surf_side="port").surf_side is Side.PORT


@pytest.mark.parametrize(
    ("field", "value", "path", "says"),
    [
        ("boat", 7, (), "boat's id"),
        ("boat", None, (), "null"),
        ("crew", -1, (), "0 to 60"),
        ("crew", 61, (), "0 to 60"),
        ("crew", True, (), "number of people"),
        ("crew", "8", (), "number of people"),
        ("crew", 8.5, (), "number of people"),
        ("crew", {}, (), "number of people"),
        ("crew", [{}] * 61, (), "60"),
        ("crew", [8], (0,), "8 is not accepted: give an object with name, mass"),
        ("crew", [{"mass": 2.9}], (0, "mass"), "3 to 250 kg"),
        ("crew", [{"mass": "551.2 lb"}], (0, "mass"), "551.2 lb"),
        ("crew", [{"seat": "roof"}], (0, "seat"), '"roof"'),
        ("crew", [{"seat": ["helm"]}], (0, "seat"), "give 1 to 64 letters"),
        (
            "crew",
            [{"seat": "helm"}] * 3,
            (2, "seat"),
            "has 2 places, too few for person 1, person 2 and person 3",
        ),
        ("crew", [{"mass": 0}, {"seat": "roof"}], (1, "seat"), "roof"),
        ("crew", [{"x": 3.0}], (0, "y"), "together"),
        ("crew", [{"y": 0.5}], (0, "x"), "together"),
        ("crew", [{"x": 3.0, "y": 0, "seat": "helm"}], (0, "seat"), "not both"),
        ("crew", [{"x": 7.5, "y": 0}], (0, "x"), "length"),
        ("crew", [{"x": 3.0, "y": "-1.4 m"}], (0, "y"), "beam"),
        ("ballast", {"aft-port": 110.01}, ("aft-port",), "110"),
        ("ballast", {"mid-port": 101}, ("mid-port",), "100"),
        ("ballast", {"aft-port": -1}, ("aft-port",), "0 to 150 %"),
        ("ballast", {"aft-port": None}, ("aft-port",), "null"),
        ("ballast", {"aft-port": "80"}, ("aft-port",), '"80"'),
        ("ballast", {"aft-port": "80 L"}, ("aft-port",), "80 L"),
        ("ballast", {"keel": 0}, ("keel",), "aft-port"),
        ("ballast", [50], (), "[50] is not accepted: give an object of names"),
        ("loads", [{}], (0, "mass"), "is missing: give a number in kg"),
        ("loads", [{"mass": 2001, "x": 1, "y": 0, "z": 1}], (0, "mass"), "0 to 2000 kg"),
        ("loads", [{"mass": 5, "x": 9, "y": 0, "z": 1}], (0, "x"), "length"),
        ("loads", [{"mass": 1, "x": 1, "y": 0, "z": 1}] * 41, (), "40"),
        ("loads", {"mass": 1}, (), "list"),
        ("rider", None, (), "null"),
        ("rider", {"mass": 14, "stance": "goofy"}, ("mass",), "15 to 200 kg"),
        ("rider", {"mass": "11 mph", "stance": "goofy"}, ("mass",), "11 mph"),
        ("rider", {"stance": "switch"}, ("stance",), "regular, goofy"),
        ("rider", {"stance": []}, ("stance",), "regular, goofy"),
        ("rider", {"stance": "goofy", "level": "pro"}, ("level",), "first_time"),
        ("rider", {"stance": "goofy", "wants": ["bigger"]}, ("wants", 0), "steeper"),
        ("rider", {"stance": "goofy", "wants": ["longer"] * 2}, ("wants",), "once"),
        ("rider", {"stance": "goofy", "wants": "longer"}, ("wants",), "list"),
        ("water", {"kind": "brackish"}, ("kind",), "fresh, salt"),
        ("water", {"temperature": 41}, ("temperature",), "-2 to 40 °C"),
        ("water", {"temperature": "105 °F"}, ("temperature",), "105 °F"),
        ("water", {"depth": -0.2}, ("depth",), "0 to 300 m"),
        ("water", {"distance_to_shore": "21 km"}, ("distance_to_shore",), "0 to 20000 m"),
        ("fuel", 101, (), "0 to 100 %"),
        ("fuel", math.nan, (), "NaN"),
        ("surf_side", "left", (), "port, starboard"),
        ("units", "imperial", (), "metric, us"),
        ("units", ["us"], (), "metric, us"),
        ("colour", "red", (), "no such field here; accepted: units, boat, crew, "),
        ("angles", [10], (), "no such field"),
    ],
)
def test_a_fault_is_named_where_it_stands(
    fleet: Fleet, field: str, value: Any, path: tuple[Any, ...], says: str
) -> None:
    messages = refused(fleet, **{field: value})
    assert list(messages) == [field]
    messages = messages[field]
    for step in path:
        messages = messages[step]
    assert says in " ".join(messages)


def test_ranges_are_told_in_the_request_s_units(fleet: Fleet) -> None:
    messages = refused(fleet, units="us", rider={"mass": 32, "stance": "goofy"}, water={"depth": 1})
    assert "33.07 to 440.92 lb" in messages["rider"]["mass"][0]
    assert "ft" not in str(messages.get("water"))  # 1 ft is within the range


def test_the_range_that_is_told_is_accepted(fleet: Fleet) -> None:
    for mass in (33.07, 440.92):
        load(fleet, units="us", rider={"mass": mass, "stance": "goofy"})
    for mass in (33.06, 440.93):
        refused(fleet, units="us", rider={"mass": mass, "stance": "goofy"})


def test_all_faults_come_at_once(fleet: Fleet) -> None:
    messages = refused(fleet, crew=-1, fuel=200, rider={"mass": 1}, units="x", sails=1)
    assert set(messages) == {"crew", "fuel", "rider", "units", "sails"}
    assert set(messages["rider"]) == {"mass", "stance"}


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)
FIELDS = [*AdviceRequest.__slots__, "units", "other"]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # others use the cores too
@given(st.dictionaries(st.sampled_from(FIELDS), JSON_VALUES))
def test_whatever_comes_is_read_or_refused(fleet: Fleet, changes: dict[str, Any]) -> None:
    try:
        asked = AdviceRequestSchema(fleet).load({**SMALLEST, **changes})
    except (ValidationError, UnknownBoatError):
        return
    assert isinstance(asked.request, AdviceRequest)


def test_a_loading_request(fleet: Fleet) -> None:
    asked = LoadingRequestSchema(fleet).load(
        {"boat": "demo-6m", "crew": 0, "angles": [0, 90, "180°"], "ballast": {"centre": 100}}
    )
    assert asked.request == LoadingRequest(
        boat=fleet.find("demo-6m"),
        crew=(),
        ballast={"centre": 1.0},
        angles=(0.0, math.pi / 2, math.pi),
    )
    assert LoadingRequestSchema(fleet).load({"boat": "demo-6m"}).request.angles is None


@pytest.mark.parametrize(
    ("angles", "says"),
    [
        ([180.1], "0 to 180 °"),
        ([-1], "0 to 180 °"),
        ([1] * 38, "37"),
        ([], "37"),
        (["1 rad"], "rad"),
    ],
)
def test_angles_out_of_range(fleet: Fleet, angles: list[Any], says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        LoadingRequestSchema(fleet).load({"boat": "demo-6m", "angles": angles})
