"""What the ids in a request stand for, to be kept with what was made of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.storage.tables import Boat, Kept, Rider, Setup

OF_A_RIDER = ("mass", "stance", "board", "level", "wants")
"""A name and notes have no part in advice."""
OF_THEMSELVES = ("rider", "name", "age")
"""Members of what names a rider that tell who it is."""
NOT_OF_A_SETUP = ("notes",)


def stood_for(
    session: Session, outfit: str, request: Mapping[str, Any], used: str | None
) -> dict[str, dict[str, Any]]:
    """By kind and id: the version and the document (metric) of whatever a request names.

    ``request`` is a body of ``/v1/advice``; ``used`` the id of the saved set-up in the answer.
    """
    found = {setup.id: setup for setup in _rows(session, outfit, Setup, filter(None, [used]))}
    documents = [setup.document for setup in found.values()]
    setups = {
        setup.id: _shown(setup, [n for n in setup.document if n not in NOT_OF_A_SETUP])
        for setup in found.values()
    }
    boats = {each["boat"] for each in (request, *documents) if isinstance(each.get("boat"), str)}
    riders = {name for each in (request, *documents) for name in riders_of(each)}
    kinds = {
        "boats": {boat.id: _shown(boat, boat.document) for boat in
                  _rows(session, outfit, Boat, boats)},
        "riders": {rider.id: _shown(rider, OF_A_RIDER) for rider in
                   _rows(session, outfit, Rider, riders)},
        "setups": setups,
    }  # fmt: skip
    return {kind: named for kind, named in kinds.items() if named}


def riders_of(document: Mapping[str, Any]) -> Iterator[str]:
    """The ids of the riders that a request, a set-up or a run names: who rides, and the crew."""
    crew = document.get("crew")
    for each in (document, *(crew if isinstance(crew, list) else ())):
        rider = each.get("rider")
        if isinstance(rider, str):
            yield rider
    if isinstance(request := document.get("request"), Mapping):
        yield from riders_of(request)


def riders_named(document: Mapping[str, Any]) -> set[str]:
    """The same, and those of whom a run keeps what their ids stood for."""
    return {*riders_of(document), *document.get("stood_for", {}).get("riders", ())}


def without_rider(value: Any, rider_id: str) -> Any:
    """A document in which nothing names the rider any more, nor what the id stood for."""
    if isinstance(value, list):
        return [without_rider(each, rider_id) for each in value]
    if not isinstance(value, Mapping):
        return value
    left, themselves = {}, value.get("rider") == rider_id
    for name, inside in value.items():
        if themselves and name in OF_THEMSELVES:
            continue
        kept = inside
        if name == "riders" and isinstance(inside, list):
            kept = [each for each in inside if each != rider_id]
        elif name == "riders" and isinstance(inside, Mapping):
            kept = {each: of for each, of in inside.items() if each != rider_id}
        left[name] = without_rider(kept, rider_id)
    return left


def _rows(session: Session, outfit: str, row: type[Any], ids: Iterable[str]) -> list[Any]:
    wanted = sorted(ids)
    if not wanted:
        return []
    query = select(row).where(row.outfit_id == outfit, row.id.in_(wanted), row.deleted.is_(None))
    return list(session.scalars(query.order_by(row.number)))


def _shown(row: Kept, names: Iterable[str]) -> dict[str, Any]:
    known = {name: row.document[name] for name in names if name in row.document}
    return {"version": row.version, **known}
