"""Which request this is: a request id, and the trace it belongs to (W3C Trace Context, level 1).

``X-Request-Id`` and ``traceparent`` of the caller are taken over where they are well-formed, else
made; both go out with the answer and into every line of the log. Where the standard ``OTEL_…``
variables name a receiver for traces, each request is a span that is sent there.
"""

from __future__ import annotations

import os
import re
import secrets
from dataclasses import dataclass, replace

from flask import Flask, Response, g, has_request_context, request

_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
# Section 3.2: version 00 has these four fields; later ones may have more, ff is never valid.
_PARENT = re.compile(r"(?!ff)([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")


@dataclass(frozen=True, slots=True)
class Trace:
    """This request, and its place in a trace."""

    request_id: str
    trace_id: str
    span_id: str
    parent_id: str | None
    flags: str

    @property
    def parent(self) -> str:
        """The ``traceparent`` for whatever this request calls, and for its answer."""
        return f"00-{self.trace_id}-{self.span_id}-{self.flags}"

    def replaced(self, trace_id: str, span_id: str, flags: str) -> Trace:
        """The same request as a span that someone else made."""
        return replace(self, trace_id=trace_id, span_id=span_id, flags=flags)


def trace() -> Trace | None:
    """That of the request at work, ``None`` outside of one."""
    found: Trace | None = g.get("trace") if has_request_context() else None
    return found


def begun(request_id: str | None, parent: str | None) -> Trace:
    """The trace of a request with these two headers."""
    if request_id is None or not _REQUEST_ID.fullmatch(request_id):
        request_id = secrets.token_hex(16)
    span = secrets.token_hex(8)
    found = _PARENT.fullmatch(parent.strip()) if parent else None
    if (
        found is None
        or (found[1] == "00" and found[5])
        or not (int(found[2], 16) and int(found[3], 16))
    ):
        return Trace(request_id, secrets.token_hex(16), span, None, "00")
    # Of the flags only "sampled" is defined; the others are not passed on.
    return Trace(request_id, found[2], span, found[3], f"{int(found[4], 16) & 1:02x}")


def _begin() -> None:
    g.trace = begun(request.headers.get("X-Request-Id"), request.headers.get("traceparent"))


def _end(response: Response) -> Response:
    response.headers["X-Request-Id"] = g.trace.request_id
    response.headers["traceparent"] = g.trace.parent
    return response


def _sends_spans() -> bool:
    """Whether the environment names a receiver (OpenTelemetry's environment variables)."""
    told = os.environ.get
    if told("OTEL_SDK_DISABLED", "").lower() == "true":
        return False
    exporter = told("OTEL_TRACES_EXPORTER")
    if exporter is not None:
        return exporter == "otlp"
    return bool(
        told("OTEL_EXPORTER_OTLP_ENDPOINT") or told("OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")
    )  # fmt: skip


def init_app(app: Flask) -> None:
    app.before_request(_begin)
    app.after_request(_end)
    if not _sends_spans():
        return
    try:
        from service.api import spans  # noqa: PLC0415  # only with the extra
    except ModuleNotFoundError:
        app.logger.warning("OTEL_ names a receiver; without wavesetup[otel] no traces are sent.")
        return
    spans.init_app(app)
