"""The log: a line for every request, and where in the code it broke when it did.

No line has a body, a header, ids in an address or its query: neither people nor keys get into a
log. It has the route's pattern, the outfit and the id of the key.
"""

from __future__ import annotations

import logging
import sys
import time
from types import TracebackType

from flask import Flask, Response, g, request

from service.api.tracing import trace
from service.logs import JSONFormatter

LOGGER = logging.getLogger("wavesetup")

_Raised = tuple[type, BaseException, TracebackType] | tuple[None, None, None]


class _OfRequest(logging.Filter):
    """Puts into a record which request it was made in."""

    def filter(self, record: logging.LogRecord) -> bool:
        if (at := trace()) is not None:
            record.fields = {
                "request_id": at.request_id, "trace_id": at.trace_id, "span_id": at.span_id,
                **getattr(record, "fields", {}),
            }  # fmt: skip
        return True


def _end(response: Response) -> Response:
    fields = {
        "method": request.method[:16],
        "route": "none" if request.url_rule is None else request.url_rule.rule,
        "status": response.status_code,
        "milliseconds": round(1e3 * (time.perf_counter() - g.begun), 2),
        "bytes": response.content_length,
    }
    if (principal := g.get("principal")) is not None:
        fields |= {"outfit": principal.outfit, "key": principal.key_id}
    LOGGER.info("request", extra={"fields": fields})
    return response


def _exception(raised: _Raised) -> None:
    LOGGER.error("failed", exc_info=raised)


def init_app(app: Flask) -> None:
    """``LOG_LEVEL`` is debug, info (a line for every request), warning or error."""
    level = str(app.config.setdefault("LOG_LEVEL", "info")).upper()
    if level not in ("DEBUG", "INFO", "WARNING", "ERROR"):
        raise ValueError("WAVESETUP_LOG_LEVEL has to be debug, info, warning or error.")
    LOGGER.setLevel(level)
    if not LOGGER.handlers:
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(JSONFormatter())
        handler.addFilter(_OfRequest())
        LOGGER.addHandler(handler)
    app.after_request(_end)
    # Flask's own line would have the address and the error's words.
    app.log_exception = _exception  # type: ignore[method-assign, assignment]
