"""What a naval architect reads off: hydrostatics upright, righting arms, freeboards.

Conventions as in :mod:`service.hydrostatics.equilibrium`; trim is free everywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from service.caches import MB, split_cache
from service.hydrostatics.equilibrium import (
    Floating,
    Rest,
    carries,
    pull_of,
    sheer_heights,
    upright_rest,
)
from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import (
    BREADTH,
    BREADTH_UU,
    Energy,
    Pull,
    energy,
    immersed,
    immersed_at_many,
)
from service.hydrostatics.weights import Loading

Array = NDArray[np.float64]
Masked = np.ma.MaskedArray[tuple[int, ...], np.dtype[np.float64]]

_STEPS = 60
_STEP_SINKAGE, _STEP_TRIM = 0.05, 0.1
_TRIM_LIMIT = math.radians(60.0)
# Searching for the heel at which the sheer goes under: first at these angles.
_SEARCH = np.radians(np.arange(0.0, 91.0, 5.0))


@dataclass(frozen=True, slots=True)
class Hydrostatics:
    """Hydrostatics with the heel held at 0, trim free, the weight taken on the centreline.

    Heights in m above the keel line: ``kb`` of the centre of buoyancy, ``km`` of the transverse
    metacentre; KM = KB + BM, ``gm_solid`` = KM − KG, ``gm_fluid`` less the virtual rise by free
    surfaces; likewise ``bm_long`` and ``gm_long`` (solid). Drafts are depths of the keel line
    (z = 0) at its origin and at half length. ``moment_to_change_trim`` is MCT1cm = W GM_L/(100 L)
    in kg·m per cm of trim over the hull's length. ``lcf`` is x of the centre of flotation,
    ``kg_per_cm`` the added mass for 1 cm of sinkage.
    """

    displacement: float
    volume: float
    sinkage: float
    trim: float
    draft_origin: float
    draft_amidships: float
    kb: float
    lcb: float
    bm: float
    km: float
    gm_solid: float
    gm_fluid: float
    bm_long: float
    gm_long: float
    moment_to_change_trim: float
    waterplane_area: float
    lcf: float
    kg_per_cm: float


@dataclass(frozen=True, slots=True)
class Freeboard:
    """Heights of the sheer above the water (m), square to the water; negative is under it.

    ``bow`` and ``stern``: the lower side at the foremost and aftmost station; ``port`` and
    ``starboard``: at half length; ``least``: the lowest anywhere.
    """

    bow: float
    stern: float
    port: float
    starboard: float
    least: float


def upright(
    hull: Hull, loading: Loading, density: float, rest: Rest | None = None
) -> Hydrostatics | None:
    """Hydrostatics upright; None where the boat sinks or finds no rest upright.

    ``rest``: that of an equilibrium of this loading, where there is one, to save looking for it.
    Raises ValueError for a density that is not positive.
    """
    pull = pull_of(loading, density)
    if rest is None and carries(hull, pull):
        rest = upright_rest(hull, pull)[0]
    if rest is None:
        return None
    sin_t, cos_t = math.sin(rest.trim), math.cos(rest.trim)
    sums = immersed(hull, rest.c, sin_t, cos_t, 0.0, 1.0)
    b0, b1, b2 = sums[BREADTH].tolist()
    volume = rest.at.volume
    kb = rest.at.moment_v / volume
    lcb = rest.at.moment_x / volume
    # Second moment about the keel line's direction: what the equation of heel contains.
    bm = float(sums[BREADTH_UU, 0]) / volume
    bm_long = (b2 - b1 * b1 / b0) / cos_t**3 / volume
    gm_solid = kb + bm - pull.z
    gm_long = kb + bm_long - pull.z
    area = b0 / cos_t
    middle = (hull.x_min + hull.x_max) / 2.0
    return Hydrostatics(
        displacement=loading.mass,
        volume=volume,
        sinkage=rest.c,
        trim=rest.trim,
        draft_origin=rest.c,
        draft_amidships=rest.c - sin_t * middle,
        kb=kb,
        lcb=lcb,
        bm=bm,
        km=kb + bm,
        gm_solid=gm_solid,
        gm_fluid=gm_solid - pull.rise / cos_t,
        bm_long=bm_long,
        gm_long=gm_long,
        moment_to_change_trim=loading.mass * gm_long / (100.0 * hull.length),
        waterplane_area=area,
        lcf=b1 / b0,
        kg_per_cm=density * area / 100.0,
    )


def righting_arms(hull: Hull, loading: Loading, density: float, angles: ArrayLike) -> Masked:
    """Righting arm GZ (m) at each heel of ``angles`` (radians, at most π either way), trim free.

    A masked array of the angles' shape, masked where the hull cannot float; ``.tolist()`` writes
    None there. GZ is the horizontal lever between weight and buoyancy less the virtual rise by
    free surfaces, positive where it turns the boat to port: righting for a heel to starboard.
    A weight off the centreline counts, so the curve crosses zero at the boat's own heel.
    Raises ValueError for angles outside the range or a density that is not positive.
    """
    heel = np.asarray(angles, dtype=np.float64)
    if not np.all(np.abs(heel) <= math.pi):
        raise ValueError("Angles of heel must be between -180 and 180 degrees.")
    solved = _at_heels(hull, pull_of(loading, density), heel.ravel())
    gz = np.full(heel.shape, np.nan) if solved is None else solved.gz.reshape(heel.shape)
    found = np.isfinite(gz)
    return np.ma.MaskedArray(np.where(found, gz, 0.0), mask=~found)


def sheer_immersion_angle(
    hull: Hull, loading: Loading, density: float, side: Literal["port", "starboard"] = "starboard"
) -> float | None:
    """The heel to ``side`` (radians, positive) at which the sheer goes under, trim free.

    0 where it is under already upright; None where the boat cannot float, or it stays dry to 90°.
    A heel at which she finds no rest in trim counts as under.
    """
    pull = pull_of(loading, density)
    to = 1.0 if side == "starboard" else -1.0

    def least(heels: Array) -> list[float] | None:
        solved = _at_heels(hull, pull, to * heels)
        if solved is None:
            return None
        return [
            -1.0 if math.isnan(gz) else float(sheer_heights(hull, c, trim, heel).min())
            for c, trim, heel, gz in zip(solved.c, solved.trim, heels, solved.gz, strict=True)
        ]

    heights = least(_SEARCH)
    if heights is None or min(heights) > 0.0:
        return None
    first = next(k for k, height in enumerate(heights) if height <= 0.0)
    if first == 0:
        return 0.0
    return float(
        brentq(
            lambda angle: (least(np.array([angle])) or [-1.0])[0],
            _SEARCH[first - 1],
            _SEARCH[first],
            xtol=1e-9,
        )
    )


def freeboards(hull: Hull, floating: Floating) -> Freeboard:
    """Freeboards of the floating boat. Raises ValueError where there is no equilibrium."""
    port, starboard = _heights(hull, floating)
    x = hull.sheer[:, 0]
    middle = (hull.x_min + hull.x_max) / 2.0
    return Freeboard(
        bow=float(min(port[-1], starboard[-1])),
        stern=float(min(port[0], starboard[0])),
        port=float(np.interp(middle, x, port)),
        starboard=float(np.interp(middle, x, starboard)),
        least=float(min(port.min(), starboard.min())),
    )


def draft(hull: Hull, floating: Floating) -> float:
    """How far (m) the lowest point of the hull lies under water, whatever the trim and heel.

    Raises ValueError where there is no equilibrium.
    """
    c, trim, heel = _rest(floating)
    x, y, z = _points(hull)
    upright = math.sin(trim) * x + math.cos(trim) * math.cos(heel) * z - c
    return float(-(upright - math.cos(trim) * abs(math.sin(heel)) * y).min())


@split_cache(
    kept=8 * MB, inline=2 * MB, is_kept=lambda hull: hull.kept, key=lambda hull: hull.digest
)
def _points(hull: Hull) -> Array:
    """``x, y, z`` (3, n) of the points of all stations."""
    return np.array([(x, y, z) for x, section in hull.stations for y, z in section]).T


def freeboard_at(
    hull: Hull, floating: Floating, x: float, side: Literal["port", "starboard"]
) -> float:
    """Height of the sheer above the water at ``x`` (m) on one side.

    Raises ValueError outside the hull's length or where there is no equilibrium.
    """
    if not hull.x_min <= x <= hull.x_max:
        raise ValueError("x is outside the hull's length.")
    port, starboard = _heights(hull, floating)
    return float(np.interp(x, hull.sheer[:, 0], port if side == "port" else starboard))


def _heights(hull: Hull, floating: Floating) -> tuple[Array, Array]:
    port, starboard = sheer_heights(hull, *_rest(floating))
    return port, starboard


def _rest(floating: Floating) -> tuple[float, float, float]:
    """Sinkage, trim and heel at rest."""
    if floating.sinkage is None or floating.trim is None or floating.heel is None:
        raise ValueError("There is no equilibrium to measure freeboards at.")
    return floating.sinkage, floating.trim, floating.heel


@dataclass(frozen=True, slots=True)
class _Heeled:
    """Per angle: sinkage, trim, and GZ, which is NaN where no rest was found."""

    c: Array
    trim: Array
    gz: Array


def _at_heels(hull: Hull, pull: Pull, heel: Array) -> _Heeled | None:
    """At rest with each heel held: Newton's method on (c, θ) for all angles in one array."""
    rest = upright_rest(hull, pull)[0] if carries(hull, pull) else None
    if rest is None:
        return None
    side = np.where(heel < 0.0, -1.0, 1.0)
    # All are solved heeled to starboard, the weight mirrored: exactly odd for a weight amidships.
    solved = _held(hull, pull, rest, np.abs(heel), side * pull.y)
    return replace(solved, gz=side * solved.gz)


def _held(hull: Hull, pull: Pull, rest: Rest, heel: Array, y: Array) -> _Heeled:
    sin_f, cos_f = np.sin(heel), np.cos(heel)

    def at(c: Array, trim: Array) -> Energy[Array]:
        turned = (c, np.sin(trim), np.cos(trim), sin_f, cos_f)
        sums = immersed_at_many(hull, *turned)
        return energy(list(np.moveaxis(sums, 0, -1)), pull, y, *turned)

    c = np.full(heel.shape, rest.c)
    trim = np.full(heel.shape, rest.trim)
    cut = np.ones(heel.shape)
    now = at(c, trim)
    noise = 1e-13 * pull.volume * (hull.length + abs(pull.x) + abs(pull.z) + np.abs(y))
    floor = 1e-9 * hull.length * hull.beam
    for _ in range(_STEPS):
        # Where the Hessian is not positive definite its pivots are taken by their size.
        first = np.maximum(now.h_cc, floor)
        low = now.h_ct / first
        second = np.maximum(np.abs(now.h_tt - low * now.h_ct), floor * hull.length**2 * 1e-3)
        d_trim = (low * now.g_c - now.g_t) / second
        d_c = -now.g_c / first - low * d_trim
        fall = -(now.g_c * d_c + now.g_t * d_trim)
        done = np.maximum(np.abs(d_c), np.abs(d_trim) * hull.length) < 1e-11
        done |= fall <= noise * 1e-10
        if done.all():
            break
        limit = np.maximum(np.abs(d_c) / (_STEP_SINKAGE * hull.length), np.abs(d_trim) / _STEP_TRIM)
        part = np.where(done, 0.0, cut / np.maximum(limit, 1.0))
        to_c, to_trim = c + part * d_c, trim + part * d_trim
        to_trim = np.clip(to_trim, -_TRIM_LIMIT, _TRIM_LIMIT)
        then = at(to_c, to_trim)
        better = then.value <= now.value - 1e-4 * part * fall + noise
        cut = np.where(better, np.minimum(cut * 4.0, 1.0), cut * 0.5)
        if not better.all():
            to_c, to_trim = np.where(better, to_c, c), np.where(better, to_trim, trim)
            then = at(to_c, to_trim)
        c, trim, now = to_c, to_trim, then
    gz = np.where(done, now.g_f / (pull.volume * np.cos(trim)), np.nan)
    gz[(heel == 0.0) & (y == 0.0)] = 0.0
    return _Heeled(c, trim, gz)
