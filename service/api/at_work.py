"""A request that a job does: it is paid for, has no budget here, and is on behalf of its caller."""

from __future__ import annotations

from dataclasses import dataclass

from flask import request

from service.jobs.worker import Report
from service.outfits.keys import Principal

ENVIRON = "wavesetup.job"
"""Its place in the WSGI environment, where no header of a caller gets."""


@dataclass(frozen=True, slots=True)
class Working:
    """Who asked for it, and whom to tell how far it is."""

    principal: Principal | None
    report: Report


def working() -> Working | None:
    """What this request does as a job; ``None`` for one of a caller."""
    found: Working | None = request.environ.get(ENVIRON)
    return found
