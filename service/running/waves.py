"""The boat's wave pattern by linear theory: wavelengths, angles, and what depth does to them.

Pure functions of floats or arrays that broadcast (SI: m, s, radians). They return arrays, 0-d for
scalars. A speed below zero, a depth that is not above zero, or a value that is not finite is a
``ValueError``. Only lengths, angles and *relative* heights are given: an absolute height would
need the hull, and there is no checked source for one.

Sources: Kelvin's pattern as in NIST Digital Library of Mathematical Functions, 36.13; Havelock
1908, as given in US Army Corps of Engineers EM 1110-2-1100, Part II, chapter 7.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g

FloatArray = NDArray[np.float64]

KELVIN_HALF_ANGLE = float(np.arcsin(1 / 3))
"""Half angle of the wedge that holds the deep-water pattern, 19.47° (NIST DLMF 36.13)."""

CUSP_PROPAGATION_ANGLE = float(np.arcsin(1 / np.sqrt(3)))
"""Angle between the track and the way the cusp waves travel, 35°16' (Havelock 1908)."""

CUSP_CELERITY_RATIO = float(np.cos(CUSP_PROPAGATION_ANGLE))
"""Celerity of the cusp waves as a share of the boat's speed, 0.816 (Havelock 1908)."""

DEEP_BOUND = 0.7
"""Depth Froude number below which the pattern is that of deep water (EM 1110-2-1100)."""

CRITICAL = 1.0
"""Depth Froude number from which no steady transverse wave follows (EM 1110-2-1100)."""

_FULLY_DEEP = 0.2  # tanh(1/0.2²) is 1 in double precision: the depth is not felt at all


class Regime(StrEnum):
    """What the depth does to the pattern."""

    DEEP = "deep"
    TRANSCRITICAL = "transcritical"
    SHALLOW = "shallow"


@dataclass(frozen=True, slots=True)
class WavePattern:
    """The pattern at one speed and depth. ``None`` is unknown, or a wave that is not there.

    ``depth_froude`` and ``regime`` are ``None`` where the depth is unknown; the wavelengths (m)
    are then those of deep water. ``cusp_wavelength`` is given for the deep-water pattern only.
    """

    depth_froude: float | None
    regime: Regime | None
    transverse_wavelength: float | None
    cusp_wavelength: float | None


def depth_froude(speed: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Depth Froude number V/√(gh)."""
    return np.asarray(_speed(speed) / np.sqrt(g * _depth(depth)))


def transverse_wavelength(speed: ArrayLike, depth: ArrayLike | None = None) -> FloatArray:
    """Length (m) of the waves that follow the boat at its own speed.

    Deep water (no ``depth``): 2πV²/g. Finite depth: the root of V² = (g/k) tanh kh. From a depth
    Froude number of 1 on there is no such wave, and the value is NaN.
    """
    deep = 2 * np.pi * _speed(speed) ** 2 / g
    if depth is None:
        return np.asarray(deep)
    froude = depth_froude(speed, depth)
    exists = froude < CRITICAL
    # Solve F² x = tanh x for x = kh. F² x - tanh x is convex and not negative at x = 1/F², so
    # Newton's method from there falls steadily onto the root above zero. Close to critical it
    # only gains a factor of about 1.5 a step, hence the number of steps.
    squared = np.where(exists, np.maximum(froude, _FULLY_DEEP), 0.5) ** 2
    kh = 1 / squared
    for _ in range(60):
        tanh = np.tanh(kh)
        kh = kh - (squared * kh - tanh) / (squared - 1 + tanh**2)
    return np.asarray(np.where(exists, deep / np.tanh(kh), np.nan))


def cusp_wavelength(speed: ArrayLike) -> FloatArray:
    """Length (m) of the waves along the cusp line in deep water: ⅔ of the transverse one.

    The diverging waves there travel at ``CUSP_CELERITY_RATIO`` of the boat's speed, and length
    goes with celerity squared (Havelock 1908).
    """
    return np.asarray(transverse_wavelength(speed) * CUSP_CELERITY_RATIO**2)


def relative_cusp_height(
    distance: ArrayLike, reference_distance: ArrayLike, wavelength: float
) -> FloatArray:
    """Height of the cusp waves at a lateral ``distance``, over that at ``reference_distance``.

    (y/y₀)^(-1/3), deep water, without breaking (Havelock 1908). The law is asymptotic, so either
    distance below one ``wavelength`` (m) is a ``ValueError``.
    """
    y, y0 = np.asarray(distance, float), np.asarray(reference_distance, float)
    if not wavelength > 0 or not np.isfinite(wavelength):
        raise ValueError("wavelength must be above zero")
    for value in (y, y0):
        if not np.all(np.isfinite(value) & (value >= wavelength)):
            raise ValueError("the decay law holds from one wavelength outwards only")
    return np.asarray((y / y0) ** (-1 / 3))


def regime(froude: float) -> Regime:
    """The regime of one depth Froude number; a value below zero or NaN is a ``ValueError``."""
    if not froude >= 0:
        raise ValueError("a depth Froude number is not below zero")
    if froude < DEEP_BOUND:
        return Regime.DEEP
    return Regime.TRANSCRITICAL if froude < CRITICAL else Regime.SHALLOW


NO_DEPTH = 0.01
"""Metres below which there is no water to speak of: the number would only grow without bound."""


def froude_at(speed: float, depth: float | None) -> float | None:
    """Depth Froude number; ``None`` where the depth (m) is unknown, or is none at the shore."""
    return None if depth is None or depth < NO_DEPTH else float(depth_froude(speed, depth))


def wave_pattern(speed: float, depth: float | None = None) -> WavePattern:
    """The pattern at one speed (m/s) and depth (m), with ``None`` instead of NaN.

    With no depth there is none: the regime is shallow.
    """
    froude = froude_at(speed, depth)
    if depth is not None and depth < NO_DEPTH:
        return WavePattern(None, Regime.SHALLOW, None, None)
    kind = None if froude is None else regime(froude)
    return WavePattern(
        depth_froude=froude,
        regime=kind,
        transverse_wavelength=(
            None if kind is Regime.SHALLOW else float(transverse_wavelength(speed, depth))
        ),
        cusp_wavelength=(float(cusp_wavelength(speed)) if kind in (None, Regime.DEEP) else None),
    )


def _speed(speed: ArrayLike) -> FloatArray:
    value = np.asarray(speed, float)
    if not np.all(np.isfinite(value) & (value >= 0)):
        raise ValueError("speed must be finite and not below zero")
    return value


def _depth(depth: ArrayLike) -> FloatArray:
    value = np.asarray(depth, float)
    if not np.all(np.isfinite(value) & (value > 0)):
        raise ValueError("depth must be finite and above zero")
    return value
