"""What is predicted is near what it costs, for the worst that was found of each kind.

Both in units of a cheap request that is measured in the same run, so that it does not matter how
fast the machine is or what else it does.
"""

from __future__ import annotations

import pytest

from schemas import boat as boat_schema
from schemas import outing_request, request, tuning_request
from service.api import admission, prices
from tests.bench.prices import UNIT, boat, cases, kinds, measured, outing, session
from tests.size import SLOW

FACTOR = 6.0


@pytest.fixture(scope="module")
def machine() -> float:
    """How much slower this machine is now than the one of the prices."""
    price, taken = measured(kinds()[UNIT[0]], UNIT[2], 25)
    return taken / price


@pytest.mark.parametrize(
    ("kind", "what", "body"),
    [pytest.param(*case, id=f"{case[0]}: {case[1]}") for case in cases(everything=SLOW)],
)
def test_the_prediction_is_within_its_factor(
    kind: str, what: str, body: dict[str, object], machine: float
) -> None:
    price, taken = measured(kinds()[kind], body)
    assert 1.0 / FACTOR <= taken / (price * machine) <= FACTOR, f"{what}: {price=}, {taken=}"


def test_usual_requests_are_answered_at_once_and_the_largest_are_jobs() -> None:
    known = kinds()

    def price(kind: str, body: dict[str, object]) -> float:
        return known[kind].price(known[kind].schema.load(body).request)

    assert price("outing", outing("demo-8m", 15)) <= admission.AT_ONCE
    assert price(*UNIT[::2]) <= admission.BRIEF
    assert price("tuning", session(boat(5, 8), 20, 8)) <= admission.BRIEF
    most = boat(boat_schema.MOST_TANKS, boat_schema.MOST_SEATS, 2)
    riders = outing_request.MOST_RIDERS
    assert price("outing", outing(most, riders)) > 40 * admission.AT_ONCE
    large = boat(20, 40, 2, stations=101)
    people = request.MOST_PEOPLE - 1
    assert price("tuning", session(large, tuning_request.MOST_CHANGES, people)) > admission.AT_ONCE


def test_more_of_anything_never_costs_less() -> None:
    schema, price = kinds()["outing"].schema, prices.outing
    small = price(schema.load(outing(boat(5, 8), 4)).request)
    for larger in (
        outing(boat(12, 8), 4), outing(boat(5, 20), 4), outing(boat(5, 8), 20),
        outing(boat(5, 8, stations=101), 4), outing(boat(5, 8), 4, turns=3),
    ):  # fmt: skip
        assert price(schema.load(larger).request) >= small
