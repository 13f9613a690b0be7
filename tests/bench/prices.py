"""What requests cost beside what they are predicted to cost.

``python -m tests.bench.prices`` measures the worst that was found for each kind, in processor time
of one process, and prints each beside its prediction; the figures of ``service/api/prices.py`` are
fitted to this. ``--all`` takes minutes: it has the largest of every count that is allowed.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import rules
from rules import tuning as on_the_water
from schemas.advice_request import AdviceRequestSchema
from schemas.fleet import demo_fleet
from schemas.loading_request import LoadingRequestSchema
from schemas.outing_request import OutingRequestSchema
from schemas.tuning_request import TuningRequestSchema
from service.advice import loading_plan
from service.advice.advise import advise
from service.advice.loading import check_loading
from service.advice.tuning.tune import tune
from service.api import prices
from service.outings.outing import plan_outing

RIDER = {"mass": 82, "stance": "goofy", "board": "skim", "level": "intermediate"}
SIGNS = ("too_steep", "white_crest")
Body = dict[str, Any]


def boat(tanks: int, seats: int, places: int = 4, stations: int = 0, points: int = 60) -> Body:
    """Of demo-8m's size and load, with that many tanks, seats and, where told, points of a hull."""
    text = files("service.boats").joinpath("demo/demo-8m.json").read_text("utf-8")
    made: Body = json.loads(text) | {"id": "priced", "limits": {}}
    length, beam = made["length_overall"], made["beam"]
    total = sum(tank["capacity"] for tank in made["tanks"])
    made["tanks"] = [
        {"id": f"t{n}", "capacity": total / tanks, "y": (-1) ** n * 0.32 * beam, "z": 0.45,
         "x": 0.6 + (length - 2.5) * (n // 2) / ((tanks + 1) // 2), "length": 0.6, "width": 0.5}
        for n in range(tanks)
    ]  # fmt: skip
    made["seats"] = [
        {"id": f"s{n}" if n else "helm", "places": places if n else 1, "z": 0.8,
         "role": "cockpit" if n else "driver",
         "x": 0.6 + (length - 2.5) * (n // 3) / ((seats + 1) // 3), "y": 0.25 * beam * (n % 3 - 1)}
        for n in range(seats)
    ]  # fmt: skip
    if stations:
        made["hull"] = {"stations": list(_sections(length, beam, stations, points))}
    return made


def _sections(length: float, beam: float, stations: int, points: int) -> Iterator[Body]:
    for n in range(stations):
        along = n / (stations - 1)
        half = beam / 2.0 * (1.0 - 0.9 * max(0.0, (along - 0.6) / 0.4) ** 2)
        up = [k / (points - 1) for k in range(points)]
        yield {
            "x": length * along,
            "points": [[half * t**0.7 if t else 0.0, 0.35 * t + 0.9 * t**4] for t in up],
        }


def crew(count: int) -> list[Body]:
    return [{"mass": 45 + 1.3 * n} for n in range(count)]


def outing(of: Any, riders: int, turns: int = 1, **more: Any) -> Body:
    """Riders of both stances, from light to heavy."""
    who = [
        {"turns": turns,
         "rider": RIDER | {"mass": 45 + 1.7 * n, "stance": ("regular", "goofy")[n * n % 3 % 2]}}
        for n in range(riders)
    ]  # fmt: skip
    return {"boat": of, "crew": 2, "riders": who, **more}


def session(of: Body, looks: int, people: int) -> Body:
    """A session in which speed and tanks were changed in turn."""
    seen = [{"sign": sign, "strength": "clear"} for sign in SIGNS]
    names = [tank["id"] for tank in of["tanks"]]
    past: list[Body] = [
        {"lever": "speed", "from": 16.8 + 0.01 * n, "to": 17, "unit": "km/h"}
        if n % 2
        else {"lever": f"tanks.{names[n % len(names)]}", "from": (30 + n) % 100, "to": 50}
        for n in range(looks)
    ]
    history = [change | {"did": "same", "seen": seen} for change in past]
    return {"boat": of, "crew": crew(people), "rider": RIDER, "seen": seen, "history": history}


@dataclass(frozen=True)
class Kind:
    """How one kind of request is read, done, and priced."""

    schema: Any
    work: Callable[[Any], object]
    price: Callable[[Any], float]


def kinds() -> dict[str, Kind]:
    fleet, base, signs = demo_fleet(), rules.load(), on_the_water.load()
    return {
        "advice": Kind(AdviceRequestSchema(fleet), lambda r: advise(r, base), prices.advice),
        "loading": Kind(
            LoadingRequestSchema(fleet), lambda r: check_loading(r, base), prices.loading
        ),
        "tuning": Kind(
            TuningRequestSchema(fleet), lambda r: tune(r, base, signs), prices.tuning
        ),
        "outing": Kind(
            OutingRequestSchema(fleet), lambda r: plan_outing(r, base), prices.outing
        ),
    }  # fmt: skip


UNIT: tuple[str, str, Body] = (
    "advice", "the cheap unit", {"boat": "demo-8m", "crew": crew(8), "rider": RIDER},
)  # fmt: skip


def cases(everything: bool = False) -> Iterator[tuple[str, str, Body]]:
    """Kind, what is large in it, and the body."""
    angles = [5 * n for n in range(37)]
    advised = {"rider": RIDER}
    yield "advice", "59 people, 40 seats, 20 tanks", advised | {
        "boat": boat(20, 40, 2), "crew": crew(59)}  # fmt: skip
    yield "advice", "hull of 6,060 points", advised | {
        "boat": boat(5, 8, stations=101), "crew": crew(8)}  # fmt: skip
    yield "loading", "37 angles", {"boat": "demo-8m", "crew": 8, "angles": angles}
    yield "loading", "37 angles, hull of 6,060 points", {
        "boat": boat(5, 8, stations=101), "crew": 8, "angles": angles}  # fmt: skip
    yield "tuning", "60 looks", session(boat(20, 8), 60, 16)
    yield "tuning", "60 looks, hull of 6,060 points", session(boat(5, 8, stations=101), 60, 4)
    yield "outing", "12 riders", outing("demo-8m", 12)
    yield "outing", "8 riders, 3 turns each", outing("demo-8m", 8, 3)
    yield "outing", "1 rider, 20 tanks", outing(boat(20, 8), 1)
    if everything:
        yield "tuning", "60 looks, all of it", session(boat(20, 40, 2, stations=101), 60, 59)
        yield "outing", "40 riders, 40 seats", outing(boat(5, 40, 2), 40)
        yield "outing", "8 riders, 20 tanks", outing(boat(20, 8), 8)
        yield "outing", "40 riders, 40 seats, 20 tanks", outing(boat(20, 40, 2), 40)
        yield "outing", "1 rider, 20 tanks, 6,060 points", outing(boat(20, 8, stations=101), 1)


def measured(kind: Kind, body: Body, runs: int = 1) -> tuple[float, float]:
    """Processor time (s) as predicted and as it was, with nothing remembered from before."""
    request = kind.schema.load(body).request
    times = []
    for _ in range(runs):
        loading_plan._planned.cache_clear()
        begun = time.process_time()
        kind.work(request)
        times.append(time.process_time() - begun)
    return kind.price(request), statistics.median(times)


def rows(everything: bool = False) -> Iterator[tuple[str, ...]]:
    """What was measured, as text; the last column compares after taking the machine out of it."""
    known = kinds()
    unit_price, unit = measured(known[UNIT[0]], UNIT[2], 15)
    for kind, what, body in (UNIT, *cases(everything)):
        price, taken = measured(known[kind], body)
        ratio = price / unit_price / (taken / unit)
        yield kind, what, f"{price:.3f}", f"{taken:.3f}", f"{ratio:.2f}"


HEAD = ("kind", "largest in it", "predicted s", "measured s", "predicted / measured, in units")

if __name__ == "__main__":
    for row in (HEAD, *rows("--all" in sys.argv)):
        sys.stdout.write(" | ".join(row) + "\n")
        sys.stdout.flush()
