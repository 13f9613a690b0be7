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
    "four": party("demo-6m", "36g 36r 36r 59g", (15, 4.0, 0.0), (60, 1.5, -0.9), (40, 1.5, -0.4)),
    "five": party("demo-6m", "39r 49g 45g 39g 40g", (40, 0.8, 0.5), (100, 2.5, -0.4)),
    "six": party(
        "demo-6m", "35g 56r 49g 47g 38g 37r", (60, 0.8, 0.5), (60, 0.8, 0.9), (40, 1.5, 0.5)
    ),
    "seven": party("demo-6m", "51g 42r 40g 60r 60g 33r 53g", (100, 0.8, -0.9), (60, 1.5, 0.0)),
    "pair": party("demo-7m", "60g 70r", (40, 4.0, 0.0), (25, 2.5, -0.4)),
}
