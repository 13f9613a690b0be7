"""A party's fit, held against the advice itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

import rules
from rules.model import Stage, Verdict
from service.advice.advise import advise
from service.advice.requests import Rider, Role, Stance, Water
from service.boats.fleet import Fleet
from service.boats.model import Limits, SeatRole, Side
from service.bookings.fit import Party, everybody, first_request, fit
from tests.size import cases

NOON = datetime(2025, 7, 5, 12, tzinfo=UTC)
BASE = rules.load()
BOATS = cases(12, 30)
WIDE = Limits(persons=60, persons_mass=9999.0, load_mass=19999.0, includes_ballast=False)


def test_what_forbids_to_go_is_a_limit_or_how_the_boat_lies() -> None:
    """The short way of ``fit`` rests on it: no such rule asks about the rider."""
    for rule in BASE.rules.values():
        if rule.verdict is Verdict.DO_NOT_GO:
            assert rule.stage in (Stage.LIMITS, Stage.CHECKS), rule.id
            kinds = {field.path.partition(".")[0] for field in rule.facts}
            assert kinds <= {"boat", "load", "water", "attitude", "crew"}, rule.id


@pytest.mark.parametrize("number", range(4))
def test_whoever_is_told_to_fit_is_not_told_not_to_go(fleet: Fleet, number: int) -> None:
    """Over boats made heavier, taller and tender at random, most of them near their limits."""
    draw = Random(number)  # noqa: S311
    fits = 0
    for _ in range(BOATS):
        boat = draw.choice(list(fleet))
        light = replace(
            boat.light,
            mass=boat.light.mass * draw.uniform(0.8, 2.2),
            z=boat.light.z * draw.uniform(1.0, 2.6),
        )
        boat = replace(boat, light=light, limits=WIDE)
        masses = tuple(
            draw.choice([None, draw.uniform(30, 130)]) for _ in range(draw.randint(1, 20))
        )
        riders = tuple(
            Rider(
                mass=draw.choice([None, draw.uniform(40, 150)]),
                stance=draw.choice([None, *Stance]),
            )
            for _ in range(draw.randint(1, min(3, len(masses))))
        )
        party = Party(NOON, NOON + timedelta(hours=1), masses, riders=riders)
        found = fit(boat, party, BASE)
        if found.fits:
            fits += 1
            for rider in range(len(riders)):
                request = first_request(boat, party, BASE, rider)
                known = riders[rider].stance is not None
                for side in (None,) if known else Side:
                    advice = advise(replace(request, surf_side=side), BASE)
                    assert advice.verdict is not Verdict.DO_NOT_GO
    assert BOATS / 6 < fits < BOATS


@pytest.mark.parametrize("depth", [0.5, 1.7, 1.8, None])
def test_a_party_fits_where_it_is_deep_enough_to_fall(fleet: Fleet, depth: float | None) -> None:
    """1.8 m is depth.hard_landing; two on the smallest boat are no matter otherwise."""
    party = Party(NOON, NOON + timedelta(hours=1), (80.0, 80.0), 2, water=Water(depth=depth))
    found = fit(fleet.find("demo-6m"), party, BASE)
    assert found.fits == (depth is None or depth >= 1.8)
    assert [reason.code for reason in found.reasons] == ([] if found.fits else ["unsafe"])


def test_whoever_comes_alone_has_nobody_to_drive(fleet: Fleet) -> None:
    until = NOON + timedelta(hours=1)
    alone = fit(fleet.find("demo-7m"), Party(NOON, until, (80.0,)), BASE)
    assert not alone.fits
    assert [reason.code for reason in alone.reasons] == ["nobody_drives"]
    unwatched = fit(fleet.find("demo-7m"), Party(NOON, until, (80.0,), staff=1), BASE)
    assert [reason.code for reason in unwatched.reasons] == ["nobody_watches"]
    assert fit(fleet.find("demo-7m"), Party(NOON, until, (80.0,), staff=2), BASE).fits


def test_children_alone_have_nobody_to_drive_or_watch(fleet: Fleet) -> None:
    until = NOON + timedelta(hours=1)
    boat = fleet.find("demo-7m")
    children = Party(NOON, until, (30.0, 35.0, 28.0), riders=(Rider(mass=28.0),))
    reasons = [reason.code for reason in fit(boat, children, BASE).reasons]
    assert reasons == ["nobody_drives", "nobody_watches"]
    one_adult = replace(children, masses=(80.0, 35.0, 28.0))
    assert [reason.code for reason in fit(boat, one_adult, BASE).reasons] == ["nobody_watches"]
    deep = replace(children, water=Water(depth=0.5))
    assert "unsafe" in [reason.code for reason in fit(boat, deep, BASE).reasons]
    assert fit(boat, replace(children, staff=2), BASE).fits
    bare = replace(boat, seats=tuple(s for s in boat.seats if s.role is not SeatRole.DRIVER))
    assert not fit(bare, replace(children, staff=2), BASE).fits


@pytest.mark.parametrize(("staff", "watched"), [(1, False), (2, True)])
def test_the_advice_of_a_booking_says_when_nobody_watches(
    fleet: Fleet, staff: int, watched: bool
) -> None:
    party = Party(NOON, NOON + timedelta(hours=1), (80.0,), staff=staff)
    advice = advise(first_request(fleet.find("demo-7m"), party, BASE), BASE)
    alone = "crew.nobody_watches" in {warned.rule for warned in advice.cautions}
    assert alone != watched
    assert (advice.verdict is Verdict.GO) == watched


@pytest.mark.parametrize("size", [6, 7, 8])
@pytest.mark.parametrize("staff", [1, 2])
def test_the_staff_drives_not_a_guest(fleet: Fleet, size: int, staff: int) -> None:
    """Guests of 48 and 60 kg: at the helm is one of the staff, of the usual mass."""
    boat = fleet.find(f"demo-{size}m")
    rider = Rider(mass=60.0, stance=Stance.REGULAR)
    party = Party(NOON, NOON + timedelta(hours=1), (48.0, 60.0), staff, riders=(rider,))
    seating = advise(first_request(boat, party, BASE), BASE).setup.seating
    (driver,) = [entry for entry in seating if entry.role is Role.DRIVER]
    assert (driver.person.name, driver.goal) == ("staff 1", "helm")
    assert len(seating) == 1 + staff


def test_everybody_has_a_name_that_tells_nothing_of_them() -> None:
    """Riders by the kept one's id or their place in the list, the others by their place."""
    riders = (Rider(mass=60.0, id="r-7"), Rider(mass=90.0))
    party = Party(NOON, NOON + timedelta(hours=1), (48.0, 60.0, None, None), 2, riders=riders)
    people = [(each.name, each.role, each.mass) for each in everybody(party, BASE)]
    usual = BASE.number("defaults.person_mass")
    assert people == [
        ("guest 1", Role.GUEST, 48.0), ("r-7", Role.GUEST, 60.0), ("rider 2", Role.GUEST, 90.0),
        ("guest 4", Role.GUEST, usual), ("staff 1", Role.CREW, usual),
        ("staff 2", Role.CREW, usual),
    ]  # fmt: skip
