"""The process that holds every connection: deadlines, caps, a fair queue, ``GET /healthz``."""

from __future__ import annotations

import asyncio
import ipaddress
import os
import resource
import socket
import time
from collections import Counter, OrderedDict, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from service.front.caller import Caller

SWEEP = 0.5
"""Seconds between two looks at the deadlines."""
PARTING = 0.5
"""Seconds for what is half read when the service stops."""
DEAD = 60.0
"""Seconds in which every request fails until the service is called unhealthy."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What callers may take; times in seconds, sizes in bytes."""

    connections: int = 2000
    per_address: int | None = 1000
    """Of one address, of IPv6 one /64. None: proxies stand before the service."""
    head: float = 10.0
    """For the request line and the header fields."""
    grace: float = 10.0
    """For a body, and for an answer to be read, besides what its bytes take at :attr:`pace`."""
    pace: float = 8192.0
    """Bytes a second."""
    hold: float = 10.0
    """That a worker waits in all for a caller who reads slowly, once :attr:`unread` is full."""
    unread: int = 8 * 1024 * 1024
    """Of an answer, kept for its caller."""
    wait: float = 12.0
    """For a worker to be free: with what a request may take, less than nginx is patient."""
    body: int = 1024 * 1024
    kept: int = 64 * 1024 * 1024
    """Of all requests, and as much again of all answers."""


class Door:
    """All callers, and the queue of those whose request is complete.

    The queue takes addresses in turn: who sends much waits for himself.
    """

    def __init__(self, workers: str, at_once: int, limits: Limits) -> None:
        """``workers``: path of the socket they listen on; ``at_once``: requests given to them."""
        self.limits = limits
        self.kept = 0
        self.refused: Counter[int] = Counter()
        """How many were refused by the front, by status; the reader clears it."""
        self._failed: tuple[float, float] | None = None
        """The first and the latest time that no worker answered, since one did."""
        self._workers, self._at_once, self._at_work = workers, at_once, 0
        self._callers: dict[Caller, None] = {}
        self._of_address: Counter[str] = Counter()
        self._queues: OrderedDict[str, deque[Caller]] = OrderedDict()
        self._tasks: set[asyncio.Task[None]] = set()

    def enter(self, caller: Caller) -> None:
        """A new connection. Where there are too many, the oldest unfinished one goes for it."""
        caller.address = _network(caller.peer) if self.limits.per_address else ""
        self._callers[caller] = None
        self._of_address[caller.address] += 1
        most = self.limits.per_address
        if most and caller.address and self._of_address[caller.address] > most:
            self._evict(each for each in self._callers if each.address == caller.address)
        elif len(self._callers) > self.limits.connections:
            self._evict(self._callers)

    def leave(self, caller: Caller) -> None:
        """The connection is closed."""
        if caller in self._callers:
            del self._callers[caller]
            self._of_address[caller.address] -= 1
            if not self._of_address[caller.address]:
                del self._of_address[caller.address]

    def keep(self, size: int) -> None:
        """Requests take so much more memory, or less. The oldest goes where there is no room."""
        self.kept += size
        if size > 0 and self.kept > self.limits.kept:
            self._evict(self._callers)

    @staticmethod
    def _evict(among: Iterable[Caller]) -> None:
        # The newest is the last one: it goes where all others are being served.
        oldest = next((each for each in among if each.reading), None)
        if oldest is not None:
            oldest.evict()

    def queue(self, caller: Caller) -> None:
        """A request is complete."""
        self._queues.setdefault(caller.address, deque()).append(caller)
        self._start()

    def _start(self) -> None:
        while self._at_work < self._at_once and self._queues:
            address, waiting = self._queues.popitem(last=False)
            caller = waiting.popleft()
            if waiting:
                self._queues[address] = waiting
            if caller in self._callers and caller.waiting:
                self._at_work += 1
                task = asyncio.get_running_loop().create_task(self._work(caller))
                self._tasks.add(task)
                task.add_done_callback(self._tasks.discard)

    async def _work(self, caller: Caller) -> None:
        connection = caller.begin_work()
        try:
            await asyncio.get_running_loop().create_unix_connection(
                lambda: connection, self._workers
            )
        except OSError:
            connection.connection_lost(None)

    def answered(self) -> None:
        """A worker answers."""
        self._failed = None

    def failed(self) -> None:
        """No worker was free, or the one that was died."""
        now = time.monotonic()
        self._failed = (self._failed[0] if self._failed else now, now)

    def is_healthy(self) -> bool:
        """Whether workers answer when they are asked; nobody knows of one who is not asked."""
        if self._failed is None:
            return True
        first, latest = self._failed
        return latest - first < DEAD or time.monotonic() - latest > DEAD

    def done(self) -> None:
        """A worker is free, or gone."""
        self._at_work -= 1
        self._start()

    def sweep(self) -> None:
        """Lets go whoever is over time, and whoever has most unread where all have too much."""
        now = time.monotonic()
        for caller in list(self._callers):
            caller.check(now)
        unread = sum(caller.unread for caller in self._callers)
        while unread > self.limits.kept:
            most = max(self._callers, key=lambda each: each.unread)
            unread -= most.unread
            most.abort()
            self.leave(most)

    async def serve(
        self, sockets: Iterable[socket.socket], stop: asyncio.Event, patience: float,
        alive: Callable[[], None],
    ) -> None:  # fmt: skip
        """Until ``stop``, and then until all are answered or ``patience`` ends (s)."""
        loop = asyncio.get_running_loop()
        servers = [
            await loop.create_server(lambda: Caller(self), sock=each, backlog=2048)
            for each in sockets
        ]
        while not stop.is_set():
            alive()
            self.sweep()
            await _either(stop, SWEEP)
        for server in servers:
            server.close()
        begun = time.monotonic()
        while self._callers and time.monotonic() < begun + patience:
            alive()
            self.sweep()
            for caller in list(self._callers):
                caller.part(late=time.monotonic() - begun > PARTING)
            await asyncio.sleep(0.05)
        for caller in list(self._callers):
            caller.refuse(503, "The service is stopping. Try again in a few seconds.")
        await asyncio.sleep(0.05)


async def _either(event: asyncio.Event, seconds: float) -> None:
    try:
        await asyncio.wait_for(event.wait(), seconds)
    except TimeoutError:
        return


def _network(peer: object) -> str:
    """The address, of IPv6 the network that one subscriber has; empty for a local socket."""
    if not isinstance(peer, tuple):
        return ""
    address = ipaddress.ip_address(peer[0].partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped is None:
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(getattr(address, "ipv4_mapped", None) or address)


def limits_here(proxies: int) -> Limits:
    """The limits for as many files as this process may open; it is set to open as many.

    ``proxies``: how many stand before the service.
    """
    usual = Limits()
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    spare = 64
    most = usual.connections if hard == resource.RLIM_INFINITY else (hard - spare) // 2
    connections = max(16, min(usual.connections, most))
    # One for a caller, and one for the worker that has his request.
    wanted = 2 * connections + spare
    if resource.getrlimit(resource.RLIMIT_NOFILE)[0] < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return Limits(
        connections=connections,
        per_address=None if proxies else connections // 2,
        body=int(os.environ.get("WAVESETUP_MAX_CONTENT_LENGTH", usual.body)),
    )
