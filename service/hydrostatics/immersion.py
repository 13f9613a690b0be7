"""What is under water: exact integrals over the immersed part of the hull, and their energy.

The hull floats in the attitude ``(c, θ, φ)``: sinkage, trim, heel. "Up" in body axes is
``n = (sin θ, cos θ sin φ, cos θ cos φ)`` and a body point ``r`` lies ``d = c − n·r`` under water.
So trim is the elevation of the keel line, and heel the rotation about the keel line after it.

In a section ``u = y cos φ − z sin φ`` runs along the inclined waterline, to port, and
``v = y sin φ + z cos φ`` square to it; ``δ = d / cos θ`` is the depth within the section's plane.
By Green's theorem the immersed area is ``∮ δ du``, its moments ``∮ δ²/2 du`` and ``∮ u δ du``; the
piece of waterline that closes the clipped section has ``δ = 0`` and adds nothing, so only the
hull's own edges are clipped. ``∮ du`` without that piece is the breadth of the waterplane.

The deck is a straight line from sheer to sheer and watertight, so any angle can be integrated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from service.hydrostatics.hull import Hull

Array = NDArray[np.float64]
Real = TypeVar("Real", float, Array)

# Rows of the sums: waterplane ∫du, ∫u du, ∫u² du; immersed section ∫dA, ∫u dA, ∫δ dA.
BREADTH, BREADTH_U, BREADTH_UU, AREA, AREA_U, AREA_DEPTH = range(6)

# What they are of products summed over the edges: with r the run of an edge's wet part, m its
# middle, s and d sum and difference of the depths at its ends, these are in order
# r, rm, rs, rm², r³, rms, r²d, rs², rd². Exact along a straight edge: ∫u² du = rm² + r³/12.
_OF_PRODUCTS = np.zeros((6, 9))
_OF_PRODUCTS[BREADTH, 0] = _OF_PRODUCTS[BREADTH_U, 1] = 1.0
_OF_PRODUCTS[BREADTH_UU, [3, 4]] = 1.0, 1.0 / 12.0
_OF_PRODUCTS[AREA, 2] = 1.0 / 2.0
_OF_PRODUCTS[AREA_U, [5, 6]] = 1.0 / 2.0, 1.0 / 12.0
_OF_PRODUCTS[AREA_DEPTH, [7, 8]] = 1.0 / 8.0, 1.0 / 24.0

_TINY = 1e-300
_AT_ONCE = 100_000
"""Edges in all attitudes that are taken together: a large hull at many would take 200 MB."""


def immersed(hull: Hull, c: Real, sin_t: Real, cos_t: Real, sin_f: Real, cos_f: Real) -> Array:
    """Sums over the hull, (…, 6, 3): the rows named above, each integrated with dx, x dx, x² dx.

    ``c`` (m), and the sines and cosines of trim and heel: floats, or arrays (…) of one shape for
    many attitudes at once.
    """
    none = 0.0 * c
    turn = np.array([[none, none, cos_f, -sin_f], [c / cos_t, -sin_t / cos_t, -sin_f, -cos_f]])
    if turn.ndim > 2:
        turn = np.moveaxis(turn, (0, 1), (-2, -1))
    # Of the vertices (1, x, y, z): u and δ.
    turned = turn @ hull.vertices.reshape(4, -1)
    turned = turned.reshape(*turn.shape[:-1], *hull.vertices.shape[1:])
    u, depth = turned[..., 0, :, :], turned[..., 1, :, :]
    wet = np.maximum(depth, 0.0)
    np.abs(depth, out=depth)
    u0, u1 = u[..., :-1, :], u[..., 1:, :]
    e0, e1 = wet[..., :-1, :], wet[..., 1:, :]
    both, fall = e0 + e1, e1 - e0
    # The wet part of an edge: all of it, none, or up to the crossing; no branch needed.
    across = depth[..., :-1, :] + depth[..., 1:, :]
    across += _TINY
    run: Array = u1 - u0
    run *= both
    run /= across
    half = run * 0.5
    middle = u1 - half
    np.add(u0, half, out=middle, where=e0 > 0.0)

    # Written where they are summed; the order is that of _OF_PRODUCTS.
    rows = np.empty((*run.shape[:-2], 9, *run.shape[-2:]))
    at = [rows[..., row, :, :] for row in range(9)]
    at[0][...] = run
    np.multiply(run, middle, out=at[1])
    np.multiply(run, both, out=at[2])
    np.multiply(at[1], middle, out=at[3])
    square = run * run
    np.multiply(square, run, out=at[4])
    np.multiply(at[1], both, out=at[5])
    np.multiply(square, fall, out=at[6])
    np.multiply(at[2], both, out=at[7])
    fall *= fall
    np.multiply(fall, run, out=at[8])
    sums: Array = _OF_PRODUCTS @ (rows.reshape(*rows.shape[:-2], -1) @ hull.weights)
    return sums


def immersed_at_many(
    hull: Hull, c: Array, sin_t: Array, cos_t: Array, sin_f: Array, cos_f: Array
) -> Array:
    """:func:`immersed` at attitudes (n,), a few at a time: memory stays the same for any hull."""
    parts = min(-(-len(c) * len(hull.weights) // _AT_ONCE), len(c))
    if parts <= 1:
        return immersed(hull, c, sin_t, cos_t, sin_f, cos_f)
    split = [np.array_split(values, parts) for values in (c, sin_t, cos_t, sin_f, cos_f)]
    return np.concatenate([immersed(hull, *some) for some in zip(*split, strict=True)])


@dataclass(frozen=True, slots=True)
class Energy(Generic[Real]):
    """Potential energy over ρg at an attitude, with its gradient and Hessian in ``(c, θ, φ)``.

    ``Φ = ∫ d dV − V₀ (c − n·G) + V₀ GG₁ cos φ``; its minimum is a stable equilibrium. ``V₀`` is
    mass over density. The last term is the virtual rise of the centre of gravity by free
    surfaces, which acts in the heel equation only.
    """

    value: Real
    g_c: Real
    g_t: Real
    g_f: Real
    h_cc: Real
    h_ct: Real
    h_cf: Real
    h_tt: Real
    h_tf: Real
    h_ff: Real
    volume: Real
    moment_x: Real
    moment_u: Real
    moment_v: Real


@dataclass(frozen=True, slots=True)
class Pull:
    """The weight over ρg: ``volume`` V₀ (m³), its centre, ``rise`` GG₁ by free surfaces (m)."""

    volume: float
    x: float
    y: float
    z: float
    rise: float


def energy(
    sums: list[list[Real]],
    pull: Pull,
    y: Real,
    c: Real,
    sin_t: Real,
    cos_t: Real,
    sin_f: Real,
    cos_f: Real,
) -> Energy[Real]:
    """From :func:`immersed`; ``y`` (m) is the weight's, which a curve mirrors angle by angle."""
    (b0, b1, b2), (bu0, bu1, _), (buu, *_), (volume, moment_x, _), (moment_u, *_), (deep, *_) = sums
    v0 = pull.volume
    # v = (c − x sin θ)/cos θ − δ inside, so its moment needs only those of 1, x and δ.
    moment_v = (c * volume - sin_t * moment_x) / cos_t - deep
    g_u = y * cos_f - pull.z * sin_f
    g_v = y * sin_f + pull.z * cos_f
    off_x = moment_x - v0 * pull.x
    off_u = moment_u - v0 * g_u
    off_v = moment_v - v0 * g_v
    up = sin_t * off_x + cos_t * off_v
    # On the waterplane n_θ·r = (x − c sin θ)/cos θ and n_φ·r = u cos θ; dA = dx du / cos θ.
    shift = c * sin_t
    cube = cos_t * cos_t * cos_t
    risen = v0 * pull.rise
    return Energy(
        value=cos_t * deep + v0 * (sin_t * pull.x + cos_t * g_v - c) + risen * cos_f,
        g_c=volume - v0,
        g_t=sin_t * off_v - cos_t * off_x,
        g_f=-cos_t * off_u - risen * sin_f,
        h_cc=b0 / cos_t,
        h_ct=(shift * b0 - b1) / (cos_t * cos_t),
        h_cf=-bu0,
        h_tt=(b2 - 2.0 * shift * b1 + shift * shift * b0) / cube + up,
        h_tf=(bu1 - shift * bu0) / cos_t + sin_t * off_u,
        h_ff=cos_t * (buu + off_v) - risen * cos_f,
        volume=volume,
        moment_x=moment_x,
        moment_u=moment_u,
        moment_v=moment_v,
    )
