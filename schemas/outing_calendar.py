"""An outing as a calendar for a phone: iCalendar, ``text/calendar`` (RFC 5545).

Made from the answer, like the table for the dock. An event for each turn and one for the way
home, at moments in UTC, so that no time zone has to come along. The same outing has the same
event ids, so that a plan sent again replaces the first one.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

from schemas.card import VERDICTS
from schemas.card_texts import NOT_YET
from schemas.outing_words import SOURCES, changes, fills, lies, loads, plates, seats
from schemas.written import figure

LONGEST = 75
"""Octets of a line, its end not counted (RFC 5545, 3.1)."""
NAMES = uuid.uuid5(uuid.NAMESPACE_URL, "tag:wavesetup.example,2025:outing")

Answer = Mapping[str, Any]


def calendar(answer: Answer) -> str:
    """The whole calendar. The answer's start must be known."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//wavesetup//outing plan//EN",
        "CALSCALE:GREGORIAN",
    ]
    for turn in answer["turns"]:
        wave = f"{turn['setup']['surf_side']} wave"
        lines += _event(
            answer,
            f"{turn['turn']}",
            turn,
            f"{turn['rider']}: {wave}",
            [*_held(answer), *_about(turn, answer)],
        )
    home = answer["way_home"]
    lines += _event(answer, "home", home["change_over"] | {"end_time": home["end_time"]},
                    "Way home", [*_held(answer), *_about_home(home, answer)])  # fmt: skip
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in folded(line))


def _event(
    answer: Answer, key: str, when: Mapping[str, Any], summary: str, about: Iterable[str]
) -> Iterator[str]:
    start = answer["start_time"]
    name = f"{answer['boat']['id']} {datetime.fromisoformat(start).astimezone(UTC)} {key}"
    yield "BEGIN:VEVENT"
    yield f"UID:{uuid.uuid5(NAMES, name)}"
    # When it was written; the service keeps no clock, and the same request has the same answer.
    yield f"DTSTAMP:{_utc(start)}"
    yield f"DTSTART:{_utc(when['start_time'])}"
    yield f"DTEND:{_utc(when['end_time'])}"
    yield f"SUMMARY:{escaped(summary)}"
    yield f"LOCATION:{escaped(answer['boat']['name'])}"
    yield f"DESCRIPTION:{escaped(chr(10).join(about))}"
    yield "END:VEVENT"


def _held(answer: Answer) -> Iterator[str]:
    """That nothing of this is to be done yet."""
    if answer["not_yet"] is not None:
        yield f"{NOT_YET}: {answer['not_yet']['text']}"


def _about(turn: Mapping[str, Any], answer: Answer) -> Iterator[str]:
    setup, units = turn["setup"], answer["units"]
    yield VERDICTS[turn["verdict"]]
    yield from changes(turn["change_over"], units)
    yield f"speed {figure(setup['speed'], units['speed'], 1)} by GPS"
    yield plates(setup["plates"])
    names = ", ".join(tank["tank"] for tank in setup["tanks"])
    yield f"tanks {fills(setup['tanks'])} % ({names})"
    yield lies(turn["predicted"], units)
    yield seats(setup["seating"])
    yield from loads(setup, units)
    if SOURCES[turn["source"]]:
        yield SOURCES[turn["source"]]


def _about_home(home: Mapping[str, Any], answer: Answer) -> Iterator[str]:
    yield from changes(home["change_over"], answer["units"])
    yield "plates up, tanks empty"
    yield lies(home["predicted"], answer["units"])
    yield seats(home["seating"])
    yield from loads(home, answer["units"])


def _utc(moment: str) -> str:
    return datetime.fromisoformat(moment).astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def escaped(text: str) -> str:
    """A TEXT value (RFC 5545, 3.3.11)."""
    for plain, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(plain, written)
    return text


def folded(line: str) -> Iterator[str]:
    """Lines of at most 75 octets, no character parted; the following ones begin with a space."""
    part, size = "", 0
    for character in line:
        octets = len(character.encode())
        if size + octets > LONGEST:
            yield part
            part, size = " ", 1
        part += character
        size += octets
    yield part
