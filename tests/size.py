"""How many generated cases a test takes."""

from __future__ import annotations

import os

SLOW = bool(os.environ.get("WAVESETUP_TEST_SLOW"))


def cases(few: int, many: int) -> int:
    """``few`` for every change; ``many``, before a release, with WAVESETUP_TEST_SLOW=1."""
    return many if SLOW else few
