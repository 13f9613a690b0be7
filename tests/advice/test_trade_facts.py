"""Facts of the trade through the HTTP API on the demo boat. Each one: common practice."""

from __future__ import annotations

from typing import Any

import pytest

from tests.advice.conftest import Ask


def off_side(answer: dict[str, Any]) -> str:
    return "starboard" if answer["setup"]["surf_side"] == "port" else "port"


def off_plate(answer: dict[str, Any]) -> float:
    plate: float = answer["setup"]["plates"][off_side(answer)]
    return plate


@pytest.mark.parametrize(("stance", "side"), [("regular", "port"), ("goofy", "starboard")])
def test_left_foot_forward_rides_port_and_right_foot_starboard(
    ask: Ask, stance: str, side: str
) -> None:
    assert ask(rider={"stance": stance})["setup"]["surf_side"] == side


@pytest.mark.parametrize("stance", ["regular", "goofy"])
def test_only_the_plate_on_the_off_side_goes_down(ask: Ask, stance: str) -> None:
    answer = ask(rider={"stance": stance})
    assert answer["setup"]["plates"][answer["setup"]["surf_side"]] == 0
    assert off_plate(answer) > 0


def test_a_light_crew_takes_65_to_70_percent_of_plate(ask: Ask) -> None:
    assert 65 <= off_plate(ask(crew=3)) <= 70


@pytest.mark.parametrize("level", ["first_time", "beginner", "intermediate", "advanced", "expert"])
@pytest.mark.parametrize("board", ["skim", "surf"])
@pytest.mark.parametrize("crew", [12, 13, 14, 15, 16])
def test_a_large_crew_takes_80_to_90_percent_of_plate(
    ask: Ask, crew: int, board: str, level: str
) -> None:
    assert 80 <= off_plate(ask(crew=crew, rider={"board": board, "level": level})) <= 90


def test_one_person_more_never_lowers_the_off_side_plate(ask: Ask) -> None:
    plates = [off_plate(ask(crew=crew)) for crew in range(1, 31)]
    assert plates == sorted(plates)


@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
def test_more_gear_never_lowers_the_off_side_plate(ask: Ask, boat: str) -> None:
    plates = [
        off_plate(ask(boat=boat, loads=[{"mass": mass, "x": 1.0, "y": 0.0, "z": 0.8}]))
        for mass in range(0, 1001, 100)
    ]
    assert plates == sorted(plates)
    assert plates[0] < plates[-1]


def test_too_little_plate_is_watched_for_as_white_water_along_the_crest(ask: Ask) -> None:
    looks = {seen["look"]: seen["lever"] for seen in ask()["watch_for"]}
    levers = [lever for look, lever in looks.items() if "white water along the crest" in look]
    assert levers
    assert "plate down" in levers[0]


def test_the_centre_plate_stays_in_its_normal_range(ask: Ask) -> None:
    for mass in (15, 40, 60, 80, 100, 140, 200):
        for board in ("skim", "surf"):
            for level in ("first_time", "expert"):
                rider = {"mass": mass, "board": board, "level": level}
                assert 20 <= ask(rider=rider)["setup"]["plates"]["centre"] <= 80


def test_the_middle_of_the_centre_plate_is_55(ask: Ask) -> None:
    lines = ask()["accounts"]["plates.centre"]["lines"]
    assert lines[0]["kind"] == "base"
    assert lines[0]["change"] == 55


def test_centre_plate_down_for_skim_boards_light_riders_and_newcomers(ask: Ask) -> None:
    def centre(**rider: Any) -> float:
        plate: float = ask(rider={"board": "surf"} | rider)["setup"]["plates"]["centre"]
        return plate

    assert centre(board="skim") > centre(board="surf")
    by_mass = [centre(mass=mass) for mass in range(40, 131, 5)]
    assert by_mass == sorted(by_mass, reverse=True)
    assert by_mass[0] > by_mass[-1]
    levels = ["first_time", "beginner", "intermediate", "advanced", "expert"]
    by_level = [centre(level=level) for level in levels]
    assert by_level == sorted(by_level, reverse=True)
    assert by_level[0] > by_level[-1]


def test_evenly_full_tanks_with_a_tenth_let_out_of_the_off_side(ask: Ask) -> None:
    answer = ask(crew=8)
    off = off_side(answer)
    fills = {tank["tank"]: tank["fill"] for tank in answer["setup"]["tanks"]}
    accounts = answer["accounts"]
    for tank in fills:
        lines = accounts[f"tanks.{tank}"]["lines"]
        assert lines[0]["change"] == 100
        less = [line["change"] for line in lines if line["rule"] == "ballast.off_side_less"]
        assert less == ([-10] if tank.endswith(off) else [])


def test_the_boat_leans_slightly_to_the_surf_side(ask: Ask) -> None:
    for stance, sign in (("regular", -1), ("goofy", 1)):
        for crew in (3, 8, 12, 15):
            answer = ask(crew=crew, rider={"stance": stance})
            heel = answer["predicted"]["at_rest"]["heel"] * sign  # positive to the surf side
            assert 0.5 <= heel <= 2.5


def test_people_on_the_wrong_side_are_moved_or_outweighed(ask: Ask) -> None:
    off_bench = [{"mass": 84, "seat": "bench-port"}] * 3  # goofy: the off side is port
    answer = ask(crew=[{"mass": 84, "seat": "helm"}, *off_bench])
    assert answer["predicted"]["at_rest"]["heel"] >= 0.5
    moved = sum(g["people"] for g in answer["setup"]["seating"] if g["moves"])
    bled = [tank["fill"] for tank in answer["setup"]["tanks"] if tank["tank"].endswith("port")]
    assert moved or min(bled) < 90


def test_a_tank_that_can_take_it_may_be_overfilled(ask: Ask) -> None:
    answer = ask(rider={"mass": 130}, crew=4)
    surf = answer["setup"]["surf_side"]
    fills = {tank["tank"]: tank["fill"] for tank in answer["setup"]["tanks"]}
    assert fills[f"aft-{surf}"] > 100  # takes 110 %
    assert fills[f"mid-{surf}"] == 100  # does not


def test_the_speed_is_between_16_and_19_3_kmh(ask: Ask) -> None:
    for mass in (15, 82, 200):
        for wants in ([], ["longer", "less_push"], ["shorter", "more_push"]):
            for depth in (2, 30):
                for crew in (1, 16):
                    speed = ask(
                        crew=crew, water={"depth": depth}, rider={"mass": mass, "wants": wants}
                    )["setup"]["speed"]
                    assert 16.0 <= speed <= 19.3


def test_an_average_rider_starts_at_16_9_to_17_4_kmh(ask: Ask) -> None:
    assert 16.9 <= ask(crew=4, rider={"mass": 80})["setup"]["speed"] <= 17.4


def test_children_and_light_riders_slower_heavy_riders_and_hulls_faster(ask: Ask) -> None:
    def speed(crew: int = 4, **rider: Any) -> float:
        found: float = ask(crew=crew, rider=rider)["setup"]["speed"]
        return found

    assert speed(mass=35) < speed(mass=60) < speed(mass=80) < speed(mass=110)
    assert speed(crew=3) < speed(crew=15)


@pytest.mark.parametrize(("boat", "seats_aft"), [("demo-6m", 9), ("demo-7m", 14), ("demo-8m", 16)])
def test_people_sit_aft_as_long_as_there_are_seats(ask: Ask, boat: str, seats_aft: int) -> None:
    """People out of the bow before slowing or turning: so they had better not be there at all."""
    for crew in range(2, seats_aft):
        answer = ask(boat=boat, crew=crew)
        assert not {c["rule"] for c in answer["cautions"]} & {"attitude.people_forward"}, crew


def test_someone_told_to_sit_in_the_bow_moves_aft_with_a_second_one(ask: Ask) -> None:
    both = ask(crew=[{"seat": "helm"}, {"seat": "bow-port"}, {"seat": "bow-starboard"}])
    moved = [seat["from"] for seat in both["setup"]["seating"] if seat["moves"]]
    assert len(moved) == 1
    assert moved[0].startswith("bow-")


@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
@pytest.mark.parametrize("masses", [[32, 88, 40], [30, 35, 38, 61], [28, 44, 46], [31, 44]])
def test_a_child_does_not_drive(ask: Ask, boat: str, masses: list[int]) -> None:
    """Below 45 kg someone is too light to drive; where all are, the boat does not go."""
    answer = ask(boat=boat, crew=[{"mass": mass} for mass in masses])
    at_helm = [one["mass"] for one in answer["setup"]["seating"] if one["to"] == "helm"]
    if max(masses) < 45:
        assert (at_helm, answer["verdict"]) == ([], "do_not_go")
    else:
        assert max(at_helm) >= 45


@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
@pytest.mark.parametrize(
    "crew",
    [
        [{"mass": 84, "seat": "observer"}, {"mass": 84, "seat": "bench-port"}],
        [{"mass": 30}, {"mass": 84, "seat": "bench-port"}],
        [{"mass": 30, "seat": "stern"}, {"mass": 84, "seat": "bench-port"}],
    ],
)
def test_someone_grown_comes_from_a_seat_where_nobody_else_drives(
    ask: Ask, boat: str, crew: list[dict[str, Any]]
) -> None:
    """The boat does not move without a driver, whatever seats were told."""
    seating = ask(boat=boat, crew=crew)["setup"]["seating"]
    assert 84 in [group["mass"] for group in seating if group["to"] == "helm"]


def test_only_as_many_leave_their_seats_as_the_boat_needs_to_be_driven(ask: Ask) -> None:
    seating = ask(crew=[{"mass": 84, "seat": "observer"}, {"mass": 84, "seat": "bench-port"}])[
        "setup"
    ]["seating"]
    assert sum(group["from"] != group["to"] for group in seating) == 1
