"""Token buckets of processor time, in this process or shared in Redis.

A bucket fills at a steady rate up to what it holds. Whoever asks is let in while there is anything
in it, and pays what the work costs, also past zero: so one dear piece of work is possible, and has
to be earned before the next one.
"""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from dataclasses import dataclass
from typing import Protocol

import redis

from service.api.logs import LOGGER

MOST_BUCKETS = 50_000
"""In one process; the one that was used longest ago is forgotten first."""
ALONE_FOR = 10.0
"""Seconds to go on without Redis before it is tried again."""
_TIMEOUT = 0.5

# A clock of its own: those of several machines may differ.
_SCRIPT = """
local t = redis.call('TIME')
local now = t[1] + t[2] / 1e6
local kept = redis.call('HMGET', KEYS[1], 'level', 'at')
local holds, fill, paid = tonumber(ARGV[1]), tonumber(ARGV[2]), tonumber(ARGV[3])
local level = tonumber(kept[1] or holds)
level = math.min(holds, level + math.max(0, now - tonumber(kept[2] or now)) * fill)
level = math.min(holds, level - paid)
if paid ~= 0 then
  redis.call('HSET', KEYS[1], 'level', tostring(level), 'at', tostring(now))
  redis.call('EXPIRE', KEYS[1], math.ceil((holds - level) / fill) + 1)
end
return tostring(level)
"""


@dataclass(frozen=True, slots=True)
class Policy:
    """What a bucket holds (s of processor time), and what it gains in a second."""

    name: str
    holds: float
    fill: float

    @property
    def window(self) -> int:
        """Seconds from empty to full."""
        return max(1, math.ceil(self.holds / self.fill))

    def seconds_to(self, level: float, wanted: float) -> int:
        return max(1, math.ceil((wanted - level) / self.fill))


class Buckets(Protocol):
    """Where the levels are."""

    def pay(self, policy: Policy, who: str, seconds: float) -> float:
        """Takes so much (negative: gives back) and returns the level after it."""


class OwnBuckets:
    """Of this process alone; monotonic, so a clock that is set changes nothing."""

    def __init__(self) -> None:
        self._levels: OrderedDict[tuple[str, str], tuple[float, float]] = OrderedDict()

    def pay(self, policy: Policy, who: str, seconds: float) -> float:
        at = time.monotonic()
        level, since = self._levels.pop((policy.name, who), (policy.holds, at))
        level = min(policy.holds, level + (at - since) * policy.fill)
        level = min(policy.holds, level - seconds)
        if level < policy.holds:
            self._levels[policy.name, who] = level, at
            if len(self._levels) > MOST_BUCKETS:
                self._levels.popitem(last=False)
        return level


class SharedBuckets:
    """In Redis, for all workers and machines. Where it does not answer, each counts alone."""

    def __init__(self, url: str) -> None:
        client = redis.Redis.from_url(url, socket_timeout=_TIMEOUT, socket_connect_timeout=_TIMEOUT)
        self._script = client.register_script(_SCRIPT)
        self._alone = OwnBuckets()
        self._alone_until = 0.0

    def pay(self, policy: Policy, who: str, seconds: float) -> float:
        if time.monotonic() >= self._alone_until:
            try:
                level = self._script(
                    keys=[f"wavesetup:{policy.name}:{who}"],
                    args=[policy.holds, policy.fill, seconds],
                )
                return float(level)
            except redis.RedisError:
                self._alone_until = time.monotonic() + ALONE_FOR
                LOGGER.warning("the storage of the limits does not answer")
        return self._alone.pay(policy, who, seconds)


def buckets(url: str) -> Buckets:
    """Shared where ``url`` names a Redis."""
    return SharedBuckets(url) if url else OwnBuckets()
