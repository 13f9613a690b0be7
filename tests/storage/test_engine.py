"""The ways to write."""

from __future__ import annotations

import time

from sqlalchemy import select, text, update

from service.outfits.demo import DEMO
from service.storage import Store
from service.storage.engine import PATIENCE
from service.storage.tables import Outfit


def name(store: Store) -> str | None:
    with store.connected() as connection:
        return connection.scalar(select(Outfit.name).where(Outfit.id == DEMO))


def test_what_nothing_hangs_on_is_left_out_where_another_writes(store: Store) -> None:
    with store.writing() as session:
        session.execute(update(Outfit).values(name="first"))
        begun = time.monotonic()
        store.attempt(update(Outfit).values(name="second"))
        assert time.monotonic() - begun < PATIENCE / 2
    assert name(store) == "first"
    store.attempt(update(Outfit).values(name="third"))
    assert name(store) == "third"


def test_what_nothing_hangs_on_may_fail(store: Store) -> None:
    store.attempt(text("UPDATE no_such_table SET name = 'x'"))
    with store.writing() as session:  # the connection is as good as before
        session.execute(update(Outfit).values(name="after"))
    assert name(store) == "after"
