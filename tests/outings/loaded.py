"""Small parties with movable loads, invented: too few people to balance the boat with."""

from __future__ import annotations

from typing import Any

from tests.outings.boats import body

LOADS: dict[str, Any] = {"z": 0.5, "movable": True}


def party(boat: str, masses: str, *loads: tuple[float, float, float], **changes: Any) -> Any:
    """A driver and light riders, ``masses`` as ``36g 52r``: few people to balance the boat with."""
    told = body(len(masses.split()), boat, crew=1, total_time=None, **changes)
    for rider, word in zip(told["riders"], masses.split(), strict=True):
        stance = {"g": "goofy", "r": "regular"}[word[-1]]
        rider["rider"] |= {"mass": int(word[:-1]), "stance": stance}
    told["loads"] = [
        LOADS | {"mass": mass, "x": x, "y": y, "name": f"bag {n}"}
        for n, (mass, x, y) in enumerate(loads, 1)
    ]
    return told


PARTIES: dict[str, dict[str, Any]] = {
    "four": party("demo-6m", "43g 45g 55r 64r", (15, 4.0, -0.4), (25, 0.8, 0.0), (60, 2.5, -0.9)),
    "five": party(
        "demo-6m", "43g 61r 63r 75g 71r", (100, 1.5, -0.9), (15, 2.5, 0.9), (60, 0.8, 0.9)
    ),
    "six": party(
        "demo-6m", "44g 48r 53g 63g 43g 72r", (40, 0.8, -0.9), (100, 1.5, -0.9), (100, 0.8, 0.9)
    ),
    "seven": party("demo-6m", "51r 45g 56r 47g 43r 69g 67r", (15, 0.8, -0.4), (100, 0.8, -0.4)),
    "pair": party("demo-6m", "52g 60r", (40, 1.5, -0.9), (40, 4.0, 0.9)),
}
