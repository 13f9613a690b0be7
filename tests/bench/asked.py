"""What the benchmarks ask. Where a body says ``MASS``, each request has a mass of its own there.

So no request is ever sent twice. A loading may still be one that was planned before: with crews
told by number it mostly was, as in a day's work with one rider after the other; with everybody's
own mass it never was.
"""

from __future__ import annotations

from typing import Any

IN_A_BATCH = 10
MASS = "@mass@"
SEEN = ("too_steep", "white_crest", "no_face", "long_and_low", "lumps", "rolls_over")


def advice() -> list[dict[str, Any]]:
    stances = ("goofy", "regular")
    return [
        {
            "boat": ("demo-7m", "demo-6m", "demo-8m")[n % 3],
            "crew": 1 + n % 8,
            "rider": {
                "mass": 45.0 + 0.7 * n,
                "stance": stances[n % 2],
                "board": ("skim", "surf")[n // 2 % 2],
                "level": ("beginner", "intermediate", "advanced")[n % 3],
            },
        }
        for n in range(64)
    ]


def riders() -> list[dict[str, Any]]:
    """Crews by number, each rider of a mass of their own."""
    return [{**body, "rider": {**body["rider"], "mass": MASS}} for body in advice()]


def crews() -> list[dict[str, Any]]:
    """Everybody of a mass of their own."""
    return [{**body, "crew": [{"mass": MASS}] * body["crew"]} for body in riders()]


def loading() -> list[dict[str, Any]]:
    return [{"boat": body["boat"], "crew": body["crew"]} for body in advice()]


def tuning() -> list[dict[str, Any]]:
    """Something seen behind a boat that is set as usual; a sixth of them see two things."""
    tanks = ("aft-port", "aft-starboard", "mid-port", "mid-starboard", "bow")
    return [
        {
            "boat": "demo-7m",
            "crew": body["crew"],
            "rider": body["rider"],
            "settings": {
                "speed": 16.8 + 0.03 * n,
                "plates": {"centre": 50 + n % 20, "port": 0, "starboard": 60},
                "tanks": {tank: 60 + (n + 9 * i) % 40 for i, tank in enumerate(tanks)},
                "surf_side": "port",
            },
            "seen": [
                {"sign": sign, "strength": "clear"}
                for sign in {SEEN[n % len(SEEN)], SEEN[n // 6 % len(SEEN)]}
            ],
        }
        for n, body in enumerate(advice())
    ]


def batches() -> list[dict[str, Any]]:
    """Ten bookings each, of a day of their own; sent again they are the same bookings."""
    riders = [body["rider"] for body in advice()]
    return [
        {
            "bookings": [
                {
                    "id": f"bench-{day}-{n}",
                    "start": f"2031-{1 + day // 28:02}-{1 + day % 28:02}T{8 + n // 2:02}:00:00Z",
                    "duration": "1 h",
                    "party": 3 + (day + n) % 4,
                    "riders": [riders[(day + 7 * n) % len(riders)]],
                }
                for n in range(IN_A_BATCH)
            ]
        }
        for day in range(64)
    ]
