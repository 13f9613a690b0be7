"""Outings made for the tests: invented riders on the demo fleet."""

from __future__ import annotations

from typing import Any

import rules
from schemas.fleet import demo_fleet
from schemas.outing_request import OutingRequestSchema
from service.outings.answer import Outing
from service.outings.outing import plan_outing
from service.outings.requests import OutingRequest

LEVELS = ("first_time", "beginner", "intermediate", "advanced", "expert")
NAMES = ("Alva", "Birk", "Cleo", "Dara", "Emil", "Fenja", "Gero", "Hedda", "Ilja", "Jona", "Kaja",
         "Levi", "Mika", "Nele")  # fmt: skip


def riders(count: int) -> list[dict[str, Any]]:
    """Of both stances, mixed; from light to heavy."""
    return [
        {
            "name": NAMES[n],
            "rider": {
                "mass": 55 + 4 * n,
                "stance": ("regular", "goofy")[n * n % 3 % 2],
                "board": ("skim", "surf")[n % 2],
                "level": LEVELS[n % 5],
            },
        }
        for n in range(count)
    ]


def body(count: int, boat: str = "demo-7m", **changes: Any) -> dict[str, Any]:
    """A body of ``POST /v1/outing-plans``."""
    return {
        "boat": boat, "crew": 2, "riders": riders(count), "total_time": "2 h",
        "start": "2026-07-04T10:00:00+02:00", "fuel": 60,
    } | changes  # fmt: skip


def asked(told: dict[str, Any]) -> OutingRequest:
    request: OutingRequest = OutingRequestSchema(demo_fleet()).load(told).request
    return request


def planned(told: dict[str, Any]) -> Outing:
    return plan_outing(asked(told), rules.load())
