"""Stores that a test may break: each its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.storage import Store
from tests import stores


@pytest.fixture
def empty_store(tmp_path: Path) -> Iterator[Store]:
    """A store without any table."""
    with stores.empty(tmp_path) as url:
        store = Store(url)
        yield store
        store.close()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A store with the schema and the demo outfit."""
    with stores.fresh(tmp_path) as url:
        store = Store(url)
        yield store
        store.close()
