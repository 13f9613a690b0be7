"""API keys: bearer tokens (RFC 6750) of an outfit, with what each may do."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from service.storage import Store, usage
from service.storage.documents import NotStoredError, new_id
from service.storage.tables import Key, Outfit, now

PREFIX = "wsk_"
"""Lets a person, and a scanner for leaked secrets, see what it is."""
_USE_NOTED_EVERY = timedelta(minutes=1)


class Scope(StrEnum):
    """What a key may do, as levels: each includes those before it.

    Whoever may change a document sees it in the answer, and whoever may make keys can make one
    for anything; so a key that writes or administers without reading would only seem to.
    """

    READ = "read"
    WRITE = "write"
    ADMIN = "admin"


SCOPES = {
    Scope.READ: "sees everything that the outfit keeps",
    Scope.WRITE: "also changes and deletes it",
    Scope.ADMIN: "also manages the outfit, its rules and its keys",
}
"""What each level adds to the one before it."""


def with_lower(scopes: Iterable[Scope]) -> tuple[Scope, ...]:
    """The scopes with all that they include, the lowest first."""
    levels = tuple(Scope)
    return levels[: max((levels.index(scope) + 1 for scope in scopes), default=0)]


@dataclass(frozen=True, slots=True)
class Principal:
    """Who asks: an outfit, by one of its keys."""

    outfit: str
    key_id: str
    scopes: frozenset[Scope]
    expires: datetime | None = None


def hashed(token: str) -> str:
    """What is kept of a token.

    A plain SHA-256 is right here. Slow, salted hashes are for passwords, which people choose and
    others guess; a token is 256 random bits, and to guess it from its hash is to guess it at all.
    And it is looked up with every request, so the hash has to be one that an index finds.
    """
    return hashlib.sha256(token.encode()).hexdigest()


def issue(
    session: Session,
    outfit: str,
    name: str,
    scopes: Iterable[Scope],
    expires: datetime | None = None,
) -> tuple[Key, str]:
    """A new key and its token, which nobody can be shown a second time.

    :class:`NotStoredError` where there is no such outfit.
    """
    if session.get(Outfit, outfit) is None:
        raise NotStoredError("outfit", outfit)
    token = PREFIX + secrets.token_urlsafe(32)
    key = Key(
        id=new_id(),
        outfit_id=outfit,
        name=name,
        hash=hashed(token),
        scopes=" ".join(with_lower(scopes)),
        expires=expires,
    )
    session.add(key)
    session.flush()
    usage.charge(session, outfit, 1, 0)
    return key, token


def recognise(store: Store, token: str) -> Principal | None:
    """Whose token this is; ``None`` for one unknown, expired or revoked."""
    # Columns, not objects: this runs with every request.
    query = select(
        Key.id, Key.outfit_id, Key.scopes, Key.expires, Key.last_used, Key.revoked
    ).where(Key.hash == hashed(token))
    with store.connected() as connection:
        found = connection.execute(query).first()
    at = now()
    if found is None or found.revoked is not None:
        return None
    if found.expires is not None and found.expires <= at:
        return None
    # Not with every request: each would be a write, and all would wait for one another.
    if found.last_used is None or at - found.last_used >= _USE_NOTED_EVERY:
        store.attempt(update(Key).where(Key.id == found.id).values(last_used=at))
    scopes = frozenset(scopes_of(found.scopes))
    return Principal(found.outfit_id, found.id, scopes, found.expires)


def scopes_of(stored: str) -> tuple[Scope, ...]:
    """The scopes of a key as it is stored; an older one may name a level without the lower ones."""
    return with_lower(map(Scope, stored.split()))


def every(session: Session, outfit: str) -> Sequence[Key]:
    """The outfit's keys, the oldest first, revoked and expired ones too."""
    return session.scalars(
        select(Key).where(Key.outfit_id == outfit).order_by(Key.created, Key.id)
    ).all()


def find(session: Session, outfit: str, key_id: str) -> Key:
    """One of the outfit's keys, or :class:`NotStoredError`."""
    found = session.scalar(select(Key).where(Key.outfit_id == outfit, Key.id == key_id))
    if found is None:
        raise NotStoredError("key", key_id)
    return found


def revoke(session: Session, outfit: str, key_id: str) -> Key:
    """From now on the key opens nothing. To revoke it twice changes nothing."""
    key = find(session, outfit, key_id)
    key.revoked = key.revoked or now()
    return key
