"""One connection from outside, and the one to the worker that answers it."""

from __future__ import annotations

import asyncio
import json
import time
from email.utils import formatdate
from enum import Enum, auto
from http import HTTPStatus
from typing import TYPE_CHECKING, cast

from service.front.framing import MOST_HEAD, Body, TooLargeError, fields_of

if TYPE_CHECKING:
    from service.front.door import Door

LINGER = 2.0
"""Seconds for a caller to close. Closed at once, what is still being sent would reset the answer.
"""
_HEALTHY = b'{"status":"ok"}\n'
_NO_ANSWER = (
    "The worker stopped before it answered. What was asked may have been done: send it again, "
    "with the same Idempotency-Key."
)
_CONTINUE = b"HTTP/1.1 100 Continue\r\n\r\n"


class _State(Enum):
    READING = auto()
    WAITING = auto()
    WORKING = auto()
    ANSWERED = auto()


class Caller(asyncio.Protocol):
    """One connection from outside: one request, one answer."""

    def __init__(self, door: Door) -> None:
        self._door, self._limits = door, door.limits
        self.address = ""
        self.peer: object = None
        self._state = _State.READING
        self._data = bytearray()
        self._body: Body | None = None
        self._deadline = 0.0
        self._connection: Connection | None = None
        self._sent = 0
        self._slow: tuple[float, int] | None = None
        """Since when something is unread, and what had been read until then."""
        self._held, self._held_since = 0.0, 0.0

    @property
    def reading(self) -> bool:
        """Whether the request is not complete."""
        return self._state is _State.READING

    @property
    def waiting(self) -> bool:
        """Whether no worker has the request yet."""
        return self._state is _State.WAITING

    @property
    def unread(self) -> int:
        """Bytes of the answer that the caller has not read."""
        return self._transport.get_write_buffer_size()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = cast("asyncio.Transport", transport)
        self._transport.set_write_buffer_limits(high=self._limits.unread)
        self.peer = transport.get_extra_info("peername")
        self._deadline = time.monotonic() + self._limits.head
        self._door.enter(self)

    def connection_lost(self, exc: Exception | None) -> None:
        self._forget_request()
        self._door.leave(self)
        if self._connection is not None:
            self._connection.abandon()

    def data_received(self, data: bytes) -> None:
        if self._state is _State.READING:
            self._data += data
            self._door.keep(len(data))
        # Where there is no room for it, it is answered by now.
        if self.reading:
            try:
                self._read(len(data))
            except TooLargeError:
                self.refuse(413, f"The body is longer than {self._limits.body} bytes.")

    def _read(self, new: int) -> None:
        now = time.monotonic()
        if self._body is None:
            end = self._data.find(b"\r\n\r\n", max(0, len(self._data) - new - 3))
            if (end if end >= 0 else len(self._data)) > MOST_HEAD:
                self.refuse(431, f"The header is longer than {MOST_HEAD} bytes.")
                return
            if end < 0:
                return
            line, fields = fields_of(bytes(self._data[:end]))
            if line.startswith((b"GET /healthz ", b"HEAD /healthz ")):
                if self._door.is_healthy():
                    self._answer(200, "application/json", _HEALTHY, head=line[:1] == b"H")
                else:
                    self.refuse(503, "No worker answers.")
                return
            # The worker would take it for what the front says of the caller.
            if line.startswith(b"PROXY "):
                self.refuse(400, "This is no HTTP request.")
                return
            self._body = Body(fields, end + 4, self._limits.body)
            self._deadline = now + self._limits.grace
            if b"100-continue" in fields.get(b"expect", ()):
                self._transport.write(_CONTINUE)
        self._deadline += new / self._limits.pace
        request = self._body.ends(self._data)
        if request is not None:
            self._door.keep(request - len(self._data))
            del self._data[request:]
            self._state, self._deadline = _State.WAITING, now + self._limits.wait
            self._door.queue(self)

    def begin_work(self) -> Connection:
        """The connection for a worker, which is to be opened."""
        self._state = _State.WORKING
        self._connection = Connection(self, self._door, self._line_for_worker() + self._data)
        self._forget_request()
        return self._connection

    def _line_for_worker(self) -> bytes:
        """Who asks, by the PROXY protocol (version 1); nothing for a local socket."""
        if not isinstance(self.peer, tuple):
            return b""
        peer, port = self.peer[:2]
        here, own = self._transport.get_extra_info("sockname")[:2]
        kind = "TCP6" if ":" in peer else "TCP4"
        ends = f"{peer.partition('%')[0]} {here.partition('%')[0]}"
        return f"PROXY {kind} {ends} {port} {own}\r\n".encode()

    def relay(self, data: bytes) -> None:
        """A part of the worker's answer."""
        if not self._sent:
            self._door.answered()
        self._sent += len(data)
        self._transport.write(data)

    def end_answer(self) -> None:
        """The worker has closed its connection."""
        if self._state is not _State.WORKING:
            return
        if not self._sent:
            self._door.failed()
            self.refuse(503, _NO_ANSWER)
        else:
            self._finish()

    def pause_writing(self) -> None:
        self._held_since = time.monotonic()
        if self._connection is not None:
            self._connection.pause(paused=True)

    def resume_writing(self) -> None:
        self._held += time.monotonic() - self._held_since
        self._held_since = 0.0
        if self._connection is not None:
            self._connection.pause(paused=False)

    def evict(self) -> None:
        """Makes room at once, for another caller."""
        self.refuse(503, "Too many connections. Try again in a few seconds.")
        self._transport.close()

    def refuse(self, status: int, detail: str) -> None:
        """An answer by the front itself: a problem (RFC 9457)."""
        if self._sent or self._state is _State.ANSWERED:
            self.abort()
            return
        self._door.refused[status] += 1
        title = HTTPStatus(status).phrase
        problem = {"type": "about:blank", "title": title, "status": status, "detail": detail}
        self._answer(status, "application/problem+json", json.dumps(problem).encode())

    def _answer(self, status: int, media_type: str, body: bytes, *, head: bool = False) -> None:
        fields: dict[str, object] = {
            "Date": formatdate(usegmt=True),
            "Content-Type": media_type,
            "Content-Length": len(body),
            "Connection": "close",
        }
        if status == 503:
            fields["Retry-After"] = 5
        lines = "".join(f"{name}: {value}\r\n" for name, value in fields.items())
        start = f"HTTP/1.1 {status} {HTTPStatus(status).phrase}\r\n{lines}\r\n".encode()
        self._transport.write(start if head else start + body)
        self._finish()

    def _finish(self) -> None:
        self._state, self._deadline = _State.ANSWERED, time.monotonic() + LINGER
        self._forget_request()
        if self._transport.can_write_eof() and not self._transport.is_closing():
            self._transport.write_eof()

    def _forget_request(self) -> None:
        self._door.keep(-len(self._data))
        self._data = bytearray()

    def check(self, now: float) -> None:
        """Ends what takes too long."""
        if self.unread:
            self._check_reader(now)
            return
        self._slow = None
        if self._state is _State.WORKING or now < self._deadline:
            return
        if self._state is _State.WAITING:
            self._door.failed()
            self.refuse(503, "No worker became free. Try again in a few seconds.")
        elif self._state is _State.READING and self._data:
            self.refuse(408, "The request did not arrive in time.")
        else:
            self.abort()

    def _check_reader(self, now: float) -> None:
        if self._slow is None:
            self._slow = (now, self._sent - self.unread)
        since, before = self._slow
        read = self._sent - self.unread - before
        held = self._held + (now - self._held_since if self._held_since else 0.0)
        if held > self._limits.hold or now - since > self._limits.grace + read / self._limits.pace:
            self.abort()
        elif self._state is _State.ANSWERED:
            self._deadline = now + LINGER

    def part(self, *, late: bool) -> None:
        """The service stops: whoever has begun a request may have a moment to complete it."""
        if not self.reading:
            return
        if not self._data:
            self.abort()
        elif late:
            self.refuse(503, "The service is stopping. Try again in a few seconds.")

    def abort(self) -> None:
        """Closes the connection, whatever is still to be sent."""
        self._transport.abort()


class Connection(asyncio.Protocol):
    """A request that a worker has."""

    def __init__(self, caller: Caller, door: Door, request: bytes | bytearray) -> None:
        self._caller, self._door, self._request = caller, door, request
        self._transport: asyncio.Transport | None = None
        self._abandoned = False

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = cast("asyncio.Transport", transport)
        if self._abandoned:
            self._transport.abort()
            return
        self._transport.write(self._request)
        self._transport.write_eof()
        self._request = b""

    def data_received(self, data: bytes) -> None:
        self._caller.relay(data)

    def connection_lost(self, exc: Exception | None) -> None:
        self._door.done()
        self._caller.end_answer()

    def pause(self, *, paused: bool) -> None:
        """The caller reads more slowly than the worker writes."""
        if self._transport is not None and not self._transport.is_closing():
            (self._transport.pause_reading if paused else self._transport.resume_reading)()

    def abandon(self) -> None:
        """The caller is gone."""
        self._abandoned = True
        if self._transport is not None:
            self._transport.abort()
