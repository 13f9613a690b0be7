"""Where a request in chunks ends."""

from __future__ import annotations

import pytest

from service.front.framing import Body, TooLargeError, fields_of


@pytest.mark.parametrize("framed", [b"zz\r\n", b"-1\r\n", b"1_0\r\n", b"\r\n", b"f" * 2000])
def test_bad_chunk_size_ends_the_request(framed: bytes) -> None:
    """The worker says what is wrong with it."""
    _, fields = fields_of(b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked")
    assert Body(fields, 0, 100).ends(bytearray(framed)) == len(framed)


def test_body_is_watched_in_linear_time() -> None:
    _, fields = fields_of(b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked")
    body, data = Body(fields, 0, 10**6), bytearray()
    for _ in range(100_000):
        data += b"1\r\na\r\n"
        assert body.ends(data) is None
    data += b"0\r\n\r\n"
    assert body.ends(data) == len(data)
    with pytest.raises(TooLargeError):
        Body(fields, 0, 4).ends(bytearray(b"5\r\n"))
