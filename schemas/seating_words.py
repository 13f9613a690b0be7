"""Who sits where, in words, from an answer's seating: by name, or by how many of a head count."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from schemas import card_texts as t
from service.advice.answer import OWN_PLACE

LONGEST = 20
"""Characters of a name; a longer one is cut."""

Entry = Mapping[str, Any]


def called(entry: Entry) -> str:
    """How someone who was listed is called."""
    name = entry["name"] or t.PERSON.format(number=entry["person"])
    return name if len(name) <= LONGEST else name[: LONGEST - 1].rstrip() + "…"


def moves(seating: Sequence[Entry]) -> list[str]:
    """Who has to leave the place that was given, and for which: ``Ben: bench-port to stern``."""
    groups: dict[tuple[Any, Any], list[str]] = {}
    for entry in seating:
        if entry.get("moves"):
            groups.setdefault((entry["from"], entry["to"]), []).append(called(entry))
    return [
        t.MOVES.format(people=", ".join(names), origin=_place(origin), goal=_place(goal))
        for (origin, goal), names in groups.items()
    ]


def places(seating: Sequence[Entry], *, moved: bool = True) -> list[str]:
    """Who drives, who watches, who has no seat, then the others by seat.

    ``moved``: those too who have to move there.
    """
    listed = any("person" in entry for entry in seating)
    return list(_by_name(seating, moved=moved) if listed else _by_count(seating))


def _by_name(seating: Sequence[Entry], *, moved: bool) -> Iterator[str]:
    at: dict[str | None, list[str]] = {None: []}
    for role, does in t.DOES.items():
        for entry in seating:
            if entry["role"] == role and entry["to"] is not None:
                place = _place(entry["to"])
                yield t.DOES_AT.format(people=called(entry), does=does, place=place)
    for entry in seating:
        told = entry["role"] in t.DOES or (entry["moves"] and not moved)
        if entry["to"] is None or not told:
            at.setdefault(entry["to"], []).append(called(entry))
    for seat, names in at.items():
        if names:
            yield _at(", ".join(names), seat)


def _by_count(seating: Sequence[Entry]) -> Iterator[str]:
    at: dict[str | None, list[Entry]] = {}
    for entry in seating:
        at.setdefault(entry["to"], []).append(entry)
    for place, groups in at.items():
        people = sum(group["people"] for group in groups)
        does = [t.DOES[group["role"]] for group in groups if group["role"] in t.DOES]
        part = _at(str(people), place)
        if people > 1:
            does = [t.ONE_DOES.format(does=each) for each in does]
        yield t.WITH.format(part=part, does=", ".join(does)) if does else part


def _at(people: str, place: str | None) -> str:
    if place is None:
        return t.NO_SEAT.format(people=people)
    return t.AT.format(people=people, place=_place(place))


def _place(name: str | None) -> str:
    if name is None:
        return t.NOWHERE
    return t.OWN_PLACE if name == OWN_PLACE else name
