"""The running trim as an operator reads it: whole degrees, a band, and one plain sentence.

A rough estimate that shows direction and order. It never decides anything. One trim measured on
the water at a stated load and speed shifts it onto the real boat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from service.running.planing import BAND, PlaningCase, RunningTrim, running_trim

SAME_SPEED = 0.10
SAME_MASS = 0.15
SAME_LCG = 0.10
"""How near a measurement must be to be used: shares of its own speed and mass, and the shift of
the centre of gravity in beams. This project's own choice."""

CLEAR_CHANGE = math.radians(0.1)
"""Below this the method is not asked for a direction. This project's own choice."""


class Direction(StrEnum):
    """Which way the running trim goes."""

    BOW_UP = "bow up"
    BOW_DOWN = "bow down"
    NO_CLEAR_CHANGE = "no clear change"


@dataclass(frozen=True, slots=True)
class Measured:
    """A running trim read on the water (radians, bow up positive), and the case it was read in."""

    trim: float
    case: PlaningCase


@dataclass(frozen=True, slots=True)
class TrimEstimate:
    """What is shown. ``degrees`` (bow up positive) is whole, ``None`` where nothing was found.

    ``band`` is the half-width in whole degrees, never below 2. ``valid`` is the method's own
    validity, which a measurement does not mend. ``correction`` (radians) is what the measurement
    added, ``None`` where none was used. ``reasons`` are plain sentences, the weightiest first.
    """

    degrees: int | None
    band: int
    valid: bool
    correction: float | None
    reasons: tuple[str, ...]
    text: str


def estimate(case: PlaningCase, measured: Measured | None = None) -> TrimEstimate:
    """The running trim of ``case``, shifted by what ``measured`` differs from the method.

    A measurement at another load or speed is left out, and ``reasons`` says so. ``ValueError``
    for a measured trim that is not within 45 degrees of level.
    """
    found = running_trim(case)
    correction, refusal = (None, None) if measured is None else _correction(case, measured)
    reasons = found.reasons if refusal is None else (*found.reasons, refusal)
    band = math.ceil(math.degrees(found.band if correction is None else BAND) - 1e-9)
    if found.trim is None:
        return TrimEstimate(None, band, False, None, reasons, f"Running trim: {reasons[0]}")
    degrees = round(math.degrees(found.trim + (correction or 0.0)))
    return TrimEstimate(
        degrees=degrees,
        band=band,
        valid=found.valid,
        correction=correction,
        reasons=reasons,
        text=_text(degrees, band, found, corrected=correction is not None),
    )


def direction(before: PlaningCase, after: PlaningCase) -> Direction | None:
    """Which way the trim goes from one case to another; ``None`` where either has no trim."""
    first, second = running_trim(before).trim, running_trim(after).trim
    if first is None or second is None:
        return None
    if abs(second - first) < CLEAR_CHANGE:
        return Direction.NO_CLEAR_CHANGE
    return Direction.BOW_UP if second > first else Direction.BOW_DOWN


def _correction(case: PlaningCase, measured: Measured) -> tuple[float | None, str | None]:
    """What to add to the method's trim, or the sentence that says why nothing is added."""
    if not abs(measured.trim) <= math.pi / 4:
        raise ValueError("a measured trim is within 45 degrees of level")
    at = measured.case
    near = (
        abs(case.speed - at.speed) <= SAME_SPEED * at.speed
        and abs(case.mass - at.mass) <= SAME_MASS * at.mass
        and abs(case.lcg - at.lcg) <= SAME_LCG * at.beam
    )
    if not near:
        return None, "The measured trim was read at another load or speed, so it is not used."
    method = running_trim(at).trim
    if method is None:
        return None, "The method finds no trim where the measurement was made, so it is not used."
    return measured.trim - method, None


def _text(degrees: int, band: int, found: RunningTrim, *, corrected: bool) -> str:
    where = f"{abs(degrees)}° bow {'up' if degrees > 0 else 'down'}" if degrees else "level"
    kind = "corrected by one measured trim" if corrected else "a rough estimate"
    sentence = f"About {where}, give or take {band}°: {kind}."
    return sentence if found.valid else f"{sentence} {found.reasons[0]}"
