"""Stores for tests: empty databases that are gone afterwards."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import make_url, text
from sqlalchemy.engine import URL

from service.outfits.demo import add_demo
from service.storage import Store, schema

POSTGRES = "WAVESETUP_TEST_POSTGRES_URL"


@contextmanager
def empty(folder: Path) -> Iterator[str]:
    """The URL of a database without any table."""
    server = os.environ.get(POSTGRES)
    if not server:
        yield f"sqlite:///{folder}/wavesetup.sqlite"
        return
    name = f"wavesetup_test_{secrets.token_hex(6)}"
    _on_server(make_url(server), f"CREATE DATABASE {name}")
    try:
        yield make_url(server).set(database=name).render_as_string(hide_password=False)
    finally:
        _on_server(make_url(server), f"DROP DATABASE {name} WITH (FORCE)")


@contextmanager
def fresh(folder: Path) -> Iterator[str]:
    """The URL of a database with the schema and the demo outfit."""
    with empty(folder) as url:
        store = Store(url)
        schema.upgrade(store)
        with store.writing() as session:
            add_demo(session)
        store.close()
        yield url


def _on_server(server: URL, statement: str) -> None:
    store = Store(server.render_as_string(hide_password=False))
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text(statement))
    store.close()
