"""GM and the height of the centre of gravity, with their standard errors.

Known masses are moved known distances and the heel is read. The classical reduction is that of
an inclining experiment, ``tan φ = w d / (W GM)`` with the heels on a straight line over the
moments; it takes the hull as wall-sided, which a V bottom is not. So the height of the centre
comes from the fit on the nonlinear hydrostatics (:mod:`.fit`), and the classical figure stands
beside it as a check.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.calibration.fit import Fit
from service.calibration.predict import broadened, light_boat
from service.calibration.survey import Condition, Heel, Unknown
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import upright
from service.hydrostatics.weights import combine

Array = NDArray[np.float64]

_STEP = 0.05


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number and its standard error."""

    value: float
    error: float


def from_pendulum(deflection: float, length: float) -> float:
    """The heel (radians) of a plumb line of ``length`` that moved ``deflection`` (m)."""
    if length <= 0.0:
        raise ValueError("The pendulum's length must be more than 0.")
    return math.atan2(deflection, length)


def classical(heels: Sequence[Heel], displacement: Estimate) -> Estimate | None:
    """GM (m) = w d / (W tan φ) from the slope of the straight line through the readings.

    Weighted least squares of ``tan φ`` over the moment with an intercept, which is the heel
    before anything is moved and the instrument's zero together. ``displacement`` in kg. The
    standard error is that of the readings as stated and of the displacement. ``None`` where
    fewer than two moments were read or moving weight to starboard does not heel her that way, by
    more than the readings may be off.
    """
    moments = np.array([heel.moment for heel in heels])
    if len(np.unique(moments)) < 2:
        return None
    angles = np.array([heel.angle for heel in heels])
    # tan grows by 1/cos² times the angle's error.
    weight = (np.cos(angles) ** 2 / [heel.sd for heel in heels]) ** 2
    middle = np.average(moments, weights=weight)
    spread = float(weight @ (moments - middle) ** 2)
    if spread == 0.0:
        return None
    slope, off = -float(weight @ ((moments - middle) * np.tan(angles))) / spread, spread**-0.5
    if slope <= off:
        return None
    gm = 1.0 / (displacement.value * slope)
    relative = math.hypot(off / slope, displacement.error / displacement.value)
    return Estimate(gm, gm * relative)


def metacentric_height(found: Fit, condition: Condition) -> Estimate | None:
    """GM (m), free surfaces counted, of the fitted boat upright with the condition's weights.

    The standard error is the fit's, carried over to first order. ``None`` where she does not
    float upright.
    """
    value = _gm(found.form, found.unknowns, condition)
    if value is None:
        return None
    slope = np.zeros(len(Unknown))
    for unknown, sd in enumerate(found.sd):
        step = np.zeros(len(Unknown))
        step[unknown] = _STEP * sd
        above, below = (
            _gm(found.form, found.unknowns + sign * step, condition) for sign in (1.0, -1.0)
        )
        if above is None or below is None:
            return None
        slope[unknown] = (above - below) / (2.0 * _STEP * sd)
    return Estimate(value, math.sqrt(slope @ found.covariance @ slope))


def displacement(found: Fit, condition: Condition) -> Estimate:
    """All that floats (kg): the fitted light boat and the condition's weights."""
    known = sum(weight.mass for weight in condition.weights)
    mass = float(found.unknowns[Unknown.MASS]) + known
    return Estimate(mass, float(found.sd[Unknown.MASS]))


def _gm(hull: Hull, unknowns: Array, condition: Condition) -> float | None:
    loading = combine([light_boat(unknowns), *condition.weights])
    form = broadened(hull, float(unknowns[Unknown.BREADTH]))
    found = upright(form, loading, condition.density)
    return None if found is None else found.gm_fluid
