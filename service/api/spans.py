"""One OpenTelemetry span for each request, sent by OTLP over HTTP.

Needs the extra ``otel``; ``service.api.tracing`` imports this only where the standard ``OTEL_…``
variables name a receiver. A span says the route's pattern and never the address, which holds ids
of people (``url.path`` of the semantic conventions is left out for that).
"""

from __future__ import annotations

import os

from flask import Flask, Response, g, request
from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
from opentelemetry.sdk.resources import Resource
from opentelemetry.sdk.trace import TracerProvider
from opentelemetry.sdk.trace.export import BatchSpanProcessor, SpanExporter
from opentelemetry.trace import (
    NonRecordingSpan,
    Span,
    SpanContext,
    SpanKind,
    StatusCode,
    TraceFlags,
    Tracer,
    set_span_in_context,
)

from service.api.tracing import Trace


def exporter() -> SpanExporter:
    """To the receiver that the environment names."""
    return OTLPSpanExporter()


def init_app(app: Flask) -> None:
    """The provider is ``app.extensions["spans"]``; its sampler is that of the environment."""
    # Given here it would go before OTEL_RESOURCE_ATTRIBUTES; the SDK's own default says nothing.
    named = "service.name=" in os.environ.get("OTEL_RESOURCE_ATTRIBUTES", "")
    name = os.environ.get("OTEL_SERVICE_NAME") or "wavesetup"
    provider = TracerProvider(resource=Resource.create({} if named else {"service.name": name}))
    provider.add_span_processor(BatchSpanProcessor(exporter()))
    app.extensions["spans"] = provider
    tracer = provider.get_tracer("wavesetup")
    app.before_request(lambda: _begin(tracer))
    app.after_request(_end)
    app.teardown_request(_close)


def _begin(tracer: Tracer) -> None:
    """The span takes the place of the one that tracing made up, so headers and logs name it."""
    told: Trace = g.trace
    context = None
    if told.parent_id is not None:
        flags = TraceFlags(int(told.flags, 16))
        above = SpanContext(int(told.trace_id, 16), int(told.parent_id, 16), True, flags)
        context = set_span_in_context(NonRecordingSpan(above))
    route = None if request.url_rule is None else request.url_rule.rule
    attributes = {"http.request.method": request.method, "url.scheme": request.scheme}
    if route is not None:
        attributes["http.route"] = route
    name = f"{request.method} {route}" if route else request.method
    span = tracer.start_span(name, context, SpanKind.SERVER, attributes)
    made = span.get_span_context()
    if made.is_valid:
        g.trace = told.replaced(
            f"{made.trace_id:032x}", f"{made.span_id:016x}", f"{made.trace_flags:02x}"
        )
    g.span = span


def _end(response: Response) -> Response:
    span: Span = g.span
    span.set_attribute("http.response.status_code", response.status_code)
    if response.status_code >= 500:
        span.set_attribute("error.type", str(response.status_code))
        span.set_status(StatusCode.ERROR)
    return response


def _close(error: BaseException | None) -> None:
    span: Span | None = g.pop("span", None)
    if span is None:
        return
    if error is not None:
        span.set_attribute("error.type", type(error).__qualname__)
        span.set_status(StatusCode.ERROR)
    span.end()
