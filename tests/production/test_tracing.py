"""W3C Trace Context, level 1 (Recommendation of 23 November 2021), section 3.2."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

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
