"""The attitude in which the loaded boat comes to rest: sinkage, trim and heel together.

The state is ``(c, θ, φ)``: ``c`` the depth of the origin below the water (m), ``θ`` the trim, bow
up, ``φ`` the heel, starboard down (radians). The rotation order is that of
:mod:`service.hydrostatics.immersion`: trim is the elevation of the keel line, heel the rotation
about the keel line. Equilibrium is a minimum of the potential energy, reached from upright by
going downhill with Newton's method; gradient and Hessian are exact.

Free surfaces act by the virtual rise of the centre of gravity, GG₁ = ρ_t i / Δ, in the heel
equation only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import AREA, Energy, Pull, energy, immersed
from service.hydrostatics.weights import Loading

Array = NDArray[np.float64]

_ITERATIONS = 100
_HEEL_LIMIT = math.radians(90.0)
_TRIM_LIMIT = math.radians(60.0)
# The longest single step: of the draft as a part of the hull's length, and of the angles.
_STEP_SINKAGE, _STEP_TRIM, _STEP_HEEL = 0.05, 0.1, 0.2
# Metres. A last step shorter than this is taken without another look: it is exact to its square.
_CONVERGED = 1e-8
_NUDGE = 0.02
_TINY = 1e-300
# A centre of gravity this far out (m) is past any boat: keeps products within the floats.
_FAR = 1e6


class Status(StrEnum):
    """What becomes of the loaded boat. Only ``floats`` is safe."""

    FLOATS = "floats"
    LOLLS = "lolls"  # unstable upright, at rest at an angle
    SWAMPS = "swamps"  # at rest only with some of the sheer under water
    SINKS = "sinks"  # heavier than the water displaced up to the sheer
    CAPSIZES = "capsizes"  # no stable equilibrium within 90° of heel and 60° of trim


@dataclass(frozen=True, slots=True, eq=False)
class Floating:
    """The equilibrium found. Everything after ``status`` is ``None`` where there is none.

    ``sinkage`` (m): depth of the origin, the keel line at the transom, below the water. ``trim``,
    ``heel`` (radians). ``volume`` displaced (m³). ``centre_of_buoyancy`` in body axes (m).
    ``gm`` (m): slope of the righting-arm curve at this attitude, trim free and with free
    surfaces; upright it is the metacentric height. ``hessian`` (3, 3): of the energy over ρg in
    ``(c, θ, φ)``. ``density`` (kg/m³) of the water. ``iterations``: evaluations of the hull.
    ``upright``: at rest with the heel held at 0, from where it was sought; there also where the
    boat then capsizes.
    """

    status: Status
    density: float
    iterations: int
    sinkage: float | None = None
    trim: float | None = None
    heel: float | None = None
    volume: float | None = None
    centre_of_buoyancy: tuple[float, float, float] | None = None
    gm: float | None = None
    hessian: Array | None = None
    upright: Rest | None = None


@dataclass(frozen=True, slots=True)
class Rest:
    """A minimum of the energy: where, its derivatives there, and ``stiff``.

    ``stiff`` is the second derivative of the energy in heel with sinkage and trim free.
    """

    c: float
    trim: float
    heel: float
    at: Energy[float]
    stiff: float


def pull_of(loading: Loading, density: float) -> Pull:
    """The weight over ρg. Raises ValueError unless ``density`` is positive and finite."""
    if not (math.isfinite(density) and density > 0.0):
        raise ValueError("The density of the water must be more than 0.")
    x, y, z, rise = (
        min(max(value, -_FAR), _FAR) for value in (loading.x, loading.y, loading.z, loading.rise)
    )
    return Pull(loading.mass / density, x, y, z, rise)


def carries(hull: Hull, pull: Pull) -> bool:
    """Whether the hull displaces this much before the water is at its deck."""
    return pull.volume < hull.volume * (1.0 - 1e-9)


def upright_rest(hull: Hull, pull: Pull) -> tuple[Rest | None, int]:
    """At rest with the heel held at 0 and the weight on the centreline; evaluations used.

    None where she pitches beyond the limit of trim.
    """
    return _descend(hull, replace(pull, y=0.0), (*_afloat(hull, pull), 0.0), held=True)


def _afloat(hull: Hull, pull: Pull) -> tuple[float, float]:
    """Sinkage and trim near those at rest upright: one of Newton's steps from the level hull.

    The sums that the step wants are interpolated in those that the hull keeps.
    """
    volumes = hull.below[:, AREA, 0]
    over = int(np.searchsorted(volumes[1:-1], pull.volume)) + 1
    part = (pull.volume - volumes[over - 1]) / max(volumes[over] - volumes[over - 1], _TINY)
    sums = hull.below[over - 1] + part * (hull.below[over] - hull.below[over - 1])
    c = float(hull.levels[over - 1] + part * (hull.levels[over] - hull.levels[over - 1]))
    at = energy(sums.tolist(), pull, 0.0, c, 0.0, 1.0, 0.0, 1.0)
    pivots = _pivots(hull, at, held=True)
    if min(pivots) <= 0.0:
        return c, 0.0
    d_c, d_t, _ = _newton(at, pivots, held=True)
    cut = _cut(hull, d_c, d_t, 0.0)
    return c + cut * d_c, cut * d_t


def equilibrium(hull: Hull, loading: Loading, density: float) -> Floating:
    """The equilibrium of ``hull`` with ``loading`` in water of ``density`` (kg/m³).

    The one a boat let go upright comes to, going downhill in energy: upright where that is
    stable, at the angle of loll where not (to starboard unless the weight is to port). The deck
    is taken as watertight; ``swamps`` says that it is relied upon. Mirrored loadings get exactly
    mirrored answers. Raises ValueError for a density that is not positive.
    """
    pull = pull_of(loading, density)
    if not carries(hull, pull):
        return Floating(Status.SINKS, density, 0)
    upright, evaluations = upright_rest(hull, pull)
    if upright is None:
        return Floating(Status.CAPSIZES, density, evaluations)
    rest: Rest | None = upright
    if pull.y != 0.0 or upright.stiff <= 0.0:
        # Solved with the weight to starboard, then mirrored.
        start = (upright.c, upright.trim, _first_heel(pull, upright))
        rest, further = _descend(hull, replace(pull, y=-abs(pull.y)), start, held=False)
        evaluations += further
    if rest is None:
        return Floating(Status.CAPSIZES, density, evaluations, upright=upright)
    return _floating(hull, rest, pull, density, evaluations, upright)


def _first_heel(pull: Pull, upright: Rest) -> float:
    """Where to start from: Newton's first step, as upright heel is apart from the rest."""
    if upright.stiff <= 0.0:
        return _NUDGE
    heel = pull.volume * abs(pull.y) * math.cos(upright.trim) / upright.stiff
    return heel if heel <= _STEP_HEEL / 2.0 else 0.0


def _floating(
    hull: Hull, rest: Rest, pull: Pull, density: float, evaluations: int, upright: Rest
) -> Floating:
    at = rest.at
    side = -1.0 if pull.y > 0.0 else 1.0
    sin_f, cos_f = math.sin(rest.heel), math.cos(rest.heel)
    x, u, v = (moment / at.volume for moment in (at.moment_x, at.moment_u, at.moment_v))
    h_cf, h_tf = side * at.h_cf, side * at.h_tf
    hessian = np.array([[at.h_cc, at.h_ct, h_cf], [at.h_ct, at.h_tt, h_tf], [h_cf, h_tf, at.h_ff]])
    floating = Floating(
        status=Status.LOLLS if upright.stiff <= 0.0 else Status.FLOATS,
        density=density,
        iterations=evaluations,
        sinkage=rest.c,
        trim=rest.trim,
        heel=side * rest.heel,
        volume=at.volume,
        centre_of_buoyancy=(x, side * (u * cos_f + v * sin_f), v * cos_f - u * sin_f),
        gm=rest.stiff / (pull.volume * math.cos(rest.trim)),
        hessian=hessian,
        upright=upright,
    )
    if sheer_heights(hull, rest.c, rest.trim, rest.heel).min() < -1e-9:
        return replace(floating, status=Status.SWAMPS)
    return floating


def sheer_heights(hull: Hull, c: float, trim: float, heel: float) -> Array:
    """Height of the sheer above the water at each station, (2, n): port, then starboard (m)."""
    up, aside = math.cos(trim) * math.cos(heel), math.cos(trim) * math.sin(heel)
    sides = np.array([[math.sin(trim), aside, up], [math.sin(trim), -aside, up]])
    heights: Array = sides @ hull.sheer.T - c
    return heights


def response(
    floating: Floating,
    dmass: float,
    x: ArrayLike,
    y: ArrayLike,
    z: ArrayLike,
    dfree_surface: float = 0.0,
) -> tuple[Array, Array, Array]:
    """Change of sinkage (m), trim and heel (radians) for a small mass ``dmass`` (kg) at points.

    First order, by the implicit function theorem on the exact Hessian; for 1 kg it is the
    derivative. ``x, y, z`` (m) are scalars or arrays of one shape, as is the answer. To move a
    mass take the difference of two. ``dfree_surface`` (kg·m) comes with the mass.
    Raises ValueError where there is no equilibrium.
    """
    if floating.hessian is None or floating.trim is None or floating.heel is None:
        raise ValueError("There is no equilibrium to respond from.")
    sin_t, cos_t = math.sin(floating.trim), math.cos(floating.trim)
    sin_f, cos_f = math.sin(floating.heel), math.cos(floating.heel)
    x, y, z = np.broadcast_arrays(*(np.asarray(a, dtype=np.float64) for a in (x, y, z)))
    u, v = y * cos_f - z * sin_f, y * sin_f + z * cos_f
    push = np.stack(
        (
            np.full(x.shape, dmass),
            -dmass * (x * cos_t - v * sin_t),
            -dmass * u * cos_t + dfree_surface * sin_f,
        )
    )
    change = np.linalg.solve(floating.hessian, push.reshape(3, -1) / floating.density)
    dc, dtheta, dphi = change.reshape(push.shape)
    return dc, dtheta, dphi


def _descend(
    hull: Hull, pull: Pull, start: tuple[float, float, float], *, held: bool
) -> tuple[Rest | None, int]:
    """Newton's method downhill from ``start``, and how often the hull was evaluated.

    None when it leaves the limits of the angles, or finds no rest in a hundred evaluations, which
    only loads of a few grams with their centre outside the boat have been seen to need.

    A step is cut to the longest allowed and halved until the energy falls. Where the Hessian is
    not positive definite its eigenvalues are taken by their size, which keeps the step downhill;
    a saddle is left along its steepest way down. ``held`` keeps the heel.
    """
    c, trim, heel = start
    at = _evaluate(hull, pull, c, trim, heel)
    evaluations = 1
    # Below this a difference of energies is rounding.
    noise = 1e-13 * pull.volume * (abs(c) + hull.length + abs(pull.x) + abs(pull.z) + abs(pull.y))
    while evaluations < _ITERATIONS:
        pivots = _pivots(hull, at, held=held)
        convex = min(pivots) > 0.0
        d_c, d_t, d_f = (
            _newton(at, pivots, held=held) if convex else _saddle_free(hull, at, held=held)
        )
        fall = -(at.g_c * d_c + at.g_t * d_t + (0.0 if held else at.g_f * d_f))
        size = max(abs(d_c), abs(d_t) * hull.length, abs(d_f) * hull.length)
        if size < _CONVERGED or fall <= noise * 1e-10:
            if convex:
                if size < _CONVERGED:
                    c, trim, heel = c + d_c, trim + d_t, heel + d_f
                return Rest(c, trim, heel, at, _stiffness(at)), evaluations
            d_c, d_t, d_f = _way_down(hull, at, held=held)
            fall = 0.0
        cut = _cut(hull, d_c, d_t, d_f)
        while True:
            to = (c + cut * d_c, trim + cut * d_t, heel + cut * d_f)
            if abs(to[1]) > _TRIM_LIMIT or abs(to[2]) > _HEEL_LIMIT:
                return None, evaluations
            then = _evaluate(hull, pull, *to)
            evaluations += 1
            if then.value <= at.value - 1e-4 * cut * fall + noise or cut < 1e-8:
                break
            cut *= 0.5
        (c, trim, heel), at = to, then
    return None, evaluations


def _cut(hull: Hull, d_c: float, d_t: float, d_f: float) -> float:
    """The part of a step that is not longer than allowed."""
    return min(
        1.0,
        _STEP_SINKAGE * hull.length / (abs(d_c) + _TINY),
        _STEP_TRIM / (abs(d_t) + _TINY),
        _STEP_HEEL / (abs(d_f) + _TINY),
    )


def _evaluate(hull: Hull, pull: Pull, c: float, trim: float, heel: float) -> Energy[float]:
    turned = (c, math.sin(trim), math.cos(trim), math.sin(heel), math.cos(heel))
    return energy(immersed(hull, *turned).tolist(), pull, pull.y, *turned)


def _pivots(hull: Hull, at: Energy[float], *, held: bool) -> tuple[float, float, float]:
    """Pivots of the Hessian, all positive where it is positive definite beyond rounding."""
    least = 1e-9 * hull.length * hull.beam
    if at.h_cc <= least:
        return -1.0, -1.0, -1.0
    second = at.h_tt - at.h_ct * at.h_ct / at.h_cc
    if second <= least * hull.length**2 * 1e-3:
        return at.h_cc, -1.0, -1.0
    if held:
        return at.h_cc, second, 1.0
    cross = at.h_tf - at.h_ct * at.h_cf / at.h_cc
    return at.h_cc, second, at.h_ff - at.h_cf * at.h_cf / at.h_cc - cross * cross / second


def _newton(
    at: Energy[float], pivots: tuple[float, float, float], *, held: bool
) -> tuple[float, float, float]:
    first, second, third = pivots
    low = at.h_ct / first
    g_t = -at.g_t + low * at.g_c
    if held:
        d_t = g_t / second
        return (-at.g_c - at.h_ct * d_t) / first, d_t, 0.0
    cross = at.h_tf - low * at.h_cf
    d_f = (-at.g_f + at.h_cf / first * at.g_c - cross / second * g_t) / third
    d_t = (g_t - cross * d_f) / second
    return (-at.g_c - at.h_ct * d_t - at.h_cf * d_f) / first, d_t, d_f


def _stiffness(at: Energy[float]) -> float:
    second = at.h_tt - at.h_ct * at.h_ct / at.h_cc
    cross = at.h_tf - at.h_ct * at.h_cf / at.h_cc
    return at.h_ff - at.h_cf * at.h_cf / at.h_cc - cross * cross / second


def _modes(hull: Hull, at: Energy[float], *, held: bool) -> tuple[Array, Array, Array]:
    """Eigenvalues, eigenvectors (columns) and the scale of ``(c, θ, φ)`` they are taken in."""
    scale = np.array([1.0, 2.0 / hull.length, 2.0 / hull.beam])
    hessian = np.array(
        [[at.h_cc, at.h_ct, at.h_cf], [at.h_ct, at.h_tt, at.h_tf], [at.h_cf, at.h_tf, at.h_ff]]
    )
    free = 2 if held else 3
    values, vectors = np.linalg.eigh((hessian * scale[:, None] * scale)[:free, :free])
    return values, vectors, scale[:free]


def _saddle_free(hull: Hull, at: Energy[float], *, held: bool) -> tuple[float, float, float]:
    values, vectors, scale = _modes(hull, at, held=held)
    gradient = np.array([at.g_c, at.g_t, at.g_f])[: len(scale)] * scale
    sizes = np.maximum(np.abs(values), 1e-6 * hull.length * hull.beam)
    step = -scale * (vectors @ ((vectors.T @ gradient) / sizes))
    d_c, d_t, d_f = (*step.tolist(), 0.0)[:3]
    return d_c, d_t, d_f


def _way_down(hull: Hull, at: Energy[float], *, held: bool) -> tuple[float, float, float]:
    """A short step along the most negative curvature; to starboard, or else bow up."""
    _, vectors, scale = _modes(hull, at, held=held)
    step = _NUDGE * scale * vectors[:, 0]
    d_c, d_t, d_f = (*step.tolist(), 0.0)[:3]
    sign = -1.0 if (d_f, d_t) < (0.0, 0.0) else 1.0
    return sign * d_c, sign * d_t, sign * d_f
