"""Movable loads in an outing: where they lie for each turn, who shifts them when, and the time."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import pytest

import rules
from service.advice.advise import advise
from service.advice.changeover import OnTheWay, changeover
from service.advice.loading_condition import attitude
from service.outings.answer import Outing
from service.outings.begin import begin
from service.outings.between import Between, between, least
from service.outings.ordering import EARLY
from service.outings.outing import _planned
from service.outings.setups import as_set, opened
from service.outings.staying import better
from service.outings.steps import CARRY, carrying
from service.outings.trip import Stand
from tests.advice.requests_made import BOATS
from tests.outings.boats import asked, planned
from tests.outings.loaded import PARTIES, party

RULES = rules.load()


@pytest.fixture(scope="module")
def outings() -> dict[str, Outing]:
    """Each with its loads shifted, whether or not it is the better for it."""
    return {name: _planned(begin(asked(told), RULES)) for name, told in PARTIES.items()}


def changes_of(outing: Outing) -> list[Between]:
    return [*(line.between for line in outing.lines), outing.home.between]


def stands_of(outing: Outing) -> dict[int, Stand]:
    stands = {line.turn.rider: line.turn.stand for line in outing.lines}
    return stands | {-2: outing.trip.now, -1: outing.home.stand}


@pytest.mark.parametrize("name", PARTIES)
def test_no_order_takes_less_with_loads_to_shift(outings: dict[str, Outing], name: str) -> None:
    """Every order, each change-over put to the hydrostatics by itself."""
    outing = outings[name]
    assert any(change.shifts for change in changes_of(outing))
    trip, stands, fuel = outing.trip, stands_of(outing), outing.lines[0].turn.fuel
    riders = range(len(trip.riders))
    time = {
        (a, b): between(trip, stands[a], stands[b], fuel).milliseconds
        for a in (-2, *riders) for b in (*riders, -1) if a != b and (a, b) != (-2, -1)
    }  # fmt: skip
    assert all(least(trip, stands[a], stands[b]) <= exact for (a, b), exact in time.items())

    def cost(order: tuple[int, ...]) -> int:
        late = sum(EARLY.get(trip.filled[r].level, 0) * n for n, r in enumerate(order))
        return late + sum(time[pair] for pair in itertools.pairwise((-2, *order, -1)))

    found = tuple(line.turn.rider for line in outing.lines)
    assert cost(found) == min(map(cost, itertools.permutations(riders)))
    assert outing.cost == outing.bound == cost(found) / 1000.0


@pytest.mark.parametrize("name", PARTIES)
def test_a_turn_has_its_loads_where_advice_has_them(outings: dict[str, Outing], name: str) -> None:
    trip = outings[name].trip
    for line in outings[name].lines:
        advice = advise(line.turn.request, RULES)
        assert line.turn.setup == advice.setup
        away = {load.name: load.goal for load in advice.setup.loads}
        lying = {load.name: seat for load, seat in trip.lying(line.turn.stand)}
        assert lying == {load.name: away.get(load.name) for load in trip.request.loads}


@pytest.mark.parametrize("name", PARTIES)
def test_each_change_over_brings_the_loads_where_the_next_turn_has_them(
    outings: dict[str, Outing], name: str
) -> None:
    outing = outings[name]
    now = dict.fromkeys((load.name for load in outing.trip.movable), None)
    for line, change in zip([*outing.lines, None], changes_of(outing), strict=True):
        for step in change.shifts:
            assert now[step.load] == step.origin
            now[step.load] = step.goal
        stand = line.turn.stand if line else outing.home.stand
        assert now == {load.name: seat for load, seat in outing.trip.lying(stand)}
        names = [step.load for step in change.shifts]
        assert len(names) == len(set(names))


@pytest.mark.parametrize("name", PARTIES)
def test_every_state_on_the_way_is_safe_and_has_everything_aboard(
    outings: dict[str, Outing], name: str
) -> None:
    """Each state floated here again."""
    outing = outings[name]
    trip, number = outing.trip, outing.trip.base.number
    all_told = math.fsum(load.mass for load in trip.request.loads)
    for line, change in zip([*outing.lines, None], changes_of(outing), strict=True):
        fuel = line.fuel[0] if line else outing.lines[-1].fuel[1]
        assert not change.broken
        assert len(change.states) >= 1 + len(change.shifts)
        for state in change.states:
            weights = replace(state, fuel=fuel).weights()
            gear = math.fsum(w.mass for w in weights if w.name.startswith("load "))
            assert gear == pytest.approx(all_told)
            there = attitude(trip.seen.boat, weights, trip.seen.density)
            assert there.floats
            assert there.freeboard is not None
            assert there.freeboard.least >= number("attitude.freeboard_stop")
            assert abs(there.lean or 0.0) <= number("attitude.lean_stop")
        goal = line.turn.stand if line else outing.home.stand
        assert change.states[-1].loads == trip.condition(goal, 0.5).loads


def test_shifting_takes_its_time_and_heavy_loads_take_longer(outings: dict[str, Outing]) -> None:
    """Common practice; in parts of the reference mass of ISO 11228-1, 25 kg, from memory."""
    assert [carrying(mass) / CARRY for mass in (0, 5, 25, 26, 60, 100)] == [1, 1, 1, 2, 3, 4]
    shifting = [c for o in outings.values() for c in changes_of(o) if c.shifts]
    alone = 0
    for change in shifting:
        hands = math.fsum(step.seconds for step in change.shifts)
        assert change.seconds >= hands - 1e-9
        if not change.pumps:
            alone += 1
            assert change.seconds - hands == pytest.approx(
                10.0 * round((change.seconds - hands) / 10)
            )
        elif change.settling:
            assert change.seconds >= change.pumping
        else:
            assert change.seconds >= hands + change.pumping - 1e-9
    assert alone


@pytest.mark.parametrize("name", PARTIES)
def test_loads_move_only_where_the_outing_is_the_better_for_it(
    outings: dict[str, Outing], name: str
) -> None:
    """Against the same with no load movable: a turn out of its bands, or less time."""
    told = json.loads(json.dumps(PARTIES[name]))
    for load in told["loads"]:
        load["movable"] = False
    found, still, shifting = planned(PARTIES[name]), planned(told), outings[name]
    assert not any(change.shifts for change in changes_of(still))
    off = [
        {
            turn.rider: abs(turn.aim.lean.off(turn.attitude.lean or 0.0))
            + abs(turn.aim.trim.off(turn.attitude.trim or 0.0))
            for turn in (line.turn for line in outing.lines)
        }
        for outing in (shifting, still)
    ]
    assert max(off[0].values()) == 0.0
    out = max(off[1][rider] for rider in off[0]) > 0.1
    assert found.trip.shifting == (out or shifting.cost < still.cost)
    said = {gap.pointer: gap.value for gap in found.trip.assumed}
    assert said.get("/loads/*/movable") == (None if found.trip.shifting else "stay")
    if not found.trip.shifting:
        assert found.cost == still.cost
        assert [line.turn.rider for line in found.lines] == [
            line.turn.rider for line in still.lines
        ]
        assert all(seat is None for line in found.lines for seat in line.turn.stand.bags)


def test_a_load_is_brought_back_to_where_it_was_told(outings: dict[str, Outing]) -> None:
    """The last step of the order leaves the boat as she lies with the load in its own place."""
    outing = outings["pair"]
    trip, fuel = outing.trip, 0.5
    away = next(line.turn.stand for line in outing.lines if any(line.turn.stand.bags))
    stand = replace(away, bags=(None,) * len(away.bags))
    start, end = (trip.condition(one, fuel, away.places) for one in (away, stand))
    way = changeover(start, end, OnTheWay(-9.0, 90.0, -9.0))
    assert [step.goal for step in way.steps] == [None] * sum(map(bool, away.bags))
    everybody = trip.lies(replace(stand, off=None), fuel)
    assert way.steps[-1].after.lean == pytest.approx(everybody.lean, abs=1e-6)
    assert way.steps[-1].after.trim == pytest.approx(everybody.trim, abs=1e-6)


def test_a_turn_that_would_lean_the_wrong_way_is_worth_the_time() -> None:
    """Without a tank only loads and people balance the boat, and the people are few."""
    boat = BOATS["demo-7m"] | {"tanks": []}
    told = party("demo-7m", "50g 55g", (100, 1.5, 0.9), (60, 2.5, 0.9)) | {"boat": boat}
    found = planned(told)
    still = planned(told | {"loads": [load | {"movable": False} for load in told["loads"]]})
    leans = [
        [line.turn.aim.lean.off(line.turn.attitude.lean or 0.0) for line in one.lines]
        for one in (found, still)
    ]
    assert max(map(abs, leans[0])) <= 0.1 < max(map(abs, leans[1]))
    assert found.cost > still.cost


def test_of_two_alike_the_one_that_carries_nothing_is_taken(outings: dict[str, Outing]) -> None:
    one, other = outings["four"], replace(outings["four"])
    assert better(one, other) is other
    assert better(one, replace(other, cost=one.cost + 1.0)) is one
    riding = tuple(time - 60.0 for time in one.riding)
    assert better(one, replace(other, riding=riding)) is one


def test_a_common_set_up_leaves_loads_alone_and_says_so() -> None:
    for mode in ("one_per_side", "one_for_all"):
        found = planned(PARTIES["six"] | {"mode": mode})
        assert not any(change.shifts for change in changes_of(found))
        assert {gap.pointer: gap.value for gap in found.trip.assumed}["/loads/*/movable"] == "stay"
        trip = found.trip
        case = opened(trip, 0, 0.5)
        plan = as_set(case, dict.fromkeys(trip.tanks, 0.0))
        gear = [w.mass for w in plan.condition.weights() if w.name.startswith("load ")]
        assert sorted(gear) == [40.0, 100.0, 100.0]


def test_loads_alike_are_told_apart_and_none_is_lost() -> None:
    told = party("demo-6m", "40g 45r 50g", *[(40, 2.5, -0.9)] * 3)
    found = _planned(begin(asked(told), RULES))
    for stand in stands_of(found).values():
        assert [load.name for load, _ in found.trip.lying(stand)] == ["bag 1", "bag 2", "bag 3"]
        assert len(stand.bags) == 3
