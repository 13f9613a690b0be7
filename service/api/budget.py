"""A request has so much time and no more: then it is a 503, and the worker goes on.

The solvers are bounded by counts, so this is for what nobody thought of. Python code is
interrupted; a call that never comes back from C is cut off by the server, see ``timeout`` in
``deploy/gunicorn.conf.py``.
"""

from __future__ import annotations

import signal
import threading
from types import FrameType

from flask import Flask, Response, g, request

from schemas import error_texts as say
from service.api import errors

SECONDS = 10.0
SPENT = "wavesetup.budget_spent"
"""Set in the WSGI environment: the worker was broken off at some point and had better be replaced.
"""


class OutOfTimeError(Exception):
    """The request took too long."""


def _ring(_number: int, _frame: FrameType | None) -> None:
    g.out_of_time = True
    raise OutOfTimeError


def _end(response: Response) -> Response:
    signal.setitimer(signal.ITIMER_REAL, 0.0)
    # Whatever the interrupted code made of the error.
    if g.pop("out_of_time", False) and response.status_code >= 500:
        request.environ[SPENT] = True
        headers = [("Retry-After", "10")]
        return errors.problem(503, say.OUT_OF_TIME, headers=headers)
    return response


def init_app(app: Flask) -> None:
    """``BUDGET`` is in seconds; 0 for none."""
    seconds = app.config.setdefault("BUDGET", SECONDS)
    if not (isinstance(seconds, int | float) and seconds >= 0.0):
        raise ValueError("WAVESETUP_BUDGET has to be a number of seconds.")

    def begin() -> None:
        # Signals reach the main thread only; servers with threads need a limit of their own.
        if seconds and threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGALRM, _ring)
            signal.setitimer(signal.ITIMER_REAL, seconds)

    def stop(_error: BaseException | None) -> None:
        if threading.current_thread() is threading.main_thread():
            signal.setitimer(signal.ITIMER_REAL, 0.0)

    app.before_request(begin)
    app.after_request(_end)
    app.teardown_request(stop)
