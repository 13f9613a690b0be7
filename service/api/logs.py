"""Logs for machines: one JSON object a line on standard error.

No line has a body, a header, an address's ids or its query, nor the text of an exception, which
may quote any of these: so neither people nor keys get into a log. What a line does have is the
route's pattern, the outfit and the id of the key, and where in the code it broke.
"""

from __future__ import annotations

import json
import logging
import sys
import time
import traceback
from types import TracebackType

from flask import Flask, Response, g, request

from service.api.tracing import trace

LOGGER = logging.getLogger("wavesetup")

_Raised = tuple[type[BaseException], BaseException, TracebackType | None]


class JSONFormatter(logging.Formatter):
    """A record as one line of JSON, with the request it was made in."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "time": time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
            + f".{int(record.msecs):03d}Z",
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if (at := trace()) is not None:
            line |= {"request_id": at.request_id, "trace_id": at.trace_id, "span_id": at.span_id}
        line |= getattr(record, "fields", {})
        if record.exc_info and record.exc_info[1] is not None:
            line["exception"] = _where(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False, default=str)


def _where(error: BaseException) -> list[dict[str, object]]:
    """Kinds of the errors, the first cause last, and the places in the code; never their words."""
    chain: list[dict[str, object]] = []
    at: BaseException | None = error
    while at is not None and len(chain) < 5:
        frames = traceback.extract_tb(at.__traceback__)[-20:]
        chain.append(
            {
                "type": f"{type(at).__module__}.{type(at).__qualname__}",
                "at": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
            }
        )
        at = at.__cause__ or at.__context__
    return chain


def _end(response: Response) -> Response:
    principal = g.get("principal")
    LOGGER.info(
        "request",
        extra={
            "fields": {
                "method": request.method[:16],
                "route": "none" if request.url_rule is None else request.url_rule.rule,
                "status": response.status_code,
                "milliseconds": round(1e3 * (time.perf_counter() - g.begun), 2),
                "bytes": response.content_length,
            }
            | ({"outfit": principal.outfit, "key": principal.key_id} if principal else {})
        },
    )
    return response


def _exception(exc_info: _Raised | tuple[None, None, None]) -> None:
    LOGGER.error("failed", exc_info=exc_info)


def init_app(app: Flask) -> None:
    """``LOG_LEVEL`` is debug, info (a line for every request), warning or error."""
    level = str(app.config.setdefault("LOG_LEVEL", "info")).upper()
    if level not in ("DEBUG", "INFO", "WARNING", "ERROR"):
        raise ValueError("WAVESETUP_LOG_LEVEL has to be debug, info, warning or error.")
    LOGGER.setLevel(level)
    if not LOGGER.handlers:
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(JSONFormatter())
        LOGGER.addHandler(handler)
        LOGGER.propagate = False
    app.after_request(_end)
    # Flask's own line would have the address and the error's words.
    app.log_exception = _exception  # type: ignore[method-assign]
