"""What a request names by id, looked up in the store of the application."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Self, TypeVar

from flask import Flask, current_app, request
from marshmallow import ValidationError
from sqlalchemy import Row, bindparam, case, func, select
from werkzeug.exceptions import BadRequest

from rules.base import RuleBase
from schemas import error_texts as say
from schemas.advice_request import RiderSchema
from schemas.boat import KeptBoatSchema
from schemas.fleet import demo_fleet
from schemas.known import Riders
from schemas.setups import SetupSchema, kept_setup
from schemas.units import System, using
from service.advice.requests import KeptSetup, Rider
from service.api import budget
from service.api.logs import LOGGER
from service.boats.fleet import Boats, Fleet, UnknownBoatError
from service.boats.model import Boat
from service.caches import MB, SizedCache
from service.outfits.demo import bring_up
from service.storage import Store, tables
from service.storage.documents import NotStoredError
from service.storage.engine import DEFAULT_URL, STORE_FAULTS
from service.storage.tables import Document
from service.storage.usage import Quotas

AWAY_FOR = 5.0
"""Seconds until it is tried again."""
MOST_CACHED = 64 * MB
"""Boats of one kind that a process holds, as entered or as learned."""
MOST_NAMED = 20
MOST_OWN = 10
"""So many of a rider's set-ups are looked at."""

_BOAT = tables.Boat
_MINE = (_BOAT.outfit_id == bindparam("outfit"), _BOAT.deleted.is_(None))
# Asked with every request that names a boat: put together once.
_STANDS = select(_BOAT.version, _BOAT.evidence).where(*_MINE, _BOAT.id == bindparam("boat"))
_NAMES = select(_BOAT.id).where(*_MINE).order_by(_BOAT.number).limit(MOST_NAMED)


ValueT = TypeVar("ValueT")


def the_store() -> Store:
    """The store of the application that is at work."""
    store: Store = current_app.extensions["store"]
    return store


def init_app(app: Flask) -> Store:
    """The store as ``DATABASE_URL`` says. SQLite is ready to use after this.

    Not so for a command of the operator: one that mends the store has to find it as it is. The
    others bring it up themselves, and ``flask run`` with its first request.
    """
    store = Store(app.config.get("DATABASE_URL", DEFAULT_URL))
    store.quotas = _quotas(app)
    store.committing = budget.committing
    app.extensions["store"] = store
    if os.environ.get("FLASK_RUN_FROM_CLI") == "true":
        once = cache(bring_up)
        app.before_request(lambda: once(store, backup_folder(app)))
    else:
        bring_up(store, backup_folder(app))
    app.before_request(_refuse_nul)
    return store


def _quotas(app: Flask) -> Quotas:
    """By the settings ``QUOTA_ROWS``, ``QUOTA_BYTES`` and ``QUOTA_READINGS``, each from 1."""
    given = {}
    for name in ("rows", "bytes", "readings"):
        value = app.config.get(f"QUOTA_{name.upper()}")
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            raise ValueError(f"WAVESETUP_QUOTA_{name.upper()} has to be a whole number from 1.")
        given[name] = value
    return Quotas(**given)


def backup_folder(app: Flask) -> Path | None:
    """Where the store is backed up before a migration; ``None``: where that is by default."""
    folder = app.config.get("BACKUP_FOLDER")
    return Path(str(folder)) if folder else None


def unless_away(ask: Callable[[], ValueT], otherwise: Callable[[], ValueT]) -> ValueT:
    """What the store says; while it does not answer, what is known without it.

    For what needs no store but would look into it: a caller without a key, the demo fleet. Not
    every such request waits for the store in vain.
    """
    at = current_app.extensions
    if time.monotonic() >= at.get("store_away_until", 0.0):
        try:
            return ask()
        except STORE_FAULTS:
            at["store_away_until"] = time.monotonic() + AWAY_FOR
            LOGGER.warning("the store does not answer; callers without a key are served without")
    return otherwise()


def findable(text: str) -> str:
    """The text without NUL, which PostgreSQL neither holds nor takes to look for."""
    return text.replace("\0", "\N{REPLACEMENT CHARACTER}")


def _refuse_nul() -> None:
    if "\0" in request.path or any("\0" in text for pair in request.args.items() for text in pair):
        raise BadRequest(say.NUL_IN_ADDRESS)


@cache
def _shipped() -> Fleet:
    return demo_fleet()


class _OfOneStore:
    """Whoever is asked for something by id. flask-smorest copies schemas, this goes along whole."""

    def __init__(self, store: Store, outfit: Callable[[], str]) -> None:
        self._store, self._outfit = store, outfit

    def __deepcopy__(self, _memo: object) -> Self:
        return self


class StoredBoats(_OfOneStore):
    """The boats of the outfit that asks; a boat is built once a version and process."""

    def __init__(self, store: Store, outfit: Callable[[], str]) -> None:
        super().__init__(store, outfit)
        self._cache: SizedCache[tuple[str, str, int], Boat] = SizedCache(MOST_CACHED)
        self._latest: dict[str, Boat] = {}
        self._schema = KeptBoatSchema()

    def find(self, boat_id: str) -> Boat:
        """The boat, or :class:`UnknownBoatError` with the ids that there are."""
        version = self.version(boat_id)

        def build() -> Boat:
            row = tables.BoatVersion
            query = select(row.document).where(
                row.outfit_id == self._outfit(), row.boat_id == boat_id, row.version == version
            )
            with self._store.connected() as connection:
                document = connection.scalars(query).one()
            with using(System.METRIC):  # it may be asked for in the middle of another request
                boat: Boat = self._schema.load({**document, "id": boat_id})
            return replace(boat, hull=replace(boat.hull, kept=True))

        return self._cache.get((self._outfit(), boat_id, version), build)

    def find_in_demo(self, boat_id: str) -> Boat:
        """A boat for whoever asks without a key: as it was last, while the store does not answer.

        Raises :class:`UnknownBoatError`.
        """

        def ask() -> Boat:
            self._latest[boat_id] = StoredBoats.find(self, boat_id)
            return self._latest[boat_id]

        return unless_away(ask, lambda: self._latest.get(boat_id) or _shipped().find(boat_id))

    def every(self) -> list[Boat]:
        """All boats of the outfit."""
        row = tables.Boat
        query = select(row.id).where(row.outfit_id == self._outfit(), row.deleted.is_(None))
        with self._store.connected() as connection:
            ids = connection.scalars(query.order_by(row.number)).all()
        return [self.find(boat_id) for boat_id in ids]

    def version(self, boat_id: str) -> int:
        """The current version of a boat, or :class:`UnknownBoatError`."""
        return self.stands(boat_id)[0]

    def stands(self, boat_id: str) -> tuple[int, int]:
        """The current version of a boat, and how often what is kept of her has changed.

        Raises :class:`UnknownBoatError`.
        """
        outfit = self._outfit()
        with self._store.connected() as connection:
            found = connection.execute(
                _STANDS, {"outfit": outfit, "boat": findable(boat_id)}
            ).one_or_none()
            if found is None:
                names = connection.scalars(_NAMES, {"outfit": outfit}).all()
                raise UnknownBoatError(boat_id, names)
        return found.version, found.evidence


class StoredRiders(_OfOneStore):
    """The riders of the outfit that asks."""

    def __init__(self, store: Store, outfit: Callable[[], str]) -> None:
        super().__init__(store, outfit)
        self._schema = RiderSchema()

    def find(self, rider_id: str) -> Rider:
        """The rider, or :class:`NotStoredError`."""
        row = tables.Rider
        query = select(row.document).where(
            row.outfit_id == self._outfit(), row.deleted.is_(None), row.id == findable(rider_id)
        )
        with self._store.connected() as connection:
            document = connection.scalar(query)
        if document is None:
            raise NotStoredError("rider", rider_id)
        known = {name: document[name] for name in self._schema.fields if name in document}
        with using(System.METRIC):
            rider: Rider = self._schema.load(known)
        return rider


class StoredSetups:
    """The saved set-ups of the outfit whose key was told; without a key there are none."""

    def __init__(
        self, store: Store, outfit: Callable[[], str | None], boats: Boats, riders: Riders,
        rules_of: Callable[[str], RuleBase],
    ) -> None:  # fmt: skip
        """``rules_of``: the rule base for the boat with an id."""
        self._store, self._outfit, self._rules_of = store, outfit, rules_of
        self._schema = SetupSchema(boats, AsFarAsKept(riders))

    def __deepcopy__(self, _memo: object) -> Self:
        return self

    def find(self, setup_id: str) -> KeptSetup:
        """The set-up, or :class:`NotStoredError`."""
        row = tables.Setup
        query = select(row.id, row.document).where(
            row.outfit_id == self._outfit(), row.deleted.is_(None), row.id == findable(setup_id)
        )
        with self._store.connected() as connection:
            found = connection.execute(query).first()
        if found is None:
            raise NotStoredError("setup", setup_id)
        kept = self._kept(found)
        if kept is None:
            raise ValidationError(say.SETUP_NO_LONGER_FITS)
        return kept

    def of_rider(self, rider_id: str, boat_id: str) -> tuple[KeptSetup, ...]:
        """The rider's own that worked: on this boat first, then the best, then the latest."""
        row = tables.Setup
        worked = self._rules_of(boat_id).number("saved.worked")
        rating = func.coalesce(row.rating, worked)
        query = (
            select(row.id, row.document)
            .where(
                row.outfit_id == self._outfit(),
                row.deleted.is_(None),
                row.rider_id == findable(rider_id),
                rating >= worked,
            )
            .order_by(
                case((row.boat_id == findable(boat_id), 0), else_=1),
                rating.desc(),
                row.number.desc(),
            )
            .limit(MOST_OWN)
        )
        with self._store.connected() as connection:
            rows = connection.execute(query).all()
        return tuple(kept for row in rows if (kept := self._kept(row)) is not None)

    def _kept(self, row: Row[str, Document]) -> KeptSetup | None:
        """``None`` for one whose boat is gone, or has changed so that it no longer fits."""
        document = {name: value for name, value in row.document.items() if name != "rider"}
        try:
            return kept_setup(row.id, self._schema.load(document))
        except (UnknownBoatError, ValidationError):
            return None


class AsFarAsKept:
    """Riders of whom nothing is known any more are someone."""

    def __init__(self, riders: Riders) -> None:
        self._riders = riders

    def find(self, rider_id: str) -> Rider:
        try:
            return self._riders.find(rider_id)
        except NotStoredError:
            return Rider()
