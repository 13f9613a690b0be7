"""``Idempotency-Key``: a POST that is sent again is done once, and answered alike.

A request claims its key in a transaction of its own, so that others see that it is in flight. Its
answer is kept in the very transaction that stores what it made: either both are there or neither.
A claim whose process died is free again after a while.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import wraps
from typing import Any

from flask import Response, g, request
from sqlalchemy import delete, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from werkzeug.exceptions import Conflict, Gone, NotFound, UnprocessableEntity

from schemas import error_texts as say
from schemas import plain
from schemas.record import InputSchema
from service.api.auth import principal
from service.api.body import Blueprint
from service.api.stored import the_store
from service.storage.tables import LONGEST_ROUTE, Once, now

KEPT_FOR = timedelta(hours=24)
LEASE = timedelta(seconds=60)
"""After this a claim is taken over: its worker is dead (the server ends one after 30 s)."""
_HEADERS = ("Location", "ETag", "Link", "Cache-Control", "Rule-Set")


class IdempotencySchema(InputSchema):
    """A name for this request, made up by the caller."""

    idempotency_key = plain.String(
        data_key="Idempotency-Key",
        load_default=None,
        validate=[
            plain.Length(1, 255),
            plain.Regexp(r"^[!-~]+$", error=say.IDEMPOTENCY_KEY_FORM),
        ],
        metadata={
            "description": "Any unique text, such as a UUID. Sent again within 24 hours with the "
            "same body, the first answer comes again and nothing is stored twice. With another "
            "body: 422. While the first is at work: 409."
        },
    )


@dataclass(slots=True)
class Claim:
    """A key that this request holds. ``kept`` once the answer is in the store."""

    outfit: str
    route: str
    key: str
    body_hash: str
    at: datetime
    kept: bool = False

    @property
    def place(self) -> tuple[Any, ...]:
        return (Once.outfit_id == self.outfit, Once.route == self.route, Once.key == self.key)


def once(resource: Blueprint) -> Callable[[Callable[..., Response]], Callable[..., Response]]:
    """A view that stores is done once a key. It calls :func:`keep` where it stores.

    Goes right below ``route``: what comes again is answered as it was, whatever became since of
    those whom its path and body name.
    """

    def decorate(view: Callable[..., Response]) -> Callable[..., Response]:
        @wraps(view)
        def at_most_once(*args: Any, idempotency_key: str | None, **kwargs: Any) -> Response:
            if idempotency_key is None:
                return view(*args, **kwargs)
            route = f"{request.method} {request.path}"
            if len(route) > LONGEST_ROUTE:
                raise NotFound  # no id is that long
            claim = Claim(principal().outfit, route, idempotency_key, _body_hash(), now())
            earlier = _claim(claim)
            if earlier is not None:
                return earlier
            g.claim = claim
            try:
                return view(*args, **kwargs)
            finally:
                # Refused or failed: it may be corrected and sent again under the same key.
                if not claim.kept and not getattr(g, "streams", False):
                    release(claim)

        documented: Callable[..., Response] = resource.arguments(
            IdempotencySchema(), location="headers", as_kwargs=True
        )(at_most_once)
        return documented

    return decorate


def keep(session: Session, response: Response, answer: str | None = None) -> None:
    """Keeps the answer with what ``session`` stores. Nothing to do without a key.

    ``answer`` is kept in the place of the response's own body, where that tells a secret.
    """
    claim: Claim | None = g.get("claim")
    if claim is None:
        return
    kept = session.execute(
        update(Once)
        .where(*claim.place, Once.claimed == claim.at)
        .values(
            status=response.status_code,
            headers={name: response.headers[name] for name in _HEADERS if name in response.headers}
            | {"Content-Type": response.content_type},
            answer=response.get_data(as_text=True) if answer is None else answer,
        )
        .returning(Once.key)
    ).scalar()
    if kept is None:  # it took longer than the lease, and somebody else is at it now
        raise Conflict(say.BEGUN_AGAIN)
    claim.kept = True


def release(claim: Claim) -> None:
    """The key is free again."""
    with the_store().writing() as session:
        session.execute(
            delete(Once).where(*claim.place, Once.claimed == claim.at, Once.status.is_(None))
        )


def _body_hash() -> str:
    """Of all that decides on what is done: the query (its units too), the form and the body."""
    parts = (request.query_string, str(request.accept_mimetypes).encode(), request.get_data())
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _claim(claim: Claim) -> Response | None:
    """``None`` when the claim holds, else the answer that was given before."""
    store = the_store()
    with store.writing() as session:
        session.execute(delete(Once).where(Once.expires <= claim.at))
        try:
            with session.begin_nested():
                session.add(
                    Once(
                        outfit_id=claim.outfit,
                        route=claim.route,
                        key=claim.key,
                        body_hash=claim.body_hash,
                        claimed=claim.at,
                        expires=claim.at + KEPT_FOR,
                    )
                )
        except IntegrityError:
            pass
        else:
            return None
        earlier = session.scalar(select(Once).where(*claim.place))
        if earlier is None:  # given up between the two statements
            raise Conflict(say.WAS_AT_WORK)
        if earlier.body_hash != claim.body_hash:
            raise UnprocessableEntity(say.KEY_USED_FOR_ANOTHER)
        if earlier.status is not None:
            return _again(earlier)
        taken_over = session.execute(
            update(Once)
            .where(*claim.place, Once.status.is_(None), Once.claimed <= claim.at - LEASE)
            .values(claimed=claim.at)
            .returning(Once.key)
        ).scalar()
        if taken_over is None:
            raise Conflict(say.AT_WORK)
        return None


def _again(earlier: Once) -> Response:
    if earlier.answer is None:
        raise Gone(say.ANSWER_ERASED)
    response = Response(earlier.answer, earlier.status, earlier.headers)
    response.headers["Idempotency-Replayed"] = "true"
    return response
