"""Where a request ends (RFC 9112, sections 6 and 7.1); what it means is left to the worker."""

from __future__ import annotations

from collections.abc import Mapping

MOST_HEAD = 32 * 1024
"""Bytes of the request line and the header fields."""
MOST_LINE = 1024
"""Bytes of one line of chunked framing, or of its trailer section."""


class TooLargeError(Exception):
    """The body is longer than allowed."""


def fields_of(head: bytes) -> tuple[bytes, Mapping[bytes, list[bytes]]]:
    """The request line, and the values of each header field by its lower-case name."""
    line, *rest = head.split(b"\r\n")
    fields: dict[bytes, list[bytes]] = {}
    for each in rest:
        name, _, value = each.partition(b":")
        fields.setdefault(name.lower(), []).append(value.strip(b" \t"))
    return line, fields


class Body:
    """Watches a body arrive until it is complete.

    What is framed wrongly counts as complete: the worker reads to its end and refuses it.
    """

    def __init__(self, fields: Mapping[bytes, list[bytes]], begins: int, most: int) -> None:
        """``begins``: bytes before the body. Raises :class:`TooLargeError`, as ``ends`` does."""
        self._most, self._payload = most, 0
        self._at = begins
        self._trailers = False
        self._chunked = b"transfer-encoding" in fields
        lengths = fields.get(b"content-length", [])
        length = lengths[0] if len(lengths) == 1 and not self._chunked else b"0"
        self._end = begins
        # More digits than any length has would be slow to convert.
        if length.isdigit() and len(length) > 18:
            raise TooLargeError
        if length.isdigit():
            self._count(int(length))
            self._end += int(length)

    def _count(self, size: int) -> None:
        self._payload += size
        if self._payload > self._most:
            raise TooLargeError

    def ends(self, data: bytearray) -> int | None:
        """The number of bytes of ``data`` that are the request, or None as long as more is due."""
        if not self._chunked:
            return self._end if len(data) >= self._end else None
        while True:
            # Framing may outweigh what it frames, but not without limit.
            if self._at > 2 * self._most + MOST_HEAD:
                raise TooLargeError
            end = data.find(b"\r\n", self._at, self._at + MOST_LINE)
            if end < 0:
                return len(data) if len(data) - self._at >= MOST_LINE else None
            line = bytes(data[self._at : end])
            if self._trailers:
                self._at = end + 2
                if not line:
                    return self._at
                continue
            digits = line.partition(b";")[0].strip(b" \t")
            try:
                size = int(digits, 16) if digits.isalnum() else -1
            except ValueError:
                size = -1
            if size < 0:
                return len(data)
            self._count(size)
            self._at = end + 2 + (size + 2 if size else 0)
            self._trailers = not size
