"""Sessions on the simulated wave, from random bad set-ups, and what one answer costs.

The simulated wave is a test model (``tests/tuning/simulated_wave.py``), not a prediction of any
boat. ``python -m tests.bench.tuning`` prints the figures; ``WAVESETUP_TEST_TUNING_SESSIONS`` says
from how many set-ups of each kind.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator

from tests.tuning.drive import CHANGES, KINDS, Session, sessions, use_case

COUNT = int(os.environ.get("WAVESETUP_TEST_TUNING_SESSIONS", "500"))

HEAD = ("from bad set-ups", "found")


def rows() -> Iterator[tuple[str, str]]:
    """What was measured, as text: a row a kind of set-up as it is driven, then the cost."""
    coach, looks, start = use_case(), 0, time.process_time()
    for name, anywhere, own_kind in KINDS:
        driven = sessions(COUNT, coach=coach, anywhere=anywhere, own_kind=own_kind)
        looks += sum(len(session.steps) for session in driven)
        yield f"{COUNT}, {name}", _told(driven)
    spent = time.process_time() - start
    yield "processor time a look, the wave included", f"{1000.0 * spent / looks:.0f} ms"


def _told(driven: list[Session]) -> str:
    count = len(driven)
    clean = sum(s.clean_at is not None and s.clean_at <= CHANGES for s in driven)
    good = sum(s.good for s in driven)
    return (
        f"{100 * clean / count:.1f} % clean within {CHANGES} changes; "
        f"{100 * good / count:.1f} % left alone and clean; "
        f"{sum(not s.inside for s in driven)} outside limits; "
        f"most often in one state: {max(s.most_alike for s in driven)}"
    )


if __name__ == "__main__":
    for what, figure in rows():
        sys.stdout.write(f"{what}: {figure}\n")
        sys.stdout.flush()
