"""Callers who take their time, as a process: ``python -m tests.production.slow_callers PORT …``.

Each of the kinds named opens its connections and keeps as many open until standard input ends;
what is closed on it is opened again.
"""

from __future__ import annotations

import asyncio
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HEAD = b"POST /v1/advice HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
LONG = b"GET /large HTTP/1.1\r\nHost: a\r\n\r\n"
STEP = 1.0
"""Seconds from one byte to the next."""


async def idle(_reader: asyncio.StreamReader, _writer: asyncio.StreamWriter) -> None:
    await asyncio.sleep(3600)


async def head(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    await _trickle(writer, HEAD + b"X: " + b"x" * 3600)


async def body(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(HEAD + b"Content-Length: 3600\r\n\r\n")
    await _trickle(writer, b" " * 3600)


async def chunks(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(HEAD + b"Transfer-Encoding: chunked\r\n\r\n")
    await _trickle(writer, b"1\r\n \r\n" * 600)


async def _trickle(writer: asyncio.StreamWriter, data: bytes) -> None:
    for each in data:
        writer.write(bytes([each]))
        await writer.drain()
        await asyncio.sleep(STEP)


async def reader(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(LONG)
    while await reader.read(1):
        await asyncio.sleep(STEP)


KINDS = {each.__name__: each for each in (idle, head, body, chunks, reader)}


async def _again_and_again(kind: str, port: int, first: asyncio.Event) -> None:
    while True:
        try:
            # A small window, so that what is not read stays with the server.
            raw = socket.socket()
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
            raw.setblocking(False)
            await asyncio.get_running_loop().sock_connect(raw, ("127.0.0.1", port))
            streams = await asyncio.open_connection(sock=raw, limit=1024)
            first.set()
            waiting = asyncio.ensure_future(KINDS[kind](*streams))
            if kind != "reader":
                closed = asyncio.ensure_future(streams[0].read())
                await asyncio.wait({waiting, closed}, return_when=asyncio.FIRST_COMPLETED)
                closed.cancel()
            else:
                await waiting
            waiting.cancel()
            streams[1].close()
        except OSError:
            pass
        await asyncio.sleep(0.1)


async def main(port: int, counts: dict[str, int]) -> None:
    firsts = []
    tasks = set()
    for kind, count in counts.items():
        for _ in range(count):
            firsts.append(asyncio.Event())
            tasks.add(asyncio.ensure_future(_again_and_again(kind, port, firsts[-1])))
    await asyncio.wait([asyncio.ensure_future(first.wait()) for first in firsts], timeout=5)
    await asyncio.sleep(1)
    print("open", flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    for task in tasks:
        task.cancel()


@contextmanager
def slow_callers(port: int, **counts: int) -> Iterator[None]:
    """So many of each kind are at it."""
    words = [f"{kind}={count}" for kind, count in counts.items()]
    with subprocess.Popen(
        [sys.executable, "-m", "tests.production.slow_callers", str(port), *words],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    ) as process:  # fmt: skip
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == b"open\n"
            yield
        finally:
            process.stdin.close()


if __name__ == "__main__":
    asked = (word.split("=") for word in sys.argv[2:])
    asyncio.run(main(int(sys.argv[1]), {kind: int(count) for kind, count in asked}))
