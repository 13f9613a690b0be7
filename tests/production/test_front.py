"""The front by itself, before a worker that the test plays: deadlines, caps, queue, framing."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Awaitable, Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

import pytest

from service.api.body import MOST_BYTES
from service.front import door
from service.front.door import Door, Limits

QUICK = Limits(head=0.6, grace=0.6, pace=1e6, hold=0.6, wait=0.6)
GET = b"GET /%b HTTP/1.1\r\nHost: a\r\n\r\n"
POST = b"POST /v1/advice HTTP/1.1\r\nHost: a\r\n"
CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"
OK = b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nConnection: close\r\n\r\nok"

Answer = Callable[[bytes, asyncio.StreamWriter], Awaitable[None]]


def in_a_loop(run: Callable[[], Coroutine[Any, Any, None]]) -> None:
    """Runs it in a thread of its own: the browser's tests leave a running loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(run())).result()


class Bench:
    """A front on a port of its own, and what its workers were sent."""

    def __init__(self, folder: Path, limits: Limits, at_once: int, answer: Answer | None) -> None:
        self.path = str(folder / "inner")
        self.door = Door(self.path, at_once, limits)
        self.received: list[bytes] = []
        self.gone = 0
        self._answer = answer

    async def work(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        request = await reader.read()
        self.received.append(request)
        with suppress(ConnectionError):
            if self._answer is not None:
                await self._answer(request, writer)
            else:
                writer.write(OK)
            await writer.drain()
        writer.close()

    async def ask(self, data: bytes) -> bytes:
        reader, writer = await self.connect()
        writer.write(data)
        with suppress(ConnectionError):
            answer = await asyncio.wait_for(reader.read(), 10)
            writer.close()
            return answer
        return b""

    async def connect(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        return await asyncio.open_connection("127.0.0.1", self.port)

    async def __aenter__(self) -> Self:
        self.inner = await asyncio.start_unix_server(self.work, self.path)
        public = socket.create_server(("127.0.0.1", 0))
        self.port: int = public.getsockname()[1]
        self.stop = asyncio.Event()
        self.serving = asyncio.ensure_future(
            self.door.serve([public], self.stop, 2.0, lambda: None)
        )
        return self

    async def __aexit__(self, *_: object) -> None:
        self.stop.set()
        await self.serving
        self.inner.close()


def bench(
    folder: Path, limits: Limits = QUICK, *, at_once: int = 4, answer: Answer | None = None
) -> Bench:
    return Bench(folder, limits, at_once, answer)


def status(answer: bytes) -> int:
    return int(answer[9:12])


def test_front_and_application_allow_the_same_length() -> None:
    assert Limits().body == MOST_BYTES


@pytest.mark.parametrize(
    "request_",
    [
        GET % b"v1/rules",
        POST + b"Content-Length: 3\r\n\r\nabc",
        CHUNKED + b"3;x=y\r\nabc\r\n0\r\nT: 1\r\n\r\n",
        POST + b"Content-Length: 3\r\nContent-Length: 4\r\n\r\n",
        POST + b"Content-Length: three\r\n\r\n",
    ],
)
def test_worker_gets_the_request_as_it_was_sent_and_who_sent_it(
    tmp_path: Path, request_: bytes
) -> None:
    async def run() -> None:
        async with bench(tmp_path) as front:
            reader, writer = await front.connect()
            for byte in request_:
                writer.write(bytes([byte]))
                await asyncio.sleep(0)
            assert await reader.read() == OK
            own = writer.get_extra_info("sockname")[1]
            line = b"PROXY TCP4 127.0.0.1 127.0.0.1 %d %d\r\n" % (own, front.port)
            assert front.received == [line + request_]
            writer.close()

    in_a_loop(run)


def test_what_follows_a_request_is_not_passed_on(tmp_path: Path) -> None:
    async def run() -> None:
        async with bench(tmp_path) as front:
            sent = POST + b"Content-Length: 1\r\n\r\na" + GET % b"hidden"
            assert await front.ask(sent) == OK
            assert len(front.received) == 1
            assert b"hidden" not in front.received[0]

    in_a_loop(run)


@pytest.mark.parametrize(
    ("sent", "expected"),
    [
        (b"", None),
        (b"GET / HTTP/1.1\r\nHost:", 408),
        (POST + b"Content-Length: 9\r\n\r\nabc", 408),
        (CHUNKED + b"5\r\nabc", 408),
    ],
)
def test_request_that_does_not_arrive_in_time(
    tmp_path: Path, sent: bytes, expected: int | None
) -> None:
    async def run() -> None:
        async with bench(tmp_path) as front:
            reader, writer = await front.connect()
            writer.write(sent)
            answer = await asyncio.wait_for(reader.read(), 10)
            assert (status(answer) if answer else None) == expected
            assert not front.received
            writer.close()

    in_a_loop(run)


@pytest.mark.parametrize(
    ("sent", "expected"),
    [
        (GET % b"healthz", 200),
        (POST + b"Content-Length: %d\r\n\r\n" % (MOST_BYTES + 1), 413),
        (POST + b"Content-Length: " + b"9" * 5000 + b"\r\n\r\n", 413),
        (CHUNKED + b"%x\r\n" % (MOST_BYTES + 1), 413),
        (CHUNKED + b"1;%b\r\na\r\n" % (b"x" * 900) * 2500, 413),
        (POST + b"X: " + b"x" * 40_000, 431),
        (b"PROXY TCP4 192.0.2.1 192.0.2.2 1 2\r\n" + GET % b"", 400),
    ],
    ids=lambda value: repr(value[:70]) if isinstance(value, bytes) else None,
)
def test_what_no_worker_is_asked(tmp_path: Path, sent: bytes, expected: int) -> None:
    async def run() -> None:
        async with bench(tmp_path) as front:
            answer = await front.ask(sent)
            assert status(answer) == expected
            assert expected == 200 or b"application/problem+json" in answer
            assert not front.received

    in_a_loop(run)


def test_oldest_unfinished_connection_goes_where_there_are_too_many(tmp_path: Path) -> None:
    async def run() -> None:
        limits = replace(Limits(), per_address=20)
        async with bench(tmp_path, limits) as front:
            idle = [await front.connect() for _ in range(20)]
            assert await front.ask(GET % b"") == OK
            assert status(await idle[0][0].read()) == 503
            assert not idle[-1][0].at_eof()
            for _, writer in idle:
                writer.close()

    in_a_loop(run)


def test_requests_take_no_more_memory_than_they_may(tmp_path: Path) -> None:
    async def run() -> None:
        limits = replace(Limits(), kept=500_000)
        async with bench(tmp_path, limits) as front:
            opened = [await front.connect() for _ in range(8)]
            for _, writer in opened:
                writer.write(POST + b"Content-Length: 100000\r\n\r\n" + b" " * 99_000)
                await writer.drain()
            await asyncio.sleep(0.3)
            assert front.door.kept <= 500_000
            assert await front.ask(GET % b"") == OK
            for _, writer in opened:
                writer.close()
            await asyncio.sleep(0.1)
            assert front.door.kept == 0

    in_a_loop(run)


def test_one_connection_lost_leaves_nothing_behind(tmp_path: Path) -> None:
    async def never(_request: bytes, _writer: asyncio.StreamWriter) -> None:
        await asyncio.sleep(0.2)

    async def run() -> None:
        async with bench(tmp_path, replace(Limits(), wait=5.0), at_once=1, answer=never) as front:
            opened = [await front.connect() for _ in range(3)]
            for _, writer in opened:
                writer.write(GET % b"x")
            await asyncio.sleep(0.1)
            for _, writer in opened:
                writer.close()
            await asyncio.sleep(0.4)
            # Those that only waited cost no worker anything.
            assert len(front.received) == 1

    in_a_loop(run)


def test_queue_takes_addresses_in_turn(tmp_path: Path) -> None:
    async def slow(_request: bytes, writer: asyncio.StreamWriter) -> None:
        await asyncio.sleep(0.02)
        writer.write(OK)

    async def run() -> None:
        async with bench(tmp_path, Limits(), at_once=1, answer=slow) as front:
            flood = [asyncio.ensure_future(front.ask(GET % b"flood")) for _ in range(30)]
            await asyncio.sleep(0.05)
            other = await asyncio.open_connection(
                "127.0.0.1", front.port, local_addr=("127.0.0.2", 0)
            )
            other[1].write(GET % b"other")
            assert await other[0].read() == OK
            other[1].close()
            await asyncio.gather(*flood)
            place = next(at for at, each in enumerate(front.received) if b"/other" in each)
            assert place < 15

    in_a_loop(run)


def test_request_that_no_worker_takes_is_a_503(tmp_path: Path) -> None:
    async def long(_request: bytes, writer: asyncio.StreamWriter) -> None:
        await asyncio.sleep(3.0)
        writer.write(OK)

    async def run() -> None:
        async with bench(tmp_path, at_once=1, answer=long) as front:
            first = asyncio.ensure_future(front.ask(GET % b"first"))
            await asyncio.sleep(0.1)
            answer = await front.ask(GET % b"second")
            assert status(answer) == 503
            assert b"Retry-After" in answer
            assert await front.ask(GET % b"healthz")
            assert await first == OK

    in_a_loop(run)


def test_service_whose_workers_do_not_answer_is_not_healthy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def run() -> None:
        async with bench(tmp_path, answer=answer) as front:
            assert status(await front.ask(GET % b"")) == 503
            assert status(await front.ask(GET % b"healthz")) == 200
            await asyncio.sleep(0.6)
            assert status(await front.ask(GET % b"")) == 503
            assert status(await front.ask(GET % b"healthz")) == 503
            assert front.door.refused == {503: 3}
            # Nobody asks for a while: nothing is known.
            await asyncio.sleep(0.6)
            assert status(await front.ask(GET % b"healthz")) == 200
            works.append(True)
            assert status(await front.ask(GET % b"")) == 200
            assert status(await front.ask(GET % b"healthz")) == 200

    works = list[bool]()

    async def answer(_request: bytes, writer: asyncio.StreamWriter) -> None:
        if works:
            writer.write(OK)
        else:
            writer.transport.abort()

    monkeypatch.setattr(door, "DEAD", 0.5)
    in_a_loop(run)


def test_worker_that_dies_is_a_503(tmp_path: Path) -> None:
    async def die(_request: bytes, writer: asyncio.StreamWriter) -> None:
        writer.transport.abort()

    async def run() -> None:
        async with bench(tmp_path, answer=die) as front:
            answer = await front.ask(GET % b"")
            assert status(answer) == 503
            assert b"Retry-After" in answer

    in_a_loop(run)


def test_answer_is_passed_on_as_it_comes(tmp_path: Path) -> None:
    go = asyncio.Event()

    async def parts(_request: bytes, writer: asyncio.StreamWriter) -> None:
        writer.write(b"HTTP/1.1 200 OK\r\n\r\none")
        await writer.drain()
        await go.wait()
        writer.write(b"two")

    async def run() -> None:
        async with bench(tmp_path, answer=parts) as front:
            reader, writer = await front.connect()
            writer.write(GET % b"")
            assert await reader.readuntil(b"one")
            go.set()
            assert await reader.read() == b"two"
            writer.close()

    in_a_loop(run)


def test_slow_reader_holds_no_worker(tmp_path: Path) -> None:
    """Neither with an answer that the front keeps for him, nor with a longer one."""
    freed = list[float]()

    async def large(request: bytes, writer: asyncio.StreamWriter) -> None:
        begun = asyncio.get_running_loop().time()
        size = 20_000_000 if b"/longer" in request else 6_000_000
        writer.write(b"HTTP/1.1 200 OK\r\n\r\n" + b"x" * size)
        with suppress(ConnectionError):
            await writer.drain()
        writer.transport.set_write_buffer_limits(0)
        with suppress(ConnectionError):
            await writer.drain()
        freed.append(asyncio.get_running_loop().time() - begun)

    async def run() -> None:
        async with bench(tmp_path, replace(Limits(), hold=0.6), answer=large) as front:
            for path in (b"large", b"longer"):
                sock = socket.socket()
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
                sock.connect(("127.0.0.1", front.port))
                sock.sendall(GET % path)
                for _ in range(100):
                    await asyncio.sleep(0.05)
                    if len(freed) == 1 + (path == b"longer"):
                        break
                sock.close()
            assert len(freed) == 2

    in_a_loop(run)


def test_stopping_answers_what_it_has(tmp_path: Path) -> None:
    async def slow(_request: bytes, writer: asyncio.StreamWriter) -> None:
        await asyncio.sleep(0.3)
        writer.write(OK)

    async def run() -> None:
        async with bench(tmp_path, Limits(), answer=slow) as front:
            idle = await front.connect()
            half = await front.connect()
            half[1].write(b"GET / HT")
            whole = asyncio.ensure_future(front.ask(GET % b""))
            await asyncio.sleep(0.1)
            front.stop.set()
            assert await whole == OK
            assert not await idle[0].read()
            assert status(await half[0].read()) == 503
            for _, writer in (idle, half):
                writer.close()

    in_a_loop(run)
