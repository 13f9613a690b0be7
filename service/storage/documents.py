"""Documents of an outfit: found by id, listed in pages, changed only in the version known.

An outfit sees its own and nothing else: every statement here names the outfit.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Generic, TypeVar

from sqlalchemy import ColumnElement, ScalarSelect, Select, func, select, tuple_, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.storage import feedback, usage
from service.storage.tables import (
    Boat,
    BoatVersion,
    Calibration,
    Document,
    Kept,
    Outfit,
    Run,
    now,
)

RowT = TypeVar("RowT", bound=Kept)


class NotStoredError(LookupError):
    """The outfit has nothing of this kind under this id, or has no longer."""

    def __init__(self, kind: str, row_id: str) -> None:
        self.kind, self.row_id = kind, row_id
        super().__init__(f"{kind} {row_id}")


class AlreadyStoredError(ValueError):
    """The id is taken; perhaps by something that was deleted and is kept for the history."""

    def __init__(self, kind: str, row_id: str) -> None:
        self.kind, self.row_id = kind, row_id
        super().__init__(f"{kind} {row_id}")


class StaleError(ValueError):
    """Someone else changed it since the version that was named."""


def new_id() -> str:
    """An id that nobody guesses: 64 bits; in lower case, so that it survives being read out."""
    return secrets.token_hex(8)


def hold(session: Session, outfit: str) -> None:
    """Until the end of this unit of work no other of the outfit goes past its own hold.

    Before anything else that is written in it, so that no two wait for each other in a circle.
    """
    # A key share: what merely refers to the outfit is written meanwhile.
    query = select(Outfit.id).where(Outfit.id == outfit)
    session.execute(query.with_for_update(key_share=True))


class Shelf(Generic[RowT]):
    """The documents of one kind that one outfit has, within one unit of work."""

    def __init__(self, session: Session, row: type[RowT], outfit: str) -> None:
        self.session, self.row, self.outfit = session, row, outfit

    @property
    def kind(self) -> str:
        return self.row.__name__.lower()

    def find(self, row_id: str) -> RowT:
        """The document, or :class:`NotStoredError`."""
        found = self.session.scalar(self._live().where(self.row.id == row_id))
        if found is None:
            raise NotStoredError(self.kind, row_id)
        return found

    def number(self, row_id: str, created: datetime) -> int:
        """The place of a document in the lists; of one that was erased, of what came before it."""
        found = self.session.scalar(select(self.row.number).where(*self._place(row_id)))
        if found is None:
            earlier = (self.row.outfit_id == self.outfit, self.row.created < created)
            found = self.session.scalar(select(func.max(self.row.number)).where(*earlier))
        return found or 0

    def page(
        self, limit: int, after: int = 0, where: Sequence[ColumnElement[bool]] = ()
    ) -> Sequence[RowT]:
        """At most ``limit`` documents, in the order in which they came, after a ``number``."""
        query = self._live().where(self.row.number > after, *where)
        return self.session.scalars(query.order_by(self.row.number).limit(limit)).all()

    def page_by(
        self, moment: InstrumentedAttribute[datetime], limit: int,
        after: tuple[datetime, int] | None = None, where: Sequence[ColumnElement[bool]] = (),
    ) -> Sequence[RowT]:  # fmt: skip
        """The same by a moment of theirs, and then as they came."""
        query = self._live().where(*where)
        if after is not None:
            query = query.where(tuple_(moment, self.row.number) > after)
        return self.session.scalars(query.order_by(moment, self.row.number).limit(limit)).all()

    def add(self, row_id: str | None, document: Document, **columns: Any) -> RowT:
        """A new document.

        :class:`AlreadyStoredError` where its id is taken, :class:`~.usage.QuotaError` where the
        outfit has no room for it.
        """
        hold(self.session, self.outfit)
        row = self.row(
            outfit_id=self.outfit, id=row_id or new_id(), document=document, version=1, **columns
        )
        try:
            with self.session.begin_nested():
                self.session.add(row)
                self.session.flush()
        except IntegrityError as error:
            query = select(self.row.number).where(*self._place(row.id))
            if self.session.scalar(query) is None:
                raise  # not the id: a reference that leads nowhere
            raise AlreadyStoredError(self.kind, row.id) from error
        grown = usage.size_of(row) + self._history(document)
        usage.charge(self.session, self.outfit, 1, grown)
        if isinstance(row, Run):
            feedback.note(self.session, self.outfit, row.id, row.answer)
        self._remember(row.id, 1, document)
        return row

    def replace(self, row_id: str, version: int, document: Document, **columns: Any) -> RowT:
        """The document anew, in the next version.

        :class:`StaleError` where ``version`` is no longer the current one, which the statement
        that writes decides: between a look and a write someone else may have been there.
        """
        hold(self.session, self.outfit)
        self._count(row_id)  # for the boat it is of now; it may be of another one afterwards
        before = self._size(row_id)
        written = self.session.execute(
            update(self.row)
            .where(*self._place(row_id), self.row.version == version, self.row.deleted.is_(None))
            .values(version=version + 1, document=document, updated=now(), **columns)
            .returning(self.row.number)
        ).scalar()
        if written is None:
            self.find(row_id)
            raise StaleError(row_id)
        grown = self._size(row_id) - before + self._history(document)
        usage.charge(self.session, self.outfit, 0, grown)
        self._remember(row_id, version + 1, document)
        self.session.expire_all()
        return self.find(row_id)

    def remove(self, row_id: str, version: int) -> None:
        """Deletes the document from sight; history that names it keeps it.

        :class:`StaleError` as with :meth:`replace`.
        """
        hold(self.session, self.outfit)
        written = self.session.execute(
            update(self.row)
            .where(*self._place(row_id), self.row.version == version, self.row.deleted.is_(None))
            .values(version=version + 1, deleted=now())
            .returning(self.row.number)
        ).scalar()
        if written is None:
            self.find(row_id)
            raise StaleError(row_id)
        self._count(row_id)
        usage.charge(self.session, self.outfit, -1, 0)
        if issubclass(self.row, Run):
            feedback.forget(self.session, self.outfit, row_id)

    def _live(self) -> Select[RowT]:
        return select(self.row).where(self.row.outfit_id == self.outfit, self.row.deleted.is_(None))

    def _place(self, row_id: str) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
        return self.row.outfit_id == self.outfit, self.row.id == row_id

    def _size(self, row_id: str) -> int:
        return usage.size(self.session, self.row, *self._place(row_id))

    def _history(self, document: Document) -> int:
        """Bytes that a version takes beside the document itself: every version of a boat stays."""
        return len(json.dumps(document)) if issubclass(self.row, Boat) else 0

    def _count(self, row_id: str) -> None:
        """What its boat is learned from has changed."""
        if issubclass(self.row, Run | Calibration):
            boat = select(self.row.boat_id).where(*self._place(row_id)).scalar_subquery()
            count_evidence(self.session, self.outfit, boat)

    def _remember(self, row_id: str, version: int, document: Document) -> None:
        self._count(row_id)
        if issubclass(self.row, Boat):
            self.session.add(
                BoatVersion(
                    outfit_id=self.outfit, boat_id=row_id, version=version, document=document
                )
            )
            self.session.flush()
        elif issubclass(self.row, Run):
            feedback.override(self.session, self.outfit, row_id, document)


def count_evidence(session: Session, outfit: str, boat: str | ScalarSelect[str | None]) -> None:
    """What a boat is learned from has changed; whoever writes past a shelf says so here."""
    session.execute(
        update(Boat)
        .where(Boat.outfit_id == outfit, Boat.id == boat)
        .values(evidence=Boat.evidence + 1)
        .execution_options(synchronize_session=False)
    )
