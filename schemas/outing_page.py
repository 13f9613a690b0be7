"""What the printed page of an outing shows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from schemas.outing_words import (
    MODES,
    Answer,
    came_from,
    changes,
    clock,
    clock_of_day,
    lies,
    loads,
    loss,
    optimal,
    plates,
    roles,
    seats,
    unfit,
    where,
)
from schemas.written import figure

_QUANTITIES = {
    "mass": "mass", "temperature": "temperature", "fuel": "percentage", "ballast": "percentage",
    "fuel_use": "flow", "boarding": "time", "least_turn": "time", "way": "time",
    "minutes": "time", "total_time": "time",
}  # fmt: skip
"""What a default is a quantity of, by the last name of its pointer."""


def context(answer: Answer) -> dict[str, Any]:
    """What the template of the printed page shows."""
    units, home = answer["units"], answer["way_home"]
    return {
        "answer": answer,
        "units": units,
        "mode": MODES[answer["mode"]],
        "rows": [
            {
                "turn": turn,
                "speed": figure(turn["setup"]["speed"], units["speed"], 1),
                "plates": plates(turn["setup"]["plates"]),
                "seats": "; ".join(
                    (
                        roles(turn["setup"]),
                        seats(turn["setup"]["seating"]),
                        *loads(turn["setup"], units),
                    )
                ),
                "source": came_from(turn),
                **_row(turn, answer),
            }
            for turn in answer["turns"]
        ],
        "home": {
            "seats": "; ".join((seats(home["seating"]), *loads(home, units))),
            **_row(home, answer),
        },
        "losses": [loss(entry, units) for entry in answer["losses"]],
        "unfit": list(unfit(answer)),
        "assumed": [_with_unit(gap, units) for gap in _assumed(answer)],
        "where": where,
        "sets_out": clock_of_day(answer),
        "optimal": optimal(answer),
    }


def _row(part: Mapping[str, Any], answer: Answer) -> dict[str, Any]:
    return {
        "change": list(changes(part["change_over"], answer["units"])),
        "changes_at": clock(part["change_over"]),
        "starts": clock(part),
        "ends": clock(part, "end"),
        "lies": lies(part["predicted"], answer["units"]),
    }


def _with_unit(gap: Mapping[str, Any], units: Mapping[str, str]) -> dict[str, Any]:
    """The default as people read it."""
    value = gap["value"]
    quantity = _QUANTITIES.get(gap["pointer"].rsplit("/", 1)[-1])
    if isinstance(value, str) or quantity is None:
        return dict(gap)
    return {**gap, "value": figure(value, units[quantity], 1)}


def _assumed(answer: Answer) -> Iterator[Mapping[str, Any]]:
    """Each default; one that is the same for every rider once, under ``*``."""
    alike: dict[str, list[Mapping[str, Any]]] = {}
    for gap in answer["assumed"]:
        pointer = re.sub(r"^/riders/\d+/", "/riders/*/", gap["pointer"])
        alike.setdefault(pointer, []).append(gap)
    for pointer, gaps in alike.items():
        same = all({**gap, "pointer": ""} == {**gaps[0], "pointer": ""} for gap in gaps)
        if same and len(gaps) == len(answer["totals"]["riders"]):
            yield {**gaps[0], "pointer": pointer}
        else:
            yield from gaps
