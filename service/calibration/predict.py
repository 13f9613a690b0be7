"""What a boat would read, and how the readings change with each unknown, exactly.

The derivatives are those of the implicit function theorem on the exact Hessian of the equilibrium
(:func:`service.hydrostatics.equilibrium.response`); only that by the breadth takes a central
difference, of the hull's pressure at a held attitude.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.calibration.survey import Condition, Survey, Unknown
from service.hydrostatics.equilibrium import Floating, Status, equilibrium, pull_of, response
from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import energy, immersed
from service.hydrostatics.weights import Loading, Weight, combine

Array = NDArray[np.float64]

_STEP = 1e-4


class NotFloatingError(ValueError):
    """A boat like this would not float upright in one of the conditions read."""


@dataclass(frozen=True, slots=True)
class Attitude:
    """An equilibrium and its derivatives: (3, 7), of sinkage, trim and heel by the unknowns."""

    loading: Loading
    floating: Floating
    c: float
    trim: float
    heel: float
    by: Array


def broadened(hull: Hull, breadth: float) -> Hull:
    """The form with all breadths times ``1 + breadth``."""
    k = 1.0 + breadth
    return replace(
        hull,
        stations=tuple((x, points * (k, 1.0)) for x, points in hull.stations),
        sheer=hull.sheer * (1.0, k, 1.0),
        volume=hull.volume * k,
        beam=hull.beam * k,
        vertices=hull.vertices * np.array([1.0, 1.0, k, 1.0])[:, None, None],
        below=hull.below * np.array([k, k * k, k**3, k, k * k, k])[:, None],
    )


def corrected(hull: Hull, depth: float, breadth: float) -> Hull:
    """The form with its breadths times ``1 + breadth`` and its sheer raised by ``depth`` (m).

    Where the sheer comes down below other points of a section, as at the stem head, they are cut
    down to it.
    """
    k = 1.0 + breadth
    stations = []
    for x, points in hull.stations:
        sheer = float(points[-1, 1]) + depth
        heights = [*np.minimum(points[:-1, 1], sheer).tolist(), sheer]
        stations.append((x, list(zip((points[:, 0] * k).tolist(), heights, strict=True))))
    return replace(Hull.from_stations(stations), kept=hull.kept)


def light_boat(unknowns: Array) -> Weight:
    """The light boat of a vector of unknowns."""
    mass, x, y, z = unknowns[: Unknown.DEPTH].tolist()
    return Weight("light boat", mass, x, y, z)


def attitude(hull: Hull, unknowns: Array, condition: Condition, moment: float = 0.0) -> Attitude:
    """How the boat lies, ``moment`` (kg·m) of the weight moved to port.

    :class:`NotFloatingError` where she sinks, swamps, lolls or capsizes.
    """
    loading = combine([light_boat(unknowns), *condition.weights])
    loading = replace(loading, y=loading.y + moment / loading.mass)
    breadth = float(unknowns[Unknown.BREADTH])
    floating = equilibrium(broadened(hull, breadth), loading, condition.density)
    c, trim, heel = floating.sinkage, floating.trim, floating.heel
    if floating.status is not Status.FLOATS or c is None or trim is None or heel is None:
        raise NotFloatingError(f"With these weights the boat {floating.status.value}.")
    mass, x, y, z = unknowns[: Unknown.DEPTH]
    # A kilogram at the light centre, and the same with that centre a metre away each way.
    at = np.stack(response(floating, 1.0, *(np.array([x, y, z]) + _PLACES).T))
    by = np.zeros((3, len(Unknown)))
    by[:, Unknown.MASS] = at[:, 0]
    by[:, Unknown.X : Unknown.DEPTH] = mass * (at[:, 1:] - at[:, :1])
    by[:, Unknown.BREADTH] = _by_breadth(hull, breadth, floating, loading, (c, trim, heel))
    return Attitude(loading, floating, c, trim, heel, by)


_PLACES = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])


def _by_breadth(
    hull: Hull, breadth: float, floating: Floating, loading: Loading,
    at: tuple[float, float, float],
) -> Array:  # fmt: skip
    c, trim, heel = at
    turned = (c, math.sin(trim), math.cos(trim), math.sin(heel), math.cos(heel))
    pull = pull_of(loading, floating.density)

    def gradient(step: float) -> Array:
        sums = immersed(broadened(hull, breadth + step), *turned).tolist()
        found = energy(sums, pull, pull.y, *turned)
        return np.array([found.g_c, found.g_t, found.g_f])

    slope = (gradient(_STEP) - gradient(-_STEP)) / (2.0 * _STEP)
    assert floating.hessian is not None  # noqa: S101  # it floats
    by: Array = np.asarray(np.linalg.solve(floating.hessian, -slope), dtype=np.float64)
    return by


def predict(hull: Hull, unknowns: Array, survey: Survey) -> tuple[Array, Array]:
    """The readings (n,) of a boat with these ``unknowns``, and their derivatives (n, 7).

    :class:`NotFloatingError` where such a boat would not float in one of the conditions.
    """
    values: list[float] = []
    rows: list[Array] = []
    for condition in survey.conditions:
        moments = {heel.moment for heel in condition.heels} | (
            {0.0} if condition.freeboards else set()
        )
        at = {moment: attitude(hull, unknowns, condition, moment) for moment in moments}
        for board in condition.freeboards:
            value, row = _freeboard(hull, unknowns, at[0.0], board.x, board.side == "port")
            values.append(value)
            rows.append(row)
        for heel in condition.heels:
            lying = at[heel.moment]
            row = lying.by[2].copy()
            row[Unknown.ZERO] = 1.0
            values.append(lying.heel + float(unknowns[Unknown.ZERO]))
            rows.append(row)
    for direct in survey.direct:
        values.append(float(unknowns[direct.unknown]))
        rows.append(np.eye(len(Unknown))[direct.unknown])
    return np.array(values), np.array(rows).reshape(-1, len(Unknown))


def _freeboard(
    hull: Hull, unknowns: Array, lying: Attitude, x: float, port: bool
) -> tuple[float, Array]:  # fmt: skip
    half, height = (float(np.interp(x, hull.sheer[:, 0], hull.sheer[:, i])) for i in (1, 2))
    form = half if port else -half
    y = form * (1.0 + float(unknowns[Unknown.BREADTH]))
    z = height + float(unknowns[Unknown.DEPTH])
    sin_t, cos_t = math.sin(lying.trim), math.cos(lying.trim)
    sin_f, cos_f = math.sin(lying.heel), math.cos(lying.heel)
    v = y * sin_f + z * cos_f
    row: Array = (
        -lying.by[0]
        + (x * cos_t - v * sin_t) * lying.by[1]
        + cos_t * (y * cos_f - z * sin_f) * lying.by[2]
    )
    row[Unknown.DEPTH] += cos_t * cos_f
    row[Unknown.BREADTH] += cos_t * sin_f * form
    return sin_t * x + cos_t * v - lying.c, row
