"""One caller who sends the same kind of thing over and over, from one address.

``python -m tests.production.attacker URL NAME`` until it is ended; then it prints which statuses
came how often. It gives way to whoever else computes on this machine, as if it were on another.
"""

from __future__ import annotations

import itertools
import json
import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable
from typing import Any

import requests

from tests.bench.prices import boat, outing
from tests.production.server import SMALLEST

Sent = tuple[str, dict[str, Any]]


ATTACKS: dict[str, tuple[int, Callable[[int], Sent]]] = {
    "plans for many riders": (2, lambda n: ("/v1/outing-plans", outing(boat(5, 12), 30 + n % 10))),
    "plans with 20 tanks": (2, lambda _: ("/v1/outing-plans", outing(boat(20, 8), 1))),
    "the dearest that is answered at once": (
        4,
        lambda n: ("/v1/outing-plans", outing("demo-8m", 12, fuel=30 + n % 60)),
    ),
    "advice as fast as it goes": (
        8,
        lambda n: ("/v1/advice", SMALLEST | {"crew": [{"mass": 60 + n % 97 / 10}] * 8}),
    ),
}


def main(url: str, name: str) -> None:
    os.nice(19)
    statuses, over = Counter[int](), threading.Event()
    connections, sent = ATTACKS[name]
    address = {"X-Forwarded-For": f"203.0.113.{list(ATTACKS).index(name)}"}

    def keep_sending() -> None:
        for number in itertools.count():
            path, what = sent(number)
            answer = requests.post(url + path, json=what, headers=address, timeout=120)
            statuses[answer.status_code] += 1
            if over.is_set():
                return

    sending = [threading.Thread(target=keep_sending) for _ in range(connections)]
    signal.signal(signal.SIGTERM, lambda *_: over.set())
    for each in sending:
        each.start()
    sys.stdout.write("begun\n")
    sys.stdout.flush()
    for each in sending:
        each.join()
    sys.stdout.write(json.dumps(statuses))


if __name__ == "__main__":
    main(*sys.argv[1:])
