"""The demo outfit: invented boats of an invented outfit, for a store that is empty."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.storage import Store, schema
from service.storage.backup import before_migration
from service.storage.documents import Shelf
from service.storage.tables import Boat, Outfit

DEMO = "demo"
"""The outfit whose boats everybody may ask advice for, without a key."""


def bring_up(store: Store, backups: Path | None = None) -> None:
    """On SQLite: the schema, and in an empty store the demo outfit. May run in every process.

    An older store is first backed up into ``backups``, by default beside it.

    PostgreSQL is left alone: there, migrations are a command of the operator.
    """
    if not store.is_sqlite:
        return
    if not schema.is_ready(store):
        schema.upgrade(store, before=before_migration(store, backups))
    with store.reading() as session:
        if session.scalar(select(Outfit.id).limit(1)) is not None:
            return
    with store.writing() as session:
        add_demo(session)


def add_demo(session: Session) -> None:
    """The demo outfit with its fleet, unless there is any outfit already."""
    if session.scalar(select(Outfit.id).limit(1)) is not None:
        return
    session.add(Outfit(id=DEMO, name="Brindle Lake Rentals"))
    session.flush()
    boats = Shelf(session, Boat, DEMO)
    folder = files("service.boats") / "demo"
    for path in sorted(folder.iterdir(), key=lambda path: path.name):
        if path.name.endswith(".json"):
            document = json.loads(path.read_text(encoding="utf-8"))
            boats.add(
                document.pop("id"),
                document,
                name=document["name"],
                propulsion=document["propulsion"],
            )
