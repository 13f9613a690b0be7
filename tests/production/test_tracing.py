"""W3C Trace Context, level 1 (Recommendation of 23 November 2021), section 3.2."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service import api, create_app

TRACE = "0af7651916cd43dd8448eb211c80319c"
SPAN = "b7ad6b7169203331"


def parent(client: FlaskClient, header: str | None) -> list[str]:
    headers = {} if header is None else {"traceparent": header}
    return client.get("/healthz", headers=headers).headers["traceparent"].split("-")


def test_a_trace_goes_on_with_a_span_of_its_own(client: FlaskClient) -> None:
    """The example of section 3.2.4."""
    version, trace, span, flags = parent(client, f"00-{TRACE}-{SPAN}-01")
    assert (version, trace, flags) == ("00", TRACE, "01")
    assert re.fullmatch("[0-9a-f]{16}", span)
    assert span != SPAN


def test_a_later_version_is_read_as_far_as_it_is_known(client: FlaskClient) -> None:
    """Section 3.2.2.1 and 4.3: parse what 00 has, answer in the version that one knows."""
    assert parent(client, f"cc-{TRACE}-{SPAN}-01-what-the-future-brings")[:2] == ["00", TRACE]


@pytest.mark.parametrize(
    "header",
    [
        None,
        "",
        "nonsense",
        f"00-{TRACE}-{SPAN}",
        f"ff-{TRACE}-{SPAN}-01",
        f"00-{TRACE}-{SPAN}-01-more",
        f"00-{'0' * 32}-{SPAN}-01",
        f"00-{TRACE}-{'0' * 16}-01",
        f"00-{TRACE.upper()}-{SPAN}-01",
        f"00-{TRACE}-{SPAN}-0g",
    ],
)
def test_what_is_not_valid_begins_a_new_trace(client: FlaskClient, header: str | None) -> None:
    version, trace, _, flags = parent(client, header)
    assert re.fullmatch("[0-9a-f]{32}", trace)
    assert trace != TRACE
    assert (version, flags) == ("00", "00")


def test_a_request_id_is_taken_over(client: FlaskClient) -> None:
    answer = client.get("/healthz", headers={"X-Request-Id": "booking-7.12_a"})
    assert answer.headers["X-Request-Id"] == "booking-7.12_a"


@pytest.mark.parametrize("wrong", ["short", "x" * 65, "with space", 'quo"te-quo"te', "käse-käse"])
def test_a_request_id_that_could_forge_a_log_is_not(client: FlaskClient, wrong: str) -> None:
    answer = client.get("/healthz", headers={"X-Request-Id": wrong})
    assert re.fullmatch("[0-9a-f]{32}", answer.headers["X-Request-Id"])


def test_errors_carry_both_too(client: FlaskClient) -> None:
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert {"X-Request-Id", "traceparent"} <= set(answer.headers.keys())


RECEIVER = "OTEL_EXPORTER_OTLP_ENDPOINT"


def test_without_a_receiver_nothing_of_opentelemetry_is_imported() -> None:
    """In a process of its own, whose modules no other test has brought in."""
    program = f"""
import os, sys, service
service.create_app()
os.environ["{RECEIVER}"] = "http://127.0.0.1:9"
for name, value in (("OTEL_SDK_DISABLED", "true"), ("OTEL_TRACES_EXPORTER", "none")):
    os.environ[name] = value
    service.create_app()
    del os.environ[name]
sys.exit(any(name.startswith("opentelemetry") for name in sys.modules))
"""
    told = {name: value for name, value in os.environ.items() if not name.startswith("OTEL_")}
    subprocess.run([sys.executable, "-c", program], env=told, check=True, timeout=120)


def test_a_receiver_without_the_extra_is_said_and_serves(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv(RECEIVER, "http://127.0.0.1:9")
    monkeypatch.setitem(sys.modules, "opentelemetry", None)
    monkeypatch.delitem(sys.modules, "service.api.spans", raising=False)
    monkeypatch.delattr(api, "spans", raising=False)
    client = create_app({"TESTING": True}).test_client()
    assert "without wavesetup[otel] no traces are sent" in caplog.text
    assert parent(client, f"00-{TRACE}-{SPAN}-01")[1] == TRACE


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Flask, Any]]:
    """An application whose spans go into a list."""
    pytest.importorskip("opentelemetry", reason="the extra otel is not installed: not checked")
    from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

    from service.api import spans

    kept = InMemorySpanExporter()
    monkeypatch.setenv(RECEIVER, "http://127.0.0.1:9")
    monkeypatch.setattr(spans, "exporter", lambda: kept)
    app = create_app({"TESTING": True})
    yield app, kept
    app.extensions["spans"].shutdown()


def test_each_request_is_a_span_of_opentelemetry(watched: tuple[Flask, Any]) -> None:
    """Names and attributes of the semantic conventions for HTTP servers (stable, 2023)."""
    app, kept = watched
    client = app.test_client()
    _, trace, span, flags = parent(client, f"00-{TRACE}-{SPAN}-01")
    answer = client.get("/v1/rules/nobody-knows-this")
    app.extensions["spans"].force_flush()
    first, second = kept.get_finished_spans()
    assert (trace, flags) == (TRACE, "01")
    assert f"{first.context.trace_id:032x}" == TRACE
    assert f"{first.context.span_id:016x}" == span
    assert f"{first.parent.span_id:016x}" == SPAN
    assert (first.name, first.kind.name) == ("GET /healthz", "SERVER")
    assert first.resource.attributes["service.name"] == "wavesetup"
    assert second.name == "GET /v1/rules/<rule_id>"
    assert second.attributes["http.response.status_code"] == 404
    assert "nobody-knows-this" not in str(dict(second.attributes))
    assert second.parent is None
    assert answer.headers["traceparent"].split("-")[1] == f"{second.context.trace_id:032x}"
    # Not sampled by the caller: not sent, and the answer says so.
    assert parent(client, f"00-{TRACE}-{SPAN}-00")[3] == "00"
    app.extensions["spans"].force_flush()
    assert len(kept.get_finished_spans()) == 2
