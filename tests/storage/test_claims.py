"""A claim ends with its process: by a lock of the kernel's, or of the server's."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

from service.storage import Store
from service.storage.claims import claim

HOLDS = """
import sys, time
from service.storage import Store
from service.storage.claims import claim
held = claim(Store(sys.argv[1]), "mine")
print("held" if held else "refused", flush=True)
time.sleep(60)
"""


def test_one_at_a_time_also_in_one_process(store: Store) -> None:
    first = claim(store, "mine")
    assert first is not None
    assert claim(store, "mine") is None
    other = claim(store, "another")
    assert other is not None
    other.release()
    first.release()
    first.release()
    again = claim(store, "mine")
    assert again is not None
    again.release()


def test_it_ends_when_its_process_is_killed(store: Store) -> None:
    url = store.url.render_as_string(hide_password=False)
    with subprocess.Popen(
        [sys.executable, "-c", HOLDS, url], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        assert claim(store, "mine") is None
        process.send_signal(signal.SIGKILL)
        process.wait(10)
    until = time.monotonic() + 10.0
    while (held := claim(store, "mine")) is None and time.monotonic() < until:
        time.sleep(0.02)  # until the server notices
    assert held is not None
    held.release()


def test_a_child_that_lives_does_not_keep_what_was_released(store: Store) -> None:
    held = claim(store, "mine")
    assert held is not None
    child = os.fork()
    if not child:
        signal.pause()
        os._exit(0)
    try:
        held.release()
        again = claim(store, "mine")
        assert again is not None
        again.release()
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
