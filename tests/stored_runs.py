"""A store with many runs, written past the service: that it holds them, not how they came."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import insert, text

import rules
from service.outfits.demo import DEMO
from service.storage import Store
from service.storage.tables import Boat, Booking, Calibration, Rider, Run, RunRule, Setup

AT_ONCE = 5_000
RIDERS = 200
BOATS = ("demo-6m", "demo-7m", "demo-8m")
RULES = tuple(rules.load().rules)[:20]
BEGIN = datetime(2030, 1, 1, 8, tzinfo=UTC)
ANSWER: dict[str, Any] = {
    "verdict": "go",
    "setup": {"surf_side": "starboard", "speed": 17.4, "plates": {"centre": 64.0}},
    "filler": "x" * 400,
}
"""Much shorter than a true answer, so that a million fit on a small disk."""


def started(number: int) -> datetime:
    """A quarter of an hour after the one before."""
    return BEGIN + timedelta(minutes=15 * number)


def run(number: int) -> dict[str, Any]:
    """The run with this number: boats in turn, 200 riders."""
    rider = f"rider-{number * 7919 % RIDERS}"
    return {
        "outfit_id": DEMO, "id": f"run-{number}", "version": 1,
        "document": {"request": {"boat": BOATS[number % 3], "rider": rider}},
        "boat_id": BOATS[number % 3], "boat_version": 1, "rider_id": rider, "rating": number % 6,
        "started": started(number), "rule_set": "0", "answer": ANSWER,
        "card": None, "log": None,
    }  # fmt: skip


def fired(number: int) -> list[dict[str, Any]]:
    """Two of twenty rules fired in it; every fifth time round one of the two was overridden."""
    two = RULES[number % 20], RULES[(number + 7) % 20]
    said = number // 20 % 5 == 0
    return [
        {
            "outfit_id": DEMO, "run_id": f"run-{number}", "rule": rule,
            "overridden": started(number) if said and rule == two[0] else None,
            "reason": "choppy" if said and rule == two[0] else None,
        }
        for rule in two
    ]  # fmt: skip


def fill(store: Store, runs: int, already: int = 0) -> None:
    """Runs up to this number, with riders, set-ups, bookings and calibrations beside the first."""
    with store.writing() as session:
        if not already:
            for row, rows in _others():
                session.execute(insert(row), rows)
        for start in range(already, runs, AT_ONCE):
            numbers = range(start, min(start + AT_ONCE, runs))
            session.execute(insert(Run), [run(number) for number in numbers])
            session.execute(insert(RunRule), [each for n in numbers for each in fired(n)])
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))


def _others() -> list[tuple[type[Any], list[dict[str, Any]]]]:
    def kept(kind: str, number: int) -> dict[str, Any]:
        return {"outfit_id": DEMO, "id": f"{kind}-{number}", "version": 1}

    where = [{"boat_id": BOATS[n % 3], "rider_id": f"rider-{n % RIDERS}"} for n in range(2_000)]
    starts = [BEGIN + timedelta(hours=n) for n in range(2_000)]
    laid_up = {"name": "Laid up", "propulsion": "inboard", "document": {}}
    return [
        (Boat, [kept("boat", n) | laid_up for n in range(5 * RIDERS)]),
        (Rider, [kept("rider", n) | {"document": {"mass": "80 kg"}} for n in range(RIDERS)]),
        (
            Setup,
            [
                kept("setup", n) | place | {"document": {}, "rating": n % 6}
                for n, place in enumerate(where)
            ],
        ),
        (
            Calibration,
            [
                kept("calibration", n)
                | {"boat_id": (*BOATS, f"boat-{n}")[n % 4], "document": {"log": {}}}
                for n in range(4 * RIDERS)
            ],
        ),
        (
            Booking,
            [
                kept("booking", n) | {
                    "boat_id": BOATS[n % 3], "starts": at, "ends": at + timedelta(hours=1),
                    "document": {}, "answer": {},
                }
                for n, at in enumerate(starts)
            ],
        ),
    ]  # fmt: skip
