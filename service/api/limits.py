"""What someone may use: processor time, by address, by key and by outfit.

Who asks without a key pays by address (of IPv6 by the /64 that a subscriber has), who asks with one
by key and by outfit; one that is unknown is paid dearly by the address, so that guessing is slow.
A request is let in while there is anything in the buckets (:mod:`service.api.buckets`), pays what
it is predicted to cost before anything is solved (:func:`charge`), and in the end what it did
cost. Long work pays from buckets of its own.

On unless switched off, each as ``5 + 0.25/s``: 5 s at once, and 0.25 s gained a second; ``off`` for
none. Each worker counts by itself unless ``RATE_STORAGE_URL`` names a Redis that all share.

The headers are those of draft-ietf-httpapi-ratelimit-headers-10, in milliseconds of processor time
(``qu="cpu-ms"``), and ``Retry-After`` (RFC 9110, 10.2.3).
"""

from __future__ import annotations

import hashlib
import ipaddress
import re
import time
from dataclasses import dataclass

from flask import Flask, Response, current_app, g, request
from werkzeug.exceptions import TooManyRequests
from werkzeug.middleware.proxy_fix import ProxyFix

from schemas import error_texts as say
from service.api.at_work import working
from service.api.buckets import Buckets, Policy, buckets

SETTINGS = {
    "CPU_PER_ADDRESS": "5 + 0.25/s",
    "CPU_PER_KEY": "20 + 0.5/s",
    "CPU_PER_OUTFIT": "40 + 0.75/s",
    "JOBS_PER_ADDRESS": "120 + 0.1/s",
    "JOBS_PER_OUTFIT": "1200 + 0.5/s",
}
"""Some 250 requests for advice at once from an address, and a dozen a second, in each worker."""
GUESS = 0.05
"""Seconds that a wrong key costs at least."""
ENOUGH = 0.05
"""Seconds that are in a bucket again when a caller is told to come back."""

_FREE = ("/healthz", "/readyz", "/metrics")
_FORM = re.compile(r"\s*(\d+(?:\.\d+)?)\s*\+\s*(\d+(?:\.\d+)?)\s*/\s*s\s*")


@dataclass(frozen=True, slots=True)
class _Limits:
    buckets: Buckets
    policies: dict[str, Policy]


@dataclass(slots=True)
class _Bill:
    """Who pays for this request, how much is paid, and how their buckets stand."""

    payers: list[tuple[Policy, str]]
    paid: float = 0.0
    levels: dict[Policy, float] | None = None


def _limits() -> _Limits:
    found: _Limits = current_app.extensions["limits"]
    return found


def address() -> str:
    """Who is asking from: an address, of IPv6 the network that one subscriber has (/64)."""
    try:
        found = ipaddress.ip_address(request.remote_addr or "")
    except ValueError:
        return "unknown"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)


def payer() -> str:
    """Whoever answers for this request, as a name that tells no address: an outfit, or a hash."""
    principal = g.get("principal")
    if principal is not None:
        return f"outfit {hashlib.sha256(principal.outfit.encode()).hexdigest()[:32]}"
    return f"address {hashlib.sha256(address().encode()).hexdigest()[:32]}"


def charge(seconds: float) -> None:
    """Pays what this request is predicted to cost. The rest, or what was too much, at its end."""
    bill: _Bill | None = g.get("bill")
    if bill is not None:
        bill.paid += seconds
        _pay(bill, seconds)


def charge_job(seconds: float) -> None:
    """Pays for long work in the place of this request; 429 where nothing is left for that."""
    bill: _Bill | None = g.get("bill")
    if bill is None:
        return
    principal = g.get("principal")
    name = "JOBS_PER_ADDRESS" if principal is None else "JOBS_PER_OUTFIT"
    policy = _limits().policies.get(name)
    if policy is None:
        return
    who = address() if principal is None else principal.outfit
    _enter(_Bill([(policy, who)]))
    _limits().buckets.pay(policy, who, seconds)


def _enter(bill: _Bill) -> None:
    """Lets in whoever has anything left."""
    _pay(bill, 0.0)
    for policy, level in (bill.levels or {}).items():
        if level <= 0.0:
            raise TooManyRequests(
                say.TOO_MUCH_WORK.format(
                    holds=f"{policy.holds:g}", fill=f"{policy.fill:g}", policy=policy.name
                ),
                retry_after=policy.seconds_to(level, min(ENOUGH, policy.holds)),
            )


def _pay(bill: _Bill, seconds: float) -> None:
    pay = _limits().buckets.pay
    bill.levels = {policy: pay(policy, who, seconds) for policy, who in bill.payers}


def _write(response: Response) -> Response:
    bill: _Bill | None = g.get("bill")
    if bill is None or not bill.payers:
        return response
    spent = time.thread_time() - g.processor_begun
    if response.status_code == 401:
        spent = max(spent, GUESS)
    if response.is_streamed and g.get("streams"):
        spent = max(spent, bill.paid)  # its work comes after this
    _pay(bill, spent - bill.paid)
    levels = (bill.levels or {}).items()
    response.headers["RateLimit-Policy"] = ", ".join(
        f'"{at.name}";q={round(1e3 * at.holds)};qu="cpu-ms";w={at.window}' for at, _ in levels
    )
    response.headers["RateLimit"] = ", ".join(
        f'"{at.name}";r={max(0, int(1e3 * level))};t={at.seconds_to(level, at.holds)}'
        for at, level in levels
    )
    return response


def _policy(app: Flask, name: str) -> Policy | None:
    text = str(app.config.setdefault(name, SETTINGS[name])).strip()
    if text in ("", "off"):
        return None
    found = _FORM.fullmatch(text)
    if found is None or not (float(found[1]) > 0.0 and float(found[2]) > 0.0):
        raise ValueError(f"WAVESETUP_{name} has to be off or such as {SETTINGS[name]}.")
    kind = "jobs" if name.startswith("JOBS") else "cpu"
    return Policy(f"{name.rpartition('_')[2].lower()}-{kind}", float(found[1]), float(found[2]))


def for_addresses(app: Flask) -> None:
    """Before a key is looked up.

    ``PROXIES`` says how many proxies of one's own stand before the service; the address is taken
    from what they add to ``X-Forwarded-For``, and never from that header without them.
    """
    policies = {name: policy for name in SETTINGS if (policy := _policy(app, name))}
    url = str(app.config.setdefault("RATE_STORAGE_URL", ""))
    app.extensions["limits"] = _Limits(buckets(url), policies)
    app.after_request(_write)
    proxies = int(app.config.setdefault("PROXIES", 0))
    if proxies:
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=proxies, x_proto=proxies
        )

    def enter() -> None:
        g.processor_begun = time.thread_time()
        if request.path in _FREE or working() is not None:
            return
        policy = policies.get("CPU_PER_ADDRESS")
        # Neighbours behind one address do not stop those with a key, unless someone guesses keys.
        kind = "keys of " if "Authorization" in request.headers else ""
        g.bill = _Bill([] if policy is None else [(policy, kind + address())])
        _enter(g.bill)

    app.before_request(enter)


def for_keys(app: Flask) -> None:
    """After the key is recognised, before anything is done."""

    def enter() -> None:
        principal, policies = g.get("principal"), _limits().policies
        if principal is None or "bill" not in g:
            return
        named = {"CPU_PER_KEY": principal.key_id, "CPU_PER_OUTFIT": principal.outfit}
        g.bill = _Bill([(policies[name], who) for name, who in named.items() if name in policies])
        _enter(g.bill)

    app.before_request(enter)
