"""Run by alembic, on the connection that ``service.storage.schema`` gives it."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context

from service.storage.tables import Base, Moment


def render(kind: str, item: Any, _context: Any) -> str | Literal[False]:
    """A migration names plain types: it has to run long after this program's have changed."""
    if kind == "type" and isinstance(item, Moment):
        return "sa.DateTime(timezone=True)"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_item=render,
    # SQLite changes a table by writing it anew.
    render_as_batch=True,
    transaction_per_migration=False,
)
with context.begin_transaction():
    context.run_migrations()
