"""Where a turn's numbers come from: the rules, a saved set-up, another boat, a compromise."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest

import rules
from service.advice.advise import advise
from service.outings.answer import Outing
from service.outings.begin import begin
from service.outings.setups import Origin, Turn, as_set, opened
from tests.outings.boats import asked, body, planned

RULES = rules.load()


def turn_of(outing: Outing, rider: int) -> Turn:
    return next(line.turn for line in outing.lines if line.turn.rider == rider)


def saved_of(turn: Turn, **changes: Any) -> dict[str, Any]:
    """What an answer of ``/v1/advice`` says of this turn, exactly."""
    advice = advise(turn.request, RULES)
    rest, setup = advice.at_rest, advice.setup
    assert rest.heel is not None
    assert rest.trim is not None
    return {
        "setup": {
            "surf_side": setup.surf_side.value,
            "speed": setup.speed * 3.6,
            "plates": {
                name: 100 * (getattr(setup, f"{name}_plate") or 0.0)
                for name in ("centre", "port", "starboard")
            },
            "tanks": [{"tank": t.tank, "fill": 100 * t.fill} for t in setup.tanks],
        },
        "displacement": rest.displacement,
        "heel": math.degrees(rest.heel),
        "trim": math.degrees(rest.trim),
    } | changes


def half_a_step(turn: Turn) -> float:
    """Kg that rounding each tank to a step may come to in all."""
    return 0.05 * 1000.0 * sum(tank.capacity for tank in turn.request.boat.tanks)


def test_a_turn_by_the_rules_is_the_advice_to_its_request() -> None:
    for line in planned(body(5)).lines:
        advice = advise(line.turn.request, RULES)
        assert line.turn.setup == advice.setup
        assert line.turn.verdict == advice.verdict
        assert line.turn.cautions == advice.cautions
        assert line.turn.origin is Origin.RULES


def test_a_saved_set_up_wins_over_the_rules() -> None:
    told = body(3)
    plain = turn_of(planned(told), 1)
    saved = saved_of(plain)
    saved["setup"]["speed"] += 0.5
    saved["setup"]["plates"]["centre"] = 33
    told["riders"][1]["saved"] = saved
    found = turn_of(planned(told), 1)
    assert found.origin is Origin.SAVED
    assert found.setup.speed == pytest.approx(plain.setup.speed + 0.5 / 3.6)
    assert found.setup.centre_plate == pytest.approx(0.33)
    assert [t.fill for t in found.setup.tanks] == [t.fill for t in plain.setup.tanks]


def test_a_saved_set_up_is_corrected_for_who_is_aboard_today() -> None:
    """Two people more: as nearly the same mass and attitude, so less water."""
    told = body(3)
    before = turn_of(planned(told), 1)
    told["riders"][1]["saved"] = saved_of(before)
    told["crew"] = 4
    after = turn_of(planned(told), 1)
    assert sum(t.mass for t in after.setup.tanks) == pytest.approx(
        sum(t.mass for t in before.setup.tanks) - 2 * 84, abs=half_a_step(after)
    )
    mass = before.attitude.loading.mass
    assert after.attitude.loading.mass == pytest.approx(mass, abs=half_a_step(after))
    assert after.aim.lean.wanted == pytest.approx(before.attitude.lean)
    assert after.aim.trim.wanted == pytest.approx(before.attitude.trim)
    assert after.attitude.lean is not None
    assert after.attitude.trim is not None
    assert after.aim.lean.holds(after.attitude.lean)
    assert after.aim.trim.holds(after.attitude.trim)


def test_a_set_up_of_another_boat_is_carried_over_by_physics() -> None:
    """Same heel and change of trim; water as displacement without it, speed as its sixth root.

    Speed over the square root of g times the cube root of the displaced volume stays the same:
    the Froude number on displacement, a textbook form of Froude's law.
    """
    there = turn_of(planned(body(3, "demo-8m")), 1)
    saved = saved_of(there, boat="demo-8m")
    told = body(3, "demo-7m")
    told["riders"][1]["saved"] = saved
    found = turn_of(planned(told), 1)
    assert found.origin is Origin.CARRIED_OVER

    def dry(turn: Turn) -> float:
        return turn.attitude.loading.mass - sum(t.mass for t in turn.setup.tanks)

    def froude(turn: Turn) -> float:
        return turn.setup.speed / math.sqrt(9.80665 * math.cbrt(dry(turn) / 1000.0))

    assert froude(found) == pytest.approx(froude(there), rel=1e-6)
    asked_for = sum(
        f * tank.capacity for f, tank in zip(found.aim.fills, found.request.boat.tanks, strict=True)
    )
    before = sum(t.volume for t in there.setup.tanks)
    assert asked_for / dry(found) == pytest.approx(before / dry(there), rel=1e-6)
    assert found.aim.lean.wanted == pytest.approx(there.attitude.lean)
    level = [
        opened(begin(asked(body(3, boat)), RULES), 1, turn.fuel).level or 0.0
        for boat, turn in (("demo-7m", found), ("demo-8m", there))
    ]
    change = (there.attitude.trim or 0.0) - level[1]
    assert found.aim.trim.wanted - level[0] == pytest.approx(change, abs=0.02)


def test_a_set_up_carried_to_a_boat_alike_stays_as_it_is() -> None:
    """The same boat under another id."""
    told = body(3)
    before = turn_of(planned(told), 1)
    from tests.advice.requests_made import BOATS

    told["riders"][1]["saved"] = saved_of(before, boat=BOATS["demo-7m"] | {"id": "twin"})
    found = turn_of(planned(told), 1)
    assert found.origin is Origin.CARRIED_OVER
    assert found.setup.speed == pytest.approx(before.setup.speed)
    assert sum(t.mass for t in found.setup.tanks) == pytest.approx(
        sum(t.mass for t in before.setup.tanks), abs=half_a_step(found)
    )


@pytest.mark.parametrize("mode", ["one_for_all", "one_per_side"])
def test_a_common_set_up_leaves_the_tanks_alone(mode: str) -> None:
    found = planned(body(6, mode=mode))
    groups: dict[str, set[Any]] = {}
    for line in found.lines:
        setup = line.turn.setup
        common = (setup.speed, setup.centre_plate, setup.port_plate, setup.starboard_plate,
                  line.turn.stand.fills)  # fmt: skip
        groups.setdefault(setup.surf_side.value, set()).add(common)
        assert line.turn.origin is Origin.COMPROMISE
    assert all(len(common) == 1 for common in groups.values())
    assert len(groups) == (1 if mode == "one_for_all" else 2)
    pumped = [bool(line.between.pumps) for line in found.lines]
    assert sum(pumped) == 1 + found.side_changes
    assert found.side_changes == len(groups) - 1
    assert [loss.other_side for loss in found.losses].count(True) == (
        2 if mode == "one_for_all" else 0
    )


def test_a_common_set_up_has_the_least_squares_to_each_ones_own() -> None:
    found = planned(body(6, mode="one_per_side"))
    common = {line.turn.rider: line.turn.setup for line in found.lines}
    speeds: dict[Any, list[float]] = {}
    for loss in found.losses:
        setup = common[loss.rider]
        speeds.setdefault(setup.surf_side, []).append(loss.speed)
    for departures in speeds.values():
        # Of a sum of squares the derivative: zero but for the step of 0.1 km/h.
        assert abs(sum(departures)) <= len(departures) * 0.05 / 3.6 + 1e-9


def test_where_the_mean_breaks_a_limit_the_nearest_that_does_not_is_taken() -> None:
    """Against every fill of two tanks in whole steps, limits by the hydrostatics."""
    from service.outings.compromise import _margin, _within_limits
    from tests.advice.requests_made import BOATS

    boat = BOATS["demo-6m"] | {"id": "two-tanks"}
    boat["tanks"] = [
        {"id": "port", "capacity": 900, "x": 0.6, "y": 0.5, "z": 0.6, "length": 0, "width": 0},
        {
            "id": "starboard",
            "capacity": 500,
            "x": 2.0,
            "y": -0.5,
            "z": 0.6,
            "length": 0,
            "width": 0,
        },
    ]
    told = body(2, total_time=None)
    told["boat"] = boat
    trip = begin(asked(told), RULES)
    cases = [opened(trip, rider, 0.5, trip.sides[0]) for rider in range(2)]
    # In the surf frame, sorted by place.
    mean = np.array([0.95, 0.9])
    assert min(_margin(trip, case, mean) for case in cases) < 0.0
    found = _within_limits(trip, cases, mean)
    assert min(_margin(trip, case, found) for case in cases) >= 0.0
    tanks = [tank.id for tank in cases[0].case.condition.boat.tanks]
    assert as_set(cases[0], dict(zip(tanks, found.tolist(), strict=True))).attitude.floats
    away = float(np.sum((found - mean) ** 2)) ** 0.5
    steps = np.arange(0.0, 1.001, 0.1)
    assert found * 10.0 == pytest.approx(np.round(found * 10.0))
    nearer = [
        fills for fills in itertools.product(steps, steps)
        if float(np.hypot(fills[0] - mean[0], fills[1] - mean[1])) < away - 1e-6
    ]  # fmt: skip
    assert nearer
    for fills in nearer:
        assert min(_margin(trip, case, np.array(fills)) for case in cases) < 0.0
