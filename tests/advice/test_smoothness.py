"""A little more aboard changes little: sweeps over all that each demo boat may carry."""

from __future__ import annotations

import pytest

from service.advice.requests import Level, Rider, Stance
from tests.advice.boats import BASE, FLEET
from tests.advice.sweeps import Crew, Found, equal, found_for, jumps, mixed, swept
from tests.size import SLOW

BOATS = sorted(FLEET)
STEP = 10.0
LIGHTEST, HEAVIEST = 45, 120


def masses(few: int) -> list[float]:
    """Pairs a kilogram apart, ``few`` kg from one to the next; every kilogram in a slow run."""
    starts = range(LIGHTEST, HEAVIEST, 1 if SLOW else few)
    return sorted({float(mass) for start in starts for mass in (start, start + 1)})


def checked(found: dict[tuple[int, float], Found]) -> None:
    assert len(found) > 20
    assert list(jumps(found, STEP)) == []
    assert [crew for crew, one in found.items() if one.wrong_side] == []


@pytest.mark.parametrize(
    ("boat", "stance"),
    [(boat, stance) for n, boat in enumerate(BOATS) for m, stance in enumerate(Stance)
     if SLOW or (n + m) % 2],
)  # fmt: skip
def test_tanks_change_by_a_step_for_a_kilogram_a_head_and_by_two_for_a_person(
    boat: str, stance: Stance
) -> None:
    """And the surf side never gets less than the off side."""
    checked(swept(FLEET[boat], BASE, masses(25), equal, Rider(82.0, stance)))


@pytest.mark.parametrize(
    ("crew", "rider"),
    [
        (mixed, Rider(82.0, Stance.GOOFY)),
        (equal, Rider(40.0, Stance.GOOFY, level=Level.FIRST_TIME)),
        (equal, Rider(125.0, Stance.GOOFY)),
    ],
    ids=["of different mass", "with a light first-timer", "with a heavy rider"],
)
@pytest.mark.parametrize("boat", BOATS)
def test_so_do_they_with_other_crews_and_riders(boat: str, crew: Crew, rider: Rider) -> None:
    checked(swept(FLEET[boat], BASE, masses(40), crew, rider))


@pytest.mark.parametrize("level", [Level.FIRST_TIME, Level.INTERMEDIATE])
@pytest.mark.parametrize("boat", BOATS)
def test_a_kilogram_more_of_the_rider_changes_a_tank_by_a_step(boat: str, level: Level) -> None:
    for count in (2, 9):
        before: dict[str, float] = {}
        for mass in range(20, 140, 1 if SLOW else 6):
            rider = Rider(float(mass), Stance.REGULAR, level=level)
            found = found_for(FLEET[boat], BASE, equal(count, 80.0), rider)
            assert all(abs(fill - before.get(tank, fill)) <= STEP + 1e-6
                       for tank, fill in found.fills.items()), (count, mass)  # fmt: skip
            before = found.fills
