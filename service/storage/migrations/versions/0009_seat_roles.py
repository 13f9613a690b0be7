"""Seats get the role that their ids stood for: "helm" the driver's, "observer" the observer's.

All others go by their place whenever the boat is read. A boat in which no seat is called so is
reported: someone has to say where the wheel is.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0007"
branch_labels = None
depends_on = None

AT_ONCE = 200
ROLES = {"helm": "driver", "observer": "observer"}
OF_A_BOAT = ("fill_step",)
OF_A_SEAT = ("role", "faces")
OF_LIMITS = ("bow_persons", "bow_mass")
OF_A_PERSON = ("name", "age", "role")

Document = dict[str, Any]

_LOG = logging.getLogger("service.storage.migrations")
_BOATS = sa.table(
    "boats",
    sa.column("number", sa.Integer()),
    sa.column("outfit_id", sa.String()),
    sa.column("id", sa.String()),
    sa.column("version", sa.Integer()),
    sa.column("document", sa.JSON()),
    sa.column("updated", sa.DateTime(timezone=True)),
    sa.column("deleted", sa.DateTime(timezone=True)),
)
_VERSIONS = sa.table(
    "boat_versions",
    sa.column("outfit_id", sa.String()),
    sa.column("boat_id", sa.String()),
    sa.column("version", sa.Integer()),
    sa.column("document", sa.JSON()),
    sa.column("created", sa.DateTime(timezone=True)),
)
_RUNS = sa.table("runs", sa.column("number", sa.Integer()), sa.column("document", sa.JSON()))
_SETUPS = sa.table("setups", sa.column("number", sa.Integer()), sa.column("document", sa.JSON()))


def upgrade() -> None:
    """Each boat in its next version, so that the one before stays as it was."""
    connection = op.get_bind()
    for boat in _rows(_BOATS):
        document = _with_roles(boat.document)
        if boat.deleted is None and not _can_be_driven(document):
            _LOG.warning(
                'Boat "%s" of outfit "%s" has no driver\'s seat: give the seat at the wheel '
                '"role": "driver". Until then the advice for it is not to go.',
                boat.id, boat.outfit_id,
            )  # fmt: skip
        if document == boat.document:
            continue
        at = datetime.now(UTC)
        new = {"version": boat.version + 1, "document": document}
        connection.execute(
            _BOATS.update().where(_BOATS.c.number == boat.number).values(updated=at, **new)
        )
        connection.execute(
            _VERSIONS.insert().values(outfit_id=boat.outfit_id, boat_id=boat.id, created=at, **new)
        )
    _change(_RUNS, '"seats"', lambda run: _of_request(run, _with_roles, lambda crew: crew))


def downgrade() -> None:
    """Without what the program before refuses to read."""
    connection = op.get_bind()
    for boat in _rows(_BOATS):
        left = _without_roles(boat.document)
        connection.execute(
            _BOATS.update().where(_BOATS.c.number == boat.number).values(document=left)
        )
    for boat in connection.execute(sa.select(_VERSIONS)).all():
        of = (_VERSIONS.c.outfit_id == boat.outfit_id, _VERSIONS.c.boat_id == boat.boat_id)
        connection.execute(
            _VERSIONS.update()
            .where(*of, _VERSIONS.c.version == boat.version)
            .values(document=_without_roles(boat.document))
        )
    _change(_RUNS, '"request"', lambda run: _of_request(run, _without_roles, _nameless))
    _change(_SETUPS, '"crew"', lambda kept: kept | _crew_of(kept, _nameless))


def _rows(table: sa.TableClause, *where: sa.ColumnElement[bool]) -> Iterator[sa.Row[Any]]:
    last = 0
    some = sa.select(table).where(*where).order_by(table.c.number).limit(AT_ONCE)
    while rows := op.get_bind().execute(some.where(table.c.number > last)).all():
        last = rows[-1].number
        yield from rows


def _change(table: sa.TableClause, word: str, changed: Callable[[Document], Document]) -> None:
    """Documents that have the word in them, as far as they change."""
    for row in _rows(table, sa.cast(table.c.document, sa.Text()).contains(word)):
        document = changed(row.document)
        if document != row.document:
            query = table.update().where(table.c.number == row.number)
            op.get_bind().execute(query.values(document=document))


def _of_request(
    run: Document, of_boat: Callable[[Document], Document], of_crew: Callable[[Any], Any]
) -> Document:
    """A run with the boats and the crew that its request brought along changed."""
    request = run.get("request")
    if not isinstance(request, dict):
        return run
    request = request | _crew_of(request, of_crew)
    if isinstance(request.get("boat"), dict):
        request["boat"] = of_boat(request["boat"])
    saved = request.get("saved")
    if isinstance(saved, dict) and isinstance(saved.get("boat"), dict):
        request["saved"] = saved | {"boat": of_boat(saved["boat"])}
    return run | {"request": request}


def _crew_of(document: Document, changed: Callable[[Any], Any]) -> Document:
    crew = document.get("crew")
    return {"crew": [changed(each) for each in crew]} if isinstance(crew, list) else {}


def _nameless(person: Any) -> Any:
    return _left(person, OF_A_PERSON)


def _with_roles(boat: Document) -> Document:
    seats = boat.get("seats")
    if not isinstance(seats, list):
        return boat
    return boat | {
        "seats": [
            seat | {"role": ROLES[seat["id"]]}
            if seat.get("id") in ROLES and seat.get("role") is None
            else seat
            for seat in seats
        ]
    }


def _without_roles(boat: Document) -> Document:
    left: Document = _left(boat, OF_A_BOAT)
    if isinstance(seats := boat.get("seats"), list):
        left["seats"] = [_left(seat, OF_A_SEAT) for seat in seats]
    if "limits" in boat:
        left["limits"] = _left(boat["limits"], OF_LIMITS)
    return left


def _left(part: Any, names: tuple[str, ...]) -> Any:
    if not isinstance(part, dict):
        return part
    return {name: value for name, value in part.items() if name not in names}


def _can_be_driven(boat: Document) -> bool:
    return any(seat.get("role") == "driver" for seat in boat.get("seats") or ())
