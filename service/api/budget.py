"""A request has so much time and no more: then it is a job, where it may be one, or a 503.

What is predicted to be long is a job from the start (:mod:`service.api.admission`), and the solvers
are bounded by counts; so this is for what nobody thought of. Python code is
interrupted; a call that never comes back from C is cut off by the server, see ``timeout`` in
``deploy/gunicorn.conf.py``.
"""

from __future__ import annotations

import math
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from flask import Flask, Response, g, has_request_context, request

from schemas import error_texts as say
from service.api import errors
from service.api.at_work import working

SECONDS = 10.0
SPENT = "wavesetup.budget_spent"
"""Set in the WSGI environment: the worker was broken off at some point and had better be replaced.
"""


class OutOfTimeError(Exception):
    """The request took too long."""


def _ring(_number: int, _frame: FrameType | None) -> None:
    if g.get("unbroken"):
        return
    g.out_of_time = True
    raise OutOfTimeError


def ran_out() -> bool:
    """Whether this request was broken off, whatever the interrupted code made of the error."""
    return bool(g.get("out_of_time"))


def left() -> float:
    """Seconds that this request still has; infinite where it has no budget."""
    ends: float = g.get("budget_ends", math.inf)
    return ends - time.monotonic()


@contextmanager
def unbroken() -> Iterator[None]:
    """What is done here is done whole; for what is short, such as to store and to say so.

    A request whose time runs out in the middle of it goes on to its end.
    """
    # Not by the mask of signals: that is of one thread, and any other may be handed the signal.
    before, g.unbroken = g.get("unbroken", False), True
    try:
        yield
    finally:
        g.unbroken = before


@contextmanager
def committing() -> Iterator[None]:
    """A commit of this request: what is said of it afterwards is true."""
    if not has_request_context():
        yield
        return
    with unbroken():
        yield
        g.stored = True


def _end(response: Response) -> Response:
    signal.setitimer(signal.ITIMER_REAL, 0.0)
    if g.pop("out_of_time", False):
        request.environ[SPENT] = True
        if response.status_code >= 500:
            detail = say.OUT_OF_TIME_STORED if g.get("stored") else say.OUT_OF_TIME
            return errors.problem(503, detail, headers=[("Retry-After", "10")])
    return response


def init_app(app: Flask) -> None:
    """``BUDGET`` is in seconds; 0 for none."""
    seconds = app.config.setdefault("BUDGET", SECONDS)
    if not (isinstance(seconds, int | float) and seconds >= 0.0):
        raise ValueError("WAVESETUP_BUDGET has to be a number of seconds.")

    def begin() -> None:
        if working() is not None:
            return
        # Signals reach the main thread only; servers with threads need a limit of their own.
        if seconds and threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGALRM, _ring)
            signal.setitimer(signal.ITIMER_REAL, seconds)
            g.budget_ends = time.monotonic() + seconds

    def stop(_error: BaseException | None) -> None:
        if threading.current_thread() is threading.main_thread():
            signal.setitimer(signal.ITIMER_REAL, 0.0)

    app.before_request(begin)
    app.after_request(_end)
    app.teardown_request(stop)
