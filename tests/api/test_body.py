"""Bodies that are no JSON everybody reads alike, and media types (RFC 8259, 7493, 9110)."""

from __future__ import annotations

import gzip
import io
import json
import time
from contextlib import suppress

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from service.api import body

JSON_TYPE = {"Content-Type": "application/json"}


def problem_of(client: FlaskClient, data: bytes, **headers: str) -> tuple[int, str]:
    response = client.post(
        "/probe/advice", data=data, headers={k.replace("_", "-"): v for k, v in headers.items()}
    )
    assert response.mimetype == "application/problem+json"
    answer = response.get_json(force=True)
    assert answer["status"] == response.status_code
    assert answer["instance"] == "/probe/advice"
    return response.status_code, answer["detail"]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"  \n", "empty"),
        (b"{", "line 1, column 2"),
        (b'{"crew": 8,}', "line 1"),
        (b"[" * 1000 + b"]" * 1000, "deep"),
        (b'{"a":' * 1000 + b"1" + b"}" * 1000, "deep"),
        (b"[" * 200_000 + b"]" * 200_000, "deep"),
        (b"[" * 21 + b"]" * 21, "deep"),
        (b'{"crew": ' + b"1" * 5000 + b"}", "digits"),
        (b'{"crew": 8, "crew": 9}', '"crew" stands twice'),
        (b'{"rider": {"mass": 1, "mass": 1}}', '"mass" stands twice'),
        (b'{"crew": NaN}', "NaN"),
        (b'{"crew": Infinity}', "Infinity"),
        (b'{"crew": 1e400}', "1e400"),
        (b'{"crew": -Infinity}', "-Infinity"),
        (b'{"boat": "\\ud800"}', "surrogate"),
        (b'{"\\uDC00": 1}', "surrogate"),
        (b'{"boat": "\xff"}', "UTF-8"),
        (b'{"boat": "\xed\xa0\x80"}', "UTF-8"),
        ('{"boat": "demo-7m"}'.encode("utf-16"), "UTF-8"),
        (b'\xef\xbb\xbf{"crew": 8}', "not valid JSON"),
        (b"'crew'", "not valid JSON"),
    ],
    ids=lambda value: repr(value[:24]) if isinstance(value, bytes) else None,
)
def test_a_body_that_is_no_json_is_a_400_that_says_why(
    probe_client: FlaskClient, data: bytes, says: str
) -> None:
    status, detail = problem_of(probe_client, data, **JSON_TYPE)
    assert status == 400
    assert says in detail


def test_a_pair_of_surrogates_is_one_character(probe_client: FlaskClient) -> None:
    response = probe_client.post("/probe/advice", data=b'{"\\ud83c\\udfc4": 1}', headers=JSON_TYPE)
    assert response.status_code == 422
    assert "/🏄" in [fault["pointer"] for fault in response.get_json(force=True)["errors"]]


@pytest.mark.parametrize("data", [b"[]", b"8", b'"demo-7m"', b"null", b"true"])
def test_a_body_that_is_no_object_is_a_422(probe_client: FlaskClient, data: bytes) -> None:
    response = probe_client.post("/probe/advice", data=data, headers=JSON_TYPE)
    assert response.status_code == 422
    answer = response.get_json(force=True)
    (fault,) = answer["errors"]
    assert fault["pointer"] == ""
    assert fault["detail"].startswith("give an object with units, boat, crew, ")


@pytest.mark.parametrize(
    "content_type",
    [None, "text/plain", "application/x-www-form-urlencoded", "application/json; charset=latin-1"],
)
def test_another_content_type_is_a_415(probe_client: FlaskClient, content_type: str | None) -> None:
    response = probe_client.post("/probe/advice", data=b"{}", content_type=content_type)
    assert response.status_code == 415
    assert response.mimetype == "application/problem+json"
    assert response.headers["Accept"] == "application/json"


@pytest.mark.parametrize(
    "content_type", ["application/json; charset=UTF-8", "application/vnd.anything+json"]
)
def test_other_names_of_json_are_read(probe_client: FlaskClient, content_type: str) -> None:
    response = probe_client.post("/probe/advice", data=b"[]", content_type=content_type)
    assert response.status_code == 422


@pytest.mark.parametrize("data", [b"{}", gzip.compress(b"{}", mtime=0)])
def test_a_content_coding_is_a_415_whether_true_or_not(
    probe_client: FlaskClient, data: bytes
) -> None:
    response = probe_client.post(
        "/probe/advice", data=data, headers={**JSON_TYPE, "Content-Encoding": "gzip"}
    )
    assert response.status_code == 415
    assert response.headers["Accept-Encoding"] == "identity"


def test_more_than_a_mebibyte_is_a_413(probe_client: FlaskClient) -> None:
    padding = b" " * (body.MOST_BYTES - 1)
    assert problem_of(probe_client, padding + b"{}", **JSON_TYPE)[0] == 413
    assert problem_of(probe_client, padding[1:] + b"{}", **JSON_TYPE)[0] == 422


@pytest.mark.parametrize(("size", "status"), [(body.MOST_BYTES - 1, 422), (2**21, 413)])
def test_a_chunked_body_is_limited_too(probe_client: FlaskClient, size: int, status: int) -> None:
    response = probe_client.post(
        "/probe/advice",
        input_stream=io.BytesIO(b"{}" + b" " * (size - 2)),
        environ_overrides={"wsgi.input_terminated": True},  # as gunicorn says of chunks
        content_type="application/json",
    )
    assert response.status_code == status


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner, max_size=4)
    ),
    max_leaves=15,
)


@given(JSON_VALUES, st.booleans())
def test_ordinary_json_is_read_as_it_was_written(value: object, ascii_only: bool) -> None:
    assert body.parse(json.dumps(value, ensure_ascii=ascii_only).encode()) == value


@given(st.binary(max_size=60) | st.text('{}[]",:\\ud8019eE-+.nul NaInfity').map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    with suppress(body.MalformedJSONError):
        value = body.parse(data)
        # What was read can be written and read again: no NaN, no lone surrogate.
        assert body.parse(json.dumps(value, ensure_ascii=False).encode()) == value


@pytest.mark.parametrize(
    "body",
    [
        b'{"crew": [' + b"{}," * 1000 + b"{}]}",
        b"{" + b",".join(b'"%d": 1' % n for n in range(1001)) + b"}",
        b'{"loads": [' + b",".join([b"[" + b"0," * 999 + b"0]"] * 101) + b"]}",
    ],
)
def test_too_many_values_are_refused_before_any_is_looked_at(
    probe_client: FlaskClient, body: bytes
) -> None:
    answer = probe_client.post("/probe/advice", data=body, content_type="application/json")
    assert answer.status_code == 400
    assert "more than" in answer.get_json()["detail"]


def _seconds(data: bytes) -> float:
    """The quickest of five: what else the machine does only adds to it."""
    taken = []
    for _ in range(5):
        begun = time.perf_counter()
        with suppress(body.MalformedJSONError):
            body.parse(data)
        taken.append(time.perf_counter() - begun)
    return min(taken)


def test_doubled_name_costs_no_more_than_a_distinct_one() -> None:
    """When names were counted one by one, 10,000 with one doubled took seconds."""
    names = [b'"%d": 1' % n for n in range(10_000)]
    distinct = b"{" + b",".join(names) + b"}"
    doubled = b"{" + b",".join([*names[:-1], names[-2]]) + b"}"
    assert _seconds(doubled) < 5.0 * _seconds(distinct)


def test_size_of_an_object_is_checked_before_its_names() -> None:
    doubled = b"{" + b",".join([b'"a": 1'] * (body.MOST_ITEMS + 1)) + b"}"
    with pytest.raises(body.MalformedJSONError, match="more than"):
        body.parse(doubled)
