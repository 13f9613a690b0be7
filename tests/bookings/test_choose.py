"""Which boat a party is given, and which one a refusal speaks of."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

import rules
from service.boats.fleet import Fleet
from service.boats.model import Boat, Limits
from service.bookings.fit import ANY, Busy, Fit, Party, Reason, choose, fit

BASE = rules.load()
NOON = datetime(2026, 7, 1, 12, tzinfo=UTC)
LATER = NOON + timedelta(hours=1)
OUT = [(NOON, LATER)]


def of(people: int) -> Party:
    return Party(NOON, LATER, (None,) * people)


@pytest.mark.parametrize("people", [18, 20, 22, 25, 40])
def test_far_too_many_are_told_the_boat_that_takes_most(fleet: Fleet, people: int) -> None:
    boats, party = [fleet.find(f"demo-{size}m") for size in (6, 7, 8)], of(people)
    each = {boat.id: fit(boat, party, BASE) for boat in boats}
    assert not any(found.fits for found in each.values())
    best = max(found.most or 0 for found in each.values())
    for busy in ({}, {"demo-8m": OUT}, {boat.id: OUT for boat in boats}):
        named = choose(boats, ANY, busy, party, lambda boat: each[boat.id]).fit
        assert named.most == best
        assert [reason.code for reason in named.reasons] != ["taken"]
        assert named.less_water == 0.0


@pytest.fixture
def boats(fleet: Fleet) -> dict[str, Boat]:
    return {size: fleet.find(f"demo-{size}") for size in ("6m", "7m", "8m")}


FULL = Reason("full_tanks", {"over": 50.0, "limit": 1000.0})
PERSONS = Reason("persons", {"over": 2.0, "limit": 8.0})
PLACES = Reason("places", {"over": 2.0, "limit": 8.0})


@pytest.mark.parametrize(
    ("fits", "busy", "named", "code"),
    [
        ({"6m": PERSONS, "7m": None, "8m": None}, ["7m"], "8m", None),
        ({"6m": PERSONS, "7m": None, "8m": None}, ["7m", "8m"], "7m", "taken"),
        ({"6m": PERSONS, "7m": FULL, "8m": None}, ["8m"], "7m", "full_tanks"),
        ({"6m": PLACES, "7m": None, "8m": PERSONS}, [], "7m", None),
        ({"6m": PLACES, "7m": None, "8m": PERSONS}, ["7m"], "6m", "places"),
        ({"6m": FULL, "7m": PLACES, "8m": PLACES}, [], "6m", "full_tanks"),
        ({"6m": PERSONS, "7m": PERSONS, "8m": FULL}, ["8m"], "8m", "taken"),
        ({"6m": PERSONS, "7m": PERSONS, "8m": PERSONS}, ["8m"], "8m", "persons"),
    ],
)
def test_the_nearest_miss_is_named(
    boats: dict[str, Boat], fits: dict[str, Reason | None], busy: list[str], named: str,
    code: str | None,
) -> None:  # fmt: skip
    def fit_of(boat: Boat) -> Fit:
        reason = fits[boat.id.removeprefix("demo-")]
        hard = reason is PERSONS
        reasons = () if reason is None else (reason,)
        return Fit(boat, not hard, reasons, less_water=50.0 if reason is FULL else 0.0)

    times: Busy = {boats[size].id: OUT for size in busy}
    found = choose(list(boats.values()), ANY, times, of(10), fit_of).fit
    assert found.boat is boats[named]
    assert [reason.code for reason in found.reasons] == ([] if code is None else [code])


def test_who_asks_for_a_boat_that_is_too_small_anyway_is_not_sent_to_another_hour(
    fleet: Fleet,
) -> None:
    boats = [fleet.find("demo-6m"), fleet.find("demo-8m")]
    found = choose(boats, "demo-6m", {"demo-6m": OUT}, of(14), lambda b: fit(b, of(14), BASE))
    assert "persons" in [reason.code for reason in found.fit.reasons]
    assert found.instead is not None
    assert found.instead.id == "demo-8m"


@pytest.mark.parametrize("unknown", ["persons", "load_mass"])
def test_a_boat_of_unknown_limits_comes_after_those_that_are_known_to_do(
    boats: dict[str, Boat], unknown: str
) -> None:
    limits = replace(boats["6m"].limits, **{unknown: None})
    unread = replace(boats["6m"], id="unread", limits=limits)
    every = [unread, boats["7m"], boats["8m"]]

    def chosen(busy: Busy) -> Fit:
        return choose(every, ANY, busy, of(8), lambda boat: fit(boat, of(8), BASE)).fit

    assert chosen({}).boat is boats["7m"]
    assert chosen({"demo-7m": OUT}).boat is boats["8m"]
    found = chosen({"demo-7m": OUT, "demo-8m": OUT})
    assert (found.boat, found.fits, found.reasons) == (unread, True, ())
    # Where all are out, the one that is spoken of is not the one nobody knows of either.
    assert chosen({boat.id: OUT for boat in every}).boat is boats["7m"]


def test_more_people_than_places_to_sit_is_a_matter_of_care(boats: dict[str, Boat]) -> None:
    """13 places on the 6 m boat: the rider sits too on the way out (common practice)."""
    unread = replace(boats["6m"], id="unread", limits=Limits())
    assert fit(unread, of(13), BASE).reasons == ()
    for party in (of(15), replace(of(13), staff=2)):
        found = fit(unread, party, BASE)
        assert found.fits
        assert found.reasons == (Reason("places", {"over": 2.0, "limit": 13.0}),)
        assert found.most == 13 - party.staff
    # Nobody has told where one sits on it.
    assert fit(replace(unread, seats=()), of(15), BASE).reasons == ()
