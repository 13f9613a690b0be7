"""What a request is predicted to cost decides where it is done: here at once, or as a job.

Up to :data:`AT_ONCE` it is answered at once, and of what takes longer than :data:`BRIEF` a caller
has one at a time, so that no caller ever has all the workers. Whatever is predicted to take more
becomes a job, and so does what its caller would rather have later (``Prefer: respond-async``, RFC
7240), or what took more than a request may, whatever was predicted.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any

from flask import Response, current_app
from werkzeug.exceptions import TooManyRequests

from schemas import error_texts as say
from schemas.request import Asked
from service.api import budget, jobs, limits
from service.api.at_work import working
from service.api.body import Blueprint
from service.api.stored import the_store, unless_away
from service.storage import claims

AT_ONCE = 1.0
"""Seconds of processor time: a plan for sixteen riders on a usual boat is answered at once."""
BRIEF = 0.1
"""Seconds that nobody minds to wait for a worker."""
UNDERPRICED, SUSPECT_FOR = 3.0, 60.0
"""Whoever sends what takes so many times longer than predicted has one at a time for a minute."""
MOST_SUSPECTS = 10_000

View = Callable[..., Response]


def priced(resource: Blueprint, price: Callable[[Any], float]) -> Callable[[View], View]:
    """A view whose first argument has the request, and what that costs (s of processor time).

    Goes below what loads the request. The view stores nothing, so that it may be done as a job.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def admitted(asked: Asked[Any], *args: Any, prefer: str | None, **kwargs: Any) -> Response:
            cost = price(asked.request)
            if working() is not None:
                return view(asked, *args, **kwargs)
            wished = respond_async(prefer)
            if wished or cost > AT_ONCE:
                return jobs.accepted(cost, wished)
            limits.charge(cost)
            with _one_at_a_time(cost):
                try:
                    return view(asked, *args, **kwargs)
                except Exception:
                    if not budget.ran_out():
                        raise
            return jobs.accepted(max(cost, budget.SECONDS), wished)

        taken: View = resource.arguments(jobs.PreferSchema(), location="headers", as_kwargs=True)(
            admitted
        )
        documented: View = resource.alt_response(
            202, schema=jobs.JobSchema(), description=jobs.LONG_WORK
        )(taken)
        return documented

    return decorate


def respond_async(prefer: str | None) -> bool:
    """RFC 7240, section 4.1; parameters and other preferences are left aside."""
    return "respond-async" in (
        wish.partition(";")[0].strip().lower() for wish in (prefer or "").split(",")
    )


@contextmanager
def _one_at_a_time(cost: float) -> Iterator[None]:
    """Work that is not brief, of one caller, in whatever process: 429 for the second."""
    suspects: dict[str, float] = current_app.extensions.setdefault("suspects", {})
    who, begun = limits.payer(), time.thread_time()
    held = None
    if cost > BRIEF or suspects.get(who, 0.0) > time.monotonic():
        held = _claim(who)
    try:
        yield
    finally:
        spent = time.thread_time() - begun
        cold = not current_app.extensions.setdefault("warm", False)
        current_app.extensions["warm"] = True  # the first one builds what the others use
        if spent > BRIEF and spent > UNDERPRICED * cost and not cold:
            if len(suspects) >= MOST_SUSPECTS:
                suspects.clear()
            suspects[who] = time.monotonic() + SUSPECT_FOR
        if held is not None:
            held.release()


def _claim(who: str) -> claims.Claim | None:
    """``None`` while the store does not answer: then everybody is served as well as can be."""

    def ask() -> claims.Claim:
        held = claims.claim(the_store(), f"at work for {who}")
        if held is None:
            raise TooManyRequests(say.ONE_AT_A_TIME, retry_after=1)
        return held

    return unless_away(ask, lambda: None)
