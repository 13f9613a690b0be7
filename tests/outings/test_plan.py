"""The plan as a whole: who is aboard when, that it is safe, and that nothing better is there."""

from __future__ import annotations

import copy
import itertools
import math
from dataclasses import replace
from typing import Any

import pytest

import rules
from rules.model import Verdict
from service.advice.loading_condition import attitude
from service.advice.requests import Role
from service.outings.answer import Missed, Outing, Remark
from service.outings.begin import begin
from service.outings.between import Between, between
from service.outings.ordering import EARLY
from service.outings.trip import Stand
from tests.advice.requests_made import BOATS
from tests.outings.boats import asked, body, planned


@pytest.fixture(scope="module")
def outing() -> Outing:
    return planned(body(6, total_time=None))


def changes_of(outing: Outing) -> list[Between]:
    return [*(line.between for line in outing.lines), outing.home.between]


def test_no_order_of_the_riders_takes_less_change_over(outing: Outing) -> None:
    """Every one of the 720 orders, each change-over put to the hydrostatics by itself."""
    trip = outing.trip
    stand = {line.turn.rider: line.turn.stand for line in outing.lines}
    fuel = outing.lines[0].turn.fuel
    ends: dict[int, Stand] = {-2: trip.now, -1: outing.home.stand}
    time = {
        (a, b): between(trip, (stand | ends)[a], (stand | ends)[b], fuel).milliseconds
        for a in [-2, *stand] for b in [*stand, -1] if a != b and (a, b) != (-2, -1)
    }  # fmt: skip

    def cost(order: tuple[int, ...]) -> int:
        path = [-2, *order, -1]
        late = sum(EARLY.get(trip.filled[r].level, 0) * n for n, r in enumerate(order))
        return late + sum(time[pair] for pair in itertools.pairwise(path))

    found = tuple(line.turn.rider for line in outing.lines)
    assert cost(found) == min(map(cost, itertools.permutations(range(6))))
    assert outing.cost == outing.bound == cost(found) / 1000.0


def test_the_rider_is_off_the_boat_and_everybody_else_aboard(outing: Outing) -> None:
    """The mass afloat, summed here by hand."""
    trip, boat = outing.trip, outing.trip.boat
    everybody = math.fsum(person.kilograms for person in trip.people)
    assert everybody == pytest.approx(2 * 84 + sum(55 + 4 * n for n in range(6)))
    for line in outing.lines:
        tanks = dict(zip(trip.tanks, line.turn.stand.fills, strict=True))
        water = trip.seen.density * math.fsum(tanks[t.id] * t.capacity for t in boat.tanks)
        for fuel, lies in zip(line.fuel, line.lies, strict=True):
            petrol = 740.0 * fuel * boat.fuel.capacity
            aboard = everybody - trip.filled[line.turn.rider].mass
            assert lies.loading.mass == pytest.approx(boat.light.mass + petrol + aboard + water)
    dry = boat.light.mass + everybody
    for lies, fuel in ((outing.out, trip.fuel), (outing.home.lies, outing.lines[-1].fuel[1])):
        assert lies.loading.mass == pytest.approx(dry + 740.0 * fuel * boat.fuel.capacity)


def test_fuel_burns_off_while_someone_rides(outing: Outing) -> None:
    """25 L/h where nothing is told, which is listed among what was assumed."""
    trip = outing.trip
    assert "/fuel_use" in {gap.pointer for gap in trip.assumed}
    level = 0.6
    for line in outing.lines:
        assert line.fuel[0] == pytest.approx(level)
        level -= 25.0 / 3600.0 * (line.ends - line.starts) / (1000.0 * trip.boat.fuel.capacity)
        assert line.fuel[1] == pytest.approx(level)


def test_seats_change_hands_and_no_seat_is_overfull(outing: Outing) -> None:
    trip = outing.trip
    places = {seat.id: seat.places for seat in trip.boat.seats}
    for stand in [line.turn.stand for line in outing.lines] + [outing.home.stand, trip.now]:
        sitting = [spot for n, spot in enumerate(stand.places) if n != stand.off]
        assert all(sitting.count(seat) <= places[seat] for seat in places)
        assert None not in sitting
    for a, b in itertools.pairwise(outing.lines):
        back = trip.riders[a.turn.rider].name
        came = [m for m in b.between.moves if m.person == back and m.origin is None]
        assert [m.goal for m in came] == [b.turn.stand.places[trip.person_of(a.turn.rider)]]
    assert trip.people[0].seat == "helm"
    assert all(line.turn.stand.places[0] == "helm" for line in outing.lines)


@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
def test_no_state_on_the_way_breaks_a_limit(boat: str) -> None:
    """Each state floated here again, half-way through the steps as well."""
    outing = planned(body(5, boat))
    trip = outing.trip
    for line, change in zip([*outing.lines, None], changes_of(outing), strict=True):
        fuel = line.fuel[0] if line else outing.lines[-1].fuel[1]
        looked = [replace(state, fuel=fuel) for state in change.states]
        looked += [
            replace(a, fills=tuple((x + y) / 2 for x, y in zip(a.fills, b.fills, strict=True)))
            for a, b in itertools.pairwise(looked)
        ]
        for state in looked:
            assert [person.name for person in state.people] == [p.name for p in trip.people]
            there = attitude(trip.seen.boat, state.weights(), trip.seen.density)
            assert there.floats
            assert there.freeboard is not None
            assert there.freeboard.least >= trip.base.number("attitude.freeboard_stop")
            assert abs(there.lean or 0.0) <= trip.base.number("attitude.lean_stop")
        assert not change.broken


def test_each_change_over_ends_where_the_next_turn_begins(outing: Outing) -> None:
    trip, fills = outing.trip, outing.trip.now.fills
    for line, change in zip([*outing.lines, None], changes_of(outing), strict=True):
        goal = line.turn.stand if line else outing.home.stand
        now = dict(zip(trip.tanks, fills, strict=True))
        for pump in change.pumps:
            assert pump.fill == pytest.approx(now[pump.tank])
            tank = next(t for t in trip.boat.tanks if t.id == pump.tank)
            rate = tank.fill_rate if pump.volume > 0 else tank.drain_rate
            assert rate is not None
            assert pump.seconds == pytest.approx(abs(pump.volume) / rate)
            now[pump.tank] = pump.to_fill
        assert list(now.values()) == pytest.approx(list(goal.fills))
        fills = goal.fills


def test_pumps_run_together_unless_told_not_to() -> None:
    together, one_by_one = planned(body(4)), planned(body(4, pumps="one_by_one"))
    first = together.lines[0].between
    assert first.pumping == pytest.approx(max(p.seconds for p in first.pumps))
    assert first.in_sequence == pytest.approx(sum(p.seconds for p in first.pumps))
    assert together.pumping < 0.5 * one_by_one.pumping
    for change in changes_of(one_by_one):
        assert change.pumping == change.in_sequence


def test_the_way_home_is_level_and_dry_with_people_aft(outing: Outing) -> None:
    home, boat = outing.home, outing.trip.boat
    assert set(home.stand.fills) == {0.0}
    bow = {seat.id for seat in boat.seats if seat.x > boat.hull.x_min + boat.hull.length * 2 / 3}
    assert bow.isdisjoint(home.stand.places)
    assert abs(home.lies.lean or 0.0) <= outing.trip.base.number("balance.lean_band")


def test_the_timetable_has_no_gap(outing: Outing) -> None:
    clock = 0.0
    for number, line in enumerate(outing.lines):
        assert line.change == pytest.approx(clock)
        boarding = 60.0 * (2 if number else 1)
        assert line.starts == pytest.approx(clock + line.between.seconds + boarding)
        assert line.ends - line.starts == pytest.approx(15 * 60)
        clock = line.ends
    assert outing.home.ends == pytest.approx(clock + outing.home.between.seconds + 60.0)


@pytest.mark.parametrize(
    ("rider", "wish", "place"), [(0, "last", -1), (4, "first", 0), (3, "first", 0), (2, "last", -1)]
)
def test_a_place_wished_for_is_had(rider: int, wish: str, place: int) -> None:
    told = body(5)
    told["riders"][rider]["wishes"] = [wish]
    found = planned(told)
    assert found.lines[place].turn.rider == rider
    assert not [s for s in found.short if s.why is Missed.WISH]


def test_not_first_and_not_last_are_kept_and_two_firsts_are_told() -> None:
    told = body(4)
    plain = [line.turn.rider for line in planned(told).lines]
    told["riders"][plain[0]]["wishes"] = ["not_first"]
    told["riders"][plain[-1]]["wishes"] = ["not_last"]
    other = [line.turn.rider for line in planned(told).lines]
    assert other[0] != plain[0]
    assert other[-1] != plain[-1]
    told = body(4)
    told["riders"][0]["wishes"] = told["riders"][3]["wishes"] = ["first"]
    found = planned(told)
    assert [s.why for s in found.short if s.why is Missed.WISH] == [Missed.WISH]


def test_turns_are_split_with_a_rest_between() -> None:
    told = body(4)
    for rider in told["riders"]:
        rider |= {"turns": 2, "rest": 2, "minutes": 12}
    found = planned(told)
    order = [line.turn.rider for line in found.lines]
    assert sorted(order) == [0, 0, 1, 1, 2, 2, 3, 3]
    assert all(rider not in order[n + 1 : n + 3] for n, rider in enumerate(order))
    assert all(line.ends - line.starts == pytest.approx(360) for line in found.lines)
    assert not found.short
    told = body(2, total_time=None)
    for rider in told["riders"]:
        rider |= {"turns": 2, "rest": 2}
    assert Missed.REST in {s.why for s in planned(told).short}


def test_beginners_ride_early_where_it_costs_nothing() -> None:
    """Common practice: while the water is calm. Riders alike but for their level."""
    told = body(5, mode="one_for_all")
    levels = ("expert", "first_time", "expert", "beginner", "expert")
    for rider, level in zip(told["riders"], levels, strict=True):
        rider["rider"] |= {"mass": 70, "stance": "goofy", "board": "surf", "level": level}
    found = planned(told)
    assert [line.turn.rider for line in found.lines][:2] == [1, 3]


def test_what_does_not_fit_is_shared_out_and_said() -> None:
    told = body(5, total_time="70 min")
    told["riders"][1]["minutes"] = 5
    found = planned(told)
    assert found.home.ends <= 70 * 60
    assert found.riding[1] == 300.0  # a small wish is met in full
    rest = {found.riding[n] for n in (0, 2, 3, 4)}
    assert len(rest) == 1
    assert rest.pop() < 900
    assert {s.rider for s in found.short if s.why is Missed.SHORTER} == {0, 2, 3, 4}
    assert found.home.ends > 70 * 60 - 4 * 30 - 1  # no half minute is left over


def test_without_time_for_all_the_last_in_the_list_give_way() -> None:
    found = planned(body(6, total_time="32 min"))
    gone = [s.rider for s in found.short if s.why is Missed.NO_TURN]
    assert gone == list(range(6 - len(gone), 6))
    assert 0 < len(gone) < 6
    assert len(found.lines) == 6 - len(gone)
    assert found.home.ends <= 32 * 60
    assert all(line.ends - line.starts >= 240 for line in found.lines)
    none = planned(body(3, total_time="5 min"))
    assert not none.lines
    assert none.fairness is None
    assert len(none.short) == 3


def test_fuel_that_does_not_last_is_said() -> None:
    found = planned(body(4, fuel=10, fuel_use="40 L/h"))
    assert Remark.FUEL_OUT in {kind for kind, _ in found.remarks}
    assert Remark.FUEL_OUT not in {kind for kind, _ in planned(body(4)).remarks}


def test_an_overloaded_boat_does_not_go() -> None:
    """The maker's plate of this one says 12 people; with two of the crew these are 13."""
    assert planned(body(11, "demo-6m")).verdict.value == "do_not_go"


def test_what_is_unsafe_is_said_of_the_phase_it_is_in() -> None:
    """Every tank full, a heavy load aboard: out, riding, in between and home."""
    load = {"mass": 1900, "x": 1.0, "y": 0, "z": 0.8}
    found = planned(body(3, "demo-6m", loads=[load], ballast={"aft-port": 100, "centre": 100}))
    kinds = {kind for kind, _ in found.remarks}
    assert {Remark.UNSAFE_OUT, Remark.UNSAFE_RIDING, Remark.UNSAFE_HOME, Remark.BROKEN} <= kinds
    assert found.verdict.value == "do_not_go"
    assert not {kind for kind, _ in planned(body(3, "demo-6m")).remarks}


def test_fairness_is_that_of_jain() -> None:
    """(Σx)² / (n Σx²) of the parts; from memory, Jain, Chiu and Hawe 1984."""
    found = planned(body(6, total_time="32 min"))
    parts = [got / want for got, want in zip(found.riding, found.trip.wanted, strict=True)]
    assert found.fairness == pytest.approx(sum(parts) ** 2 / (6 * sum(p * p for p in parts)))
    assert planned(body(3)).fairness == pytest.approx(1.0)


def test_the_same_request_gets_the_same_plan() -> None:
    def told() -> list[Any]:
        found = planned(body(5))
        return [(line.turn.rider, line.turn.stand, line.starts, line.fuel) for line in found.lines]

    assert told() == told()


def test_a_rider_who_keeps_a_seat_keeps_it() -> None:
    told = body(3)
    told["riders"][0]["seat"] = "stern"
    found = planned(told)
    assert found.trip.people[2].seat == "stern"


@pytest.mark.parametrize(
    ("masses", "driver"), [([30, 85, 90], 2), ([30, 46, 40], 2), ([84, 30], 1)]
)
def test_no_child_of_the_crew_drives_where_someone_else_can(masses: list[int], driver: int) -> None:
    """The first of the crew who is grown enough, adults before youths (common practice)."""
    told = body(2, "demo-7m") | {"crew": [{"mass": mass} for mass in masses]}
    trip = begin(asked(told), rules.load())
    at_helm = [person.name for person in trip.people if person.seat == "helm"]
    assert f"crew {driver}" in at_helm  # others may sit beside
    assert [p.name for p in trip.people if p.role is Role.DRIVER] == [f"crew {driver}"]


@pytest.mark.parametrize("crew", [[{"mass": 32}], [{"mass": 30}, {"mass": 44}], [{"age": 15}]])
def test_a_crew_that_cannot_drive_does_not_go_and_no_rider_is_put_at_the_wheel(
    crew: list[dict[str, Any]],
) -> None:
    found = planned(body(2, "demo-7m") | {"crew": crew})
    assert found.verdict is Verdict.DO_NOT_GO
    assert Remark.NO_DRIVER in {kind for kind, _ in found.remarks}
    for line in found.lines:
        assert "crew.nobody_to_drive" in {warned.rule for warned in line.turn.cautions}
        assert not [p for p in line.turn.plan.people if p.seat == "helm"]


@pytest.mark.parametrize(
    ("crew", "driver"),
    [
        ([{"mass": 84, "seat": "stern"}], 1),
        ([{"mass": 30}, {"mass": 84, "seat": "stern"}], 2),
        ([{"mass": 84, "seat": "stern"}, {"mass": 84}], 2),
    ],
)
def test_someone_is_at_the_helm_whatever_seats_were_told(
    crew: list[dict[str, Any]], driver: int
) -> None:
    """From a seat only where nobody grown is without one (common practice)."""
    outing = planned(body(2, "demo-7m") | {"crew": crew})
    stands = [outing.trip.now, *(line.turn.stand for line in outing.lines), outing.home.stand]
    assert all(stand.places[driver - 1] == "helm" for stand in stands)


def test_an_outing_with_someone_standing_on_the_way_out_is_no_plain_go() -> None:
    """Nobody stands while one of them rides, but they ride out and home together."""
    told = body(7, "demo-7m")
    boat = copy.deepcopy(BOATS["demo-7m"])
    boat["seats"] = [seat for seat in boat["seats"] if seat["id"] in ("helm", "observer", "stern")]
    assert planned(told | {"boat": boat, "crew": 1}).verdict is Verdict.GO
    found = planned(told | {"boat": boat})
    assert None in found.trip.now.places
    assert found.verdict is Verdict.GO_WITH_CARE
    for line in found.lines:
        assert "people_and_load.more_people_than_places" in {
            caution.rule for caution in line.turn.cautions
        }
