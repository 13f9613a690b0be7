"""Kept set-ups in an outing: which one is used, and what is unknown of it stays unknown."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

import rules
from schemas.fleet import demo_fleet
from service.advice.kept import as_it_lay, chosen
from service.advice.loading_condition import surf_frame
from service.advice.requests import AdviceRequest, KeptSetup, Person, Rider, Stance
from service.advice.saved import FROUDE, beside
from service.advice.situation import Gaps
from service.boats.model import Side, mirrored
from service.outings.outing import plan_outing
from service.outings.setups import Origin
from tests.outings.boats import asked, body

RULES = rules.load()
BOAT = demo_fleet().find("demo-7m")
OTHER = demo_fleet().find("demo-8m")
CREW = (Person(80.0, "helm"), Person(70.0, "bench-port"), Person(60.0, "stern"))
TANKS = {"aft-port": 0.4, "aft-starboard": 0.9, "bow": 0.7}
KEPT = KeptSetup(
    "kept", BOAT, Side.STARBOARD, 5.1, {"centre": 0.4, "port": 0.8, "starboard": 0.0}, TANKS, CREW
)
REQUEST = AdviceRequest(BOAT, Rider(80.0, Stance.GOOFY), crew=CREW)


def outing(*own: KeptSetup) -> Any:
    request = asked(body(3, crew=[{"mass": 80, "seat": "helm"}]))
    goofy = next(n for n, r in enumerate(request.riders) if r.rider.stance is Stance.GOOFY)
    riders = list(request.riders)
    riders[goofy] = replace(riders[goofy], own=own)
    found = plan_outing(replace(request, riders=tuple(riders)), RULES)
    return next(line.turn for line in found.lines if line.turn.rider == goofy), found


def test_the_first_that_is_for_the_rider_s_side_is_used() -> None:
    port = replace(KEPT, id="port", surf_side=Side.PORT)
    turn, found = outing(port, KEPT, replace(KEPT, id="later"))
    assert turn.origin is Origin.SAVED
    assert found.trip.saved[turn.rider].id == "kept"
    assert turn.side is Side.STARBOARD
    turn, _ = outing(port)
    assert turn.origin is Origin.RULES
    turn, _ = outing(replace(KEPT, surf_side=None))
    assert (turn.origin, turn.side) == (Origin.SAVED, Side.STARBOARD)


def test_one_for_all_starts_from_each_one_s_own() -> None:
    request = asked(body(2, mode="one_for_all"))
    riders = tuple(replace(r, own=(replace(KEPT, surf_side=None),)) for r in request.riders)
    found = plan_outing(replace(request, riders=riders), RULES)
    side = found.lines[0].turn.side
    for turn in (line.turn for line in found.lines):
        assert turn.origin is Origin.COMPROMISE
        if found.trip.sides[turn.rider] is side:
            assert turn.setup.speed == pytest.approx(5.1, abs=0.2)


@pytest.mark.parametrize("other", [False, True], ids=["same boat", "other boat"])
@pytest.mark.parametrize("missing", ["", "crew", "tanks", "speed"])
def test_the_mirrored_set_up_is_answered_in_the_mirror(other: bool, missing: str) -> None:
    there = OTHER if other else BOAT
    unknown: dict[str, Any] = {missing: None} if missing else {}
    kept = replace(KEPT, boat=there, **unknown)
    one = beside(replace(REQUEST, saved=kept), RULES, Side.STARBOARD)
    swapped = {"port": "starboard", "starboard": "port"}

    def name(of: str) -> str:
        for side, turned in swapped.items():
            if of.endswith(side):
                return of.removesuffix(side) + turned
        return of

    def ids(boat: Any) -> Any:
        seen = mirrored(boat)
        return replace(
            seen,
            tanks=tuple(replace(tank, id=name(tank.id)) for tank in seen.tanks),
            seats=tuple(replace(seat, id=name(seat.id)) for seat in seen.seats),
        )

    crew = tuple(Person(p.mass, name(p.seat or "")) for p in CREW)
    kept = replace(
        kept,
        boat=ids(there),
        surf_side=Side.PORT,
        plates={"centre": 0.4, "port": 0.0, "starboard": 0.8},
        tanks=None if kept.tanks is None else {name(t): f for t, f in TANKS.items()},
        crew=None if kept.crew is None else crew,
    )
    asked_there = AdviceRequest(ids(BOAT), Rider(80.0, Stance.REGULAR), crew=crew, saved=kept)
    two = beside(asked_there, RULES, Side.PORT)
    assert one is not None
    assert two is not None
    left, right = one.concluded.setup, two.concluded.setup
    assert (left.speed, left.centre_plate) == (right.speed, right.centre_plate)
    assert (left.port_plate, left.starboard_plate) == (right.starboard_plate, right.port_plate)
    assert {t.tank: t.fill for t in left.tanks} == {name(t.tank): t.fill for t in right.tanks}
    assert one.at_rest.heel == pytest.approx(-(two.at_rest.heel or 0.0))


def test_nothing_is_corrected_by_what_is_unknown() -> None:
    """No crew told: the water is what it was, and nobody's mass is guessed."""
    kept = replace(KEPT, crew=None)
    gaps = Gaps(RULES)
    saved = as_it_lay(kept, BOAT, gaps, RULES)
    assert (saved.displacement, saved.heel, saved.trim) == (None, None, None)
    assert [gap.pointer for gap in gaps.assumed] == ["/saved/crew"]
    tanks = surf_frame(BOAT, Side.STARBOARD).tanks
    for people in (CREW, (*CREW, Person(90.0), Person(90.0))):
        found = beside(replace(REQUEST, crew=people, saved=kept), RULES, Side.STARBOARD)
        assert found is not None
        wanted = zip(tanks, found.concluded.aim.fills, strict=True)
        assert {tank.id: fill for tank, fill in wanted if fill} == TANKS


def test_an_unknown_displacement_is_carried_over_with_today_s_people() -> None:
    """Froude's law of similarity again, with both boats as dry as they are with the same people."""
    kept = replace(KEPT, boat=OTHER, crew=None)
    found = beside(replace(REQUEST, saved=kept, fuel=0.5), RULES, Side.STARBOARD)
    assert found is not None
    density = RULES.number("defaults.fuel_density")
    people = sum(person.mass or 0.0 for person in CREW)

    def dry(boat: Any) -> float:
        return float(boat.light.mass + 0.5 * boat.fuel.capacity * density + people)

    ratio = dry(BOAT) / dry(OTHER)
    assert found.concluded.setup.speed == pytest.approx(5.1 * ratio**FROUDE)
    assert found.saved.boat is OTHER


def test_heel_and_trim_are_those_of_the_boat_s_own_axes() -> None:
    """Two people on one side of a boat without water: she leans to that side."""
    crew = (Person(90.0, "bench-port"), Person(90.0, "bench-port"))
    saved = as_it_lay(replace(KEPT, crew=crew, tanks={}), BOAT, Gaps(RULES), RULES)
    assert saved.heel is not None
    assert math.degrees(saved.heel) < -0.5
    # The same without the water told: then nothing is known of how she lay.
    unknown = as_it_lay(replace(KEPT, crew=crew, tanks=None), BOAT, Gaps(RULES), RULES)
    assert unknown.heel is None


def test_what_was_told_goes_before_one_s_own() -> None:
    told = replace(KEPT, id="told", surf_side=Side.PORT)
    found = chosen(told, (KEPT,), BOAT, Side.STARBOARD, Gaps(RULES), RULES)
    assert found is not None
    assert found.id == "told"
    assert chosen(None, (), BOAT, Side.PORT, Gaps(RULES), RULES) is None
