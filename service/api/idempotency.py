"""``Idempotency-Key``: a POST that is sent again is done once, and answered alike.

A request claims its key for as long as its process works on it, so that others see that it is in
flight: a claim ends with its process, whatever the clock says. Its answer is kept in the very
transaction that stores what it made: either both are there or neither.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import wraps
from typing import Any

from flask import Response, g, request
from sqlalchemy import delete, func, select, update
from sqlalchemy.orm import Session
from werkzeug.exceptions import Conflict, Gone, NotFound, UnprocessableEntity

from schemas import error_texts as say
from schemas import plain
from schemas.record import InputSchema
from service.api.auth import principal
from service.api.body import Blueprint
from service.api.stored import the_store
from service.storage import claims, usage
from service.storage.tables import LONGEST_ROUTE, Once, now

KEPT_FOR = timedelta(hours=24)
RETRY_AFTER = 1
"""Seconds after which to send again what another request is at work on."""
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
    """A key that this request holds."""

    outfit: str
    route: str
    key: str
    at: datetime
    held: claims.Claim

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
            claim = _claim(route, idempotency_key)
            if isinstance(claim, Response):
                return claim
            g.claim = claim
            try:
                return view(*args, **kwargs)
            finally:
                if not getattr(g, "streams", False):
                    claim.held.release()

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
    again = response.get_data(as_text=True) if answer is None else answer
    kept = session.execute(
        update(Once)
        .where(*claim.place, Once.claimed == claim.at)
        .values(
            status=response.status_code,
            headers={name: response.headers[name] for name in _HEADERS if name in response.headers}
            | {"Content-Type": response.content_type},
            answer=again,
        )
        .returning(Once.key)
    ).scalar()
    if kept is None:  # its claim was lost with the connection, and someone else is at it now
        raise _in_flight(say.BEGUN_AGAIN)
    usage.charge(session, claim.outfit, 0, len(again))


def _in_flight(detail: str) -> Conflict:
    error = Conflict(detail)
    error.data = {"headers": {"Retry-After": str(RETRY_AFTER)}}  # type: ignore[attr-defined]
    return error


def _body_hash() -> str:
    """Of all that decides on what is done: the query (its units too), the form and the body."""
    parts = (request.query_string, str(request.accept_mimetypes).encode(), request.get_data())
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _claim(route: str, key: str) -> Claim | Response:
    """The claim, or the answer that was given before; 409 while someone else works on it."""
    outfit, body, store = principal().outfit, _body_hash(), the_store()
    held = claims.claim(store, f"{outfit} {route} {key}")
    try:
        with store.writing() as session:
            at = now()
            _forget(session, outfit, at)
            place = (Once.outfit_id == outfit, Once.route == route, Once.key == key)
            earlier = session.scalar(select(Once).where(*place))
            done = earlier is not None and earlier.status is not None
            if earlier is not None and (done or held is None) and earlier.body_hash != body:
                raise UnprocessableEntity(say.KEY_USED_FOR_ANOTHER)
            if earlier is not None and done:
                return _again(earlier)
            if held is None:
                raise _in_flight(say.AT_WORK)
            # One that is there nobody works on any more: it was refused, failed, or its process
            # ended. It may be corrected and sent again.
            if earlier is None:
                earlier = Once(outfit_id=outfit, route=route, key=key)
                session.add(earlier)
            elif earlier.claimed == at:
                at += timedelta(microseconds=1)  # whoever lost it must not take it for its own
            earlier.body_hash, earlier.claimed, earlier.expires = body, at, at + KEPT_FOR
        g.pop("stored", None)  # of what the request is about nothing is stored yet
        found = Claim(outfit, route, key, at, held)
        held = None
        return found
    finally:
        if held is not None:
            held.release()


def _forget(session: Session, outfit: str, at: datetime) -> None:
    """Deletes the outfit's answers that have expired, and counts them out."""
    expired = delete(Once).where(Once.outfit_id == outfit, Once.expires <= at)
    gone = session.scalars(expired.returning(func.length(Once.answer))).all()
    if freed := sum(size or 0 for size in gone):
        usage.charge(session, outfit, 0, -freed)


def _again(earlier: Once) -> Response:
    if earlier.answer is None:
        raise Gone(say.ANSWER_ERASED)
    response = Response(earlier.answer, earlier.status, earlier.headers)
    response.headers["Idempotency-Replayed"] = "true"
    return response
