"""The boat that fits what was read: nonlinear least squares with a prior, and its covariance.

The most probable unknowns given the readings (normal errors of the stated sizes) and the
particulars (:class:`.survey.Particulars`); the covariance is that of the problem made linear
there. Every unknown is always part of the problem, so what the readings cannot tell apart stays
as uncertain as it was, and its uncertainty is in that of everything else: a sheer that may be a
centimetre off is a light mass that may be eighty kilograms off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import chdtri, ndtri

from service.boats.model import Light
from service.calibration.predict import NotFloatingError, corrected, predict
from service.calibration.survey import Particulars, Survey, Unknown
from service.hydrostatics.hull import Hull

Array = NDArray[np.float64]

CONFIDENCE = 0.95
WIDTH = float(ndtri(0.5 + CONFIDENCE / 2.0))
"""Half-width of the 95 % interval in standard deviations."""

IDENTIFIED = 0.5
"""An unknown counts as found by the readings where they at least halve its variance."""

FARTHEST = 5.0
"""Further than this many standard deviations from the particulars it is a slip, not this boat."""

_DISAGREE = 0.99
_CHECKABLE = 1e-4


class CalibrationError(ValueError):
    """The readings and the boat cannot be brought together; the message says why."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What came out; arrays over the unknowns (7,) or the readings (n,), SI and radians.

    ``covariance`` (7, 7) of the errors of ``unknowns``. ``expected`` are the readings that the
    particulars foretold, ``fitted`` those of the boat found. ``studentised`` is each residual over
    its own standard deviation, NaN where the fit follows the reading whatever it says. ``suspect``
    is the number of the reading that does not fit the others, if one does not. ``scatter``:
    1, or the factor by which the bands were widened since readings and particulars disagree by
    more than their stated errors.
    """

    form: Hull
    survey: Survey
    before: Array
    before_sd: Array
    unknowns: Array
    covariance: Array
    expected: Array
    fitted: Array
    studentised: Array
    suspect: int | None
    scatter: float

    @property
    def sd(self) -> Array:
        return np.sqrt(np.diag(self.covariance))

    @property
    def residuals(self) -> Array:
        """Read less fitted."""
        return self.survey.values - self.fitted

    def identified(self, unknown: Unknown) -> bool:
        """Whether the readings told more about it than the particulars had."""
        return bool(self.sd[unknown] ** 2 <= IDENTIFIED * self.before_sd[unknown] ** 2)

    @property
    def light(self) -> Light:
        return Light(*self.unknowns[: Unknown.DEPTH].tolist())

    @property
    def hull(self) -> Hull:
        """The form as corrected: mass and form were fitted together and belong together."""
        depth, breadth = self.unknowns[[Unknown.DEPTH, Unknown.BREADTH]].tolist()
        return self.form if depth == breadth == 0.0 else corrected(self.form, depth, breadth)


def fit(hull: Hull, light: Light, survey: Survey, known: Particulars | None = None) -> Fit:
    """The boat of form ``hull`` and particulars ``light`` that fits ``survey``.

    :class:`CalibrationError` where no boat near the particulars floats with the weights named, or
    the readings ask for one too far from them.
    """
    before = np.array([light.mass, light.x, light.y, light.z, 0.0, 0.0, 0.0])
    spread = (known or Particulars()).sd(hull, light.mass)
    values, sd = survey.values, survey.sd
    last: list[tuple[Array, Array, Array]] = []

    def at(q: Array) -> tuple[Array, Array]:
        """Readings and derivatives by ``q``, the unknowns in prior standard deviations."""
        if not last or not np.array_equal(last[0][0], q):
            last[:] = [(q.copy(), *predict(hull, before + spread * q, survey))]
        return last[0][1], last[0][2] * spread

    def cost(q: Array) -> Array:
        return np.concatenate(((at(q)[0] - values) / sd, q))

    def slope(q: Array) -> Array:
        return np.vstack((at(q)[1] / sd[:, None], np.eye(len(Unknown))))

    try:
        expected = at(np.zeros(len(Unknown)))[0]
        found = least_squares(cost, np.zeros(len(Unknown)), slope, xtol=1e-9)
    except NotFloatingError as error:
        raise CalibrationError(str(error)) from error
    if np.abs(found.x).max() > FARTHEST:
        raise CalibrationError(
            "These readings are of another boat, or one of them is a slip: to fit them her "
            f"particulars would have to be wrong by more than {FARTHEST:.0f} standard deviations."
        )
    fitted, by = at(found.x)
    information = np.eye(len(Unknown)) + (by.T / sd**2) @ by
    covariance: Array = np.asarray(np.linalg.inv(information), dtype=np.float64)
    studentised = _studentised(values - fitted, by, covariance, sd)
    total = 2.0 * found.cost
    scatter = 1.0
    if len(values) and total > chdtri(len(values), 1.0 - _DISAGREE):
        scatter = float(np.sqrt(total / len(values)))
    return Fit(
        form=hull,
        survey=survey,
        before=before,
        before_sd=spread,
        unknowns=before + spread * found.x,
        covariance=covariance * np.outer(spread, spread) * scatter**2,
        expected=expected,
        fitted=fitted,
        studentised=studentised,
        suspect=_suspect(studentised),
        scatter=scatter,
    )


def _studentised(residuals: Array, by: Array, covariance: Array, sd: Array) -> Array:
    """Residuals over their standard deviations: the residuals' covariance is R − J P Jᵀ."""
    left = sd**2 - np.einsum("ij,jk,ik->i", by, covariance, by)
    checkable = left > _CHECKABLE * sd**2
    return np.where(checkable, residuals / np.sqrt(np.where(checkable, left, 1.0)), np.nan)


def _suspect(studentised: Array) -> int | None:
    """The largest, where so large a one comes in fewer than 5 % of surveys (Bonferroni)."""
    sizes = np.nan_to_num(np.abs(studentised))
    if len(sizes) < 3:  # with two readings there is no saying which
        return None
    worst = int(np.argmax(sizes))
    limit = ndtri(1.0 - (1.0 - CONFIDENCE) / (2.0 * len(sizes)))
    return worst if sizes[worst] > limit else None
