"""The dock's two sheets: what to prepare for one booking, and who comes on a day.

Made from the answers that are already written, so that sheet and JSON can never say two things.
Neither has a script, and each is meant for one printed page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from rules.model import Verdict
from schemas.booking_sheet import came_from, named
from schemas.seating_words import places
from schemas.written import figure, hours, plain
from service.pages import texts as t
from service.pages import words
from service.pages.rendering import render

MANY = 12
"""So many rows are set smaller on paper."""
VERY_MANY = 30

Answer = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Line:
    """An answered booking, and its times in the outfit's time zone."""

    booking: Answer
    starts: datetime
    ends: datetime


def preparation_sheet(data: Answer, starts: datetime, ends: datetime, summary: str) -> str:
    """The preparation sheet; ``data`` as its JSON has it, times in the outfit's time zone."""
    units = data["units"]
    order = [verdict.value for verdict in Verdict]
    verdicts = [turn["verdict"] for turn in data["turns"]]
    seen = {(watch["look"], watch["lever"]): watch for turn in data["turns"]
            for watch in turn["watch_for"]}  # fmt: skip
    rows = list(_rows(data["turns"], units))
    return render(
        "booking_sheet.html",
        data=data,
        units=units,
        heading=t.BOOKING.format(boat=data["boat"]["name"], reference=data["id"]),
        when=_span(starts, ends, dated=True),
        starts=starts.isoformat(),
        verdict=max(verdicts, key=order.index),
        people=words.counted(data["people"]),
        summary=summary,
        grave=[caution for caution in data["briefing"] if caution["severity"] != "note"],
        notes=[caution for caution in data["briefing"] if caution["severity"] == "note"],
        tanks=[filling["tank"] for filling in data["fill"]],
        rows=rows,
        size=_size(len(rows)),
        watch_for=list(seen.values()),
    )


def _rows(turns: Sequence[Answer], units: Answer) -> Iterator[dict[str, Any]]:
    """A row for each set-up, with all riders whom it is for."""
    alike: dict[str, tuple[Answer, list[str]]] = {}
    for turn in turns:
        said = repr({name: value for name, value in turn.items() if name != "rider"})
        alike.setdefault(said, (turn, []))[1].append(named(turn))
    for turn, riders in alike.values():
        who = ", ".join(riders)
        yield _row(who, turn, units)
        if turn["saved"] is not None:
            yield _row(f"{who}, {came_from(turn['saved'])}", turn["saved"], units)


def _row(who: str, turn: Answer, units: Answer) -> dict[str, Any]:
    return {
        "riders": who,
        "verdict": turn["verdict"],
        "side": t.SIDES[turn["surf_side"]],
        "speed": figure(turn["speed"], units["speed"], 1),
        "plates": [
            (t.ACCOUNT_NAMES[f"plates.{name}"], _plate(travel))
            for name, travel in turn["plates"].items()
        ],
        "tanks": [(tank, plain(fill, 0)) for tank, fill in turn["tanks"].items()],
        "people": "; ".join(places(turn["seating"])),
    }


def _plate(travel: float | None) -> str:
    if travel is None:
        return t.NOT_FITTED
    return t.PLATE_UP if travel == 0 else f"{plain(travel, 0)} %"


def day_sheet(lines: Sequence[Line], day: date | None) -> str:
    """The bookings of a day in their order; without a day, those that were asked for."""
    rows = [
        {
            "when": _span(line.starts, line.ends, dated=day is None),
            "starts": line.starts.isoformat(),
            "reference": line.booking["id"],
            "fits": line.booking["answer"]["fits"],
            "boat": line.booking["answer"]["boat"] or t.DAY_NO_BOAT,
            "people": _people(line.booking),
            "summary": line.booking["answer"]["summary"],
            "ask": " ".join(entry["text"] for entry in line.booking["answer"]["missing"]),
        }
        for line in lines
    ]
    return render(
        "day_sheet.html",
        heading=t.BOOKINGS if day is None else t.DAY.format(day=day.strftime(t.DATE)),
        counts=t.DAY_COUNTS.format(
            bookings=len(rows),
            people=words.counted(sum(row["people"] for row in rows if row["fits"])),
            not_fitting=sum(not row["fits"] for row in rows),
        ),
        rows=rows,
        size=_size(len(rows)),
    )


def _people(booking: Answer) -> int:
    party = booking["party"]
    return (party if isinstance(party, int) else len(party)) + int(booking.get("staff", 0))


def _span(starts: datetime, ends: datetime, *, dated: bool) -> str:
    span = hours(starts, ends, "–")
    return f"{starts.strftime(t.DATE)}, {span}" if dated else span


def _size(rows: int) -> str:
    if rows > VERY_MANY:
        return "very-many"
    return "many" if rows > MANY else "few"
