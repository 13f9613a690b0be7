"""Inline hulls: a worker's memory stays bounded, and kept boats stay in its caches."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import requests
from flask.testing import FlaskClient

from schemas import hull as hull_schema
from service.advice.loading_condition import surf_frame
from service.advice.loading_plan import _planned as planned
from service.caches import MB, SizedCache, size_of
from service.hydrostatics.hull import Hull
from tests.production.server import SMALLEST, serving

FLOOD = 300
MOST_GROWTH = 90
"""MB. The inline caches hold 37 at most; the rest is what requests leave in the allocator."""
RIDER = SMALLEST["rider"]


def inline_boat(number: int, stations: int = 4, points: int = 60) -> dict[str, Any]:
    """The demo boat with a hull of as many points in a station as are accepted."""
    told = json.loads((files("service.boats") / "demo" / "demo-7m.json").read_text("utf-8"))
    up = np.linspace(0.0, 1.0, points)
    heights = 1.4 * up**1.5 + 1e-4 * number * up * (1.0 - up)
    forward = np.linspace(0.0, 6.9, stations)
    narrower = 1.15 * (1.0 - 0.8 * np.maximum((forward - 4.0) / 3.0, 0.0) ** 2)
    sections = [
        {"x": round(x, 3), "points": np.column_stack((k * up**0.8, heights)).round(5).tolist()}
        for x, k in zip(forward.tolist(), narrower.tolist(), strict=True)
    ]
    return {**told, "id": "inline", "hull": {"stations": sections}}


def resident(server: int) -> tuple[float, float]:
    """MB that the only worker of a server has in memory now, and had at most.

    It is the largest of the server's processes: the front beside it holds connections alone.
    """
    children = Path(f"/proc/{server}/task/{server}/children").read_text("utf-8").split()
    sizes = []
    for child in children:
        lines = Path(f"/proc/{child}/status").read_text("utf-8").splitlines()
        found = {line.split(":")[0]: line.split() for line in lines}
        sizes.append((int(found["VmRSS"][1]) / 1024, int(found["VmHWM"][1]) / 1024))
    return max(sizes)


def test_a_flood_of_different_inline_hulls_keeps_a_worker_s_memory_bounded(
    tmp_path: Path,
) -> None:
    url = f"sqlite:///{tmp_path}/store.sqlite"
    with serving(tmp_path / "log", workers=1, WAVESETUP_DATABASE_URL=url) as server:
        assert requests.post(server.url + "/v1/advice", json=SMALLEST, timeout=60).ok
        before, _ = resident(server.process.pid)
        for number in range(FLOOD):
            told: dict[str, Any] = {"boat": inline_boat(number), "crew": 5, "angles": [0]}
            address = "/v1/loading"
            if number % 10 == 0:
                address, told = "/v1/advice", {"boat": told["boat"], "rider": RIDER}
            answer = requests.post(server.url + address, json=told, timeout=60)
            assert answer.status_code == 200, answer.text
        after, most = resident(server.process.pid)
    assert most - before < MOST_GROWTH, (before, after, most)


def test_an_inline_hull_sent_again_is_not_computed_again(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    built: list[int] = []
    build = Hull.from_stations

    def counted(stations: Any) -> Hull:
        built.append(len(stations))
        return build(stations)

    monkeypatch.setattr(Hull, "from_stations", counted)
    told = {"boat": inline_boat(1_000, 5, 7), "crew": 5, "rider": RIDER}
    planned.cache_clear()
    for _ in range(2):
        assert client.post("/v1/advice", json=told).status_code == 200
    assert built == [5]
    assert planned.cache_info().misses == 1


@pytest.fixture
def small_caches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Inline caches that a few boats fill."""
    monkeypatch.setattr(hull_schema, "_HULLS", SizedCache(MB))
    for function in (planned, surf_frame):
        monkeypatch.setattr(function, "inline", SizedCache(MB // 4))
        function.cache_clear()


@pytest.mark.usefixtures("small_caches")
def test_kept_boats_stay_cached_under_a_flood_of_inline_ones(client: FlaskClient) -> None:
    def ask(boat: object) -> None:
        told = {"boat": boat, "crew": 5, "rider": RIDER}
        assert client.post("/v1/advice", json=told).status_code == 200

    ask("demo-7m")
    kept = planned.kept.info(), surf_frame.kept.info()
    assert kept[0].misses == 1
    for number in range(20):
        ask(inline_boat(number, 11, 7))
    assert planned.inline.info().misses == 20
    assert planned.inline.info().bytes <= MB // 4
    ask("demo-7m")
    assert planned.kept.info().misses == kept[0].misses
    assert surf_frame.kept.info().misses == kept[1].misses


def test_hulls_of_one_form_are_equal_whoever_made_them() -> None:
    def hull(height: float) -> Hull:
        section = [(0.0, 0.0), (1.0, 0.3), (1.1, height)]
        return Hull.from_stations([(x, section) for x in (0.0, 3.0, 6.0)])

    assert hull(1.2) == hull(1.2)
    assert hash(hull(1.2)) == hash(hull(1.2))
    assert hull(1.2) != hull(1.3)


def test_a_cache_holds_no_more_bytes_than_it_may() -> None:
    cache: SizedCache[int, bytes] = SizedCache(10_000)
    for number in range(50):
        cache.get(number, lambda: bytes(1_000))
        assert cache.info().bytes <= 10_000
    cache.get(50, lambda: bytes(20_000))  # larger than all of it: answered, not held
    assert cache.find(50) is None
    assert cache.find(49) is not None
    assert size_of(np.zeros(1_000)) >= 8_000
    assert size_of(np.zeros(2_000)[:1_000]) >= 8_000
