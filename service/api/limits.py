"""How often somebody may ask: by address, and by key.

Off unless set: ``RATE_PER_ADDRESS`` and ``RATE_PER_KEY``, such as ``600/minute``. Every request
counts for its address, before a key is looked up, so that guessing keys is limited too; one with a
good key counts for the key as well. Counts are kept in the process, so that each worker allows the
full rate, unless ``RATE_STORAGE_URL`` names a Redis that all share. When that does not answer, a
process counts by itself for a while: the limits protect the service and do not stop it.

The headers are those of draft-ietf-httpapi-ratelimit-headers (as of draft 10) and ``Retry-After``
(RFC 9110, 10.2.3).
"""

from __future__ import annotations

import ipaddress
import math
import time
from dataclasses import dataclass

from flask import Flask, Response, current_app, g, request
from limits import RateLimitItem, parse_many
from limits.errors import StorageError
from limits.storage import MemoryStorage, storage_from_string
from limits.strategies import FixedWindowRateLimiter
from werkzeug.exceptions import TooManyRequests
from werkzeug.middleware.proxy_fix import ProxyFix

from schemas import error_texts as say
from service.api.logs import LOGGER

_FREE = ("/healthz", "/readyz", "/metrics")
_ALONE_FOR = 10.0
"""Seconds to go on without the shared storage before it is tried again."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How somebody stands with one limit: requests left, and seconds until the window ends."""

    policy: str
    item: RateLimitItem
    left: int
    seconds: int


class Counts:
    """The counts, shared where there is a storage for it."""

    def __init__(self, url: str | None) -> None:
        self._alone = FixedWindowRateLimiter(MemoryStorage())
        self._shared = None
        self._alone_until = 0.0
        if url:
            storage = storage_from_string(
                url, wrap_exceptions=True, socket_timeout=0.5, socket_connect_timeout=0.5
            )
            self._shared = FixedWindowRateLimiter(storage)

    def hit(self, policy: str, item: RateLimitItem, who: str) -> tuple[bool, Standing]:
        """Counts one request; whether it is allowed, and how ``who`` stands after it."""
        if self._shared is not None and time.monotonic() >= self._alone_until:
            try:
                return self._hit(self._shared, policy, item, who)
            except StorageError:
                self._alone_until = time.monotonic() + _ALONE_FOR
                LOGGER.warning("the storage of the rate limits does not answer")
        return self._hit(self._alone, policy, item, who)

    @staticmethod
    def _hit(
        limiter: FixedWindowRateLimiter, policy: str, item: RateLimitItem, who: str
    ) -> tuple[bool, Standing]:
        allowed = limiter.hit(item, policy, who)
        stats = limiter.get_window_stats(item, policy, who)
        seconds = max(1, math.ceil(stats.reset_time - time.time()))
        return allowed, Standing(policy, item, stats.remaining if allowed else 0, seconds)


def _address() -> str:
    """Who is asking from: an address, of IPv6 the network that one subscriber has (/64)."""
    try:
        address = ipaddress.ip_address(request.remote_addr or "")
    except ValueError:
        return "unknown"
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)


def _rate(app: Flask, name: str) -> RateLimitItem | None:
    text = app.config.setdefault(name, "")
    if not text:
        return None
    try:
        (rate,) = parse_many(str(text))  # where there are several, parse() takes the first
    except ValueError:
        raise ValueError(f"WAVESETUP_{name} has to be one rate such as 600/minute.") from None
    return rate


def _write(response: Response) -> Response:
    standings: list[Standing] = g.get("standings", [])
    if standings:
        response.headers["RateLimit-Policy"] = ", ".join(
            f'"{at.policy}";q={at.item.amount};w={at.item.get_expiry()}' for at in standings
        )
        response.headers["RateLimit"] = ", ".join(
            f'"{at.policy}";r={at.left};t={at.seconds}' for at in standings
        )
    return response


def _count(policy: str, item: RateLimitItem, who: str) -> None:
    allowed, standing = current_app.extensions["counts"].hit(policy, item, who)
    g.setdefault("standings", []).append(standing)
    if not allowed:
        raise TooManyRequests(
            say.TOO_MANY_REQUESTS.format(
                count=item.amount, seconds=item.get_expiry(), policy=policy
            ),
            retry_after=standing.seconds,
        )


def for_addresses(app: Flask) -> None:
    """The limit for addresses.

    ``PROXIES`` says how many proxies of one's own stand before the service; the address is taken
    from what they add to ``X-Forwarded-For``, and never from that header without them.
    """
    app.extensions["counts"] = Counts(app.config.setdefault("RATE_STORAGE_URL", ""))
    app.after_request(_write)
    proxies = int(app.config.setdefault("PROXIES", 0))
    if proxies:
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=proxies, x_proto=proxies
        )
    rate = _rate(app, "RATE_PER_ADDRESS")

    def count() -> None:
        if rate is not None and request.path not in _FREE:
            _count("address", rate, _address())

    app.before_request(count)


def for_keys(app: Flask) -> None:
    """The limit for keys. After they are recognised, before anything is done."""
    rate = _rate(app, "RATE_PER_KEY")

    def count() -> None:
        if rate is not None and g.get("principal") is not None:
            _count("key", rate, g.principal.key_id)

    app.before_request(count)
