"""An independent solver: a triangle mesh, clipped by trimesh, brought to rest by scipy.

It shares no code with the service. The rotation order is that of the contract: the boat is
heeled by ``φ`` about her keel line (starboard down), then trimmed by ``θ`` about the athwartship
axis (bow up), then sunk by ``c``; the water is the plane z = 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.optimize import brentq, root

Array = NDArray[np.float64]
Stations = Sequence[tuple[float, Array]]


def _paired(aft: Array, forward: Array) -> tuple[Array, Array]:
    if len(aft) == len(forward):
        return aft, forward
    arcs = []
    for points in (aft, forward):
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        arcs.append(np.insert(np.cumsum(steps), 0, 0.0) / steps.sum())
    common = np.unique(np.round(np.concatenate(arcs), 12))
    resampled = [
        np.stack([np.interp(common, arc, points[:, k]) for k in (0, 1)], axis=1)
        for arc, points in zip(arcs, (aft, forward), strict=True)
    ]
    return resampled[0], resampled[1]


def _slab(x0: float, x1: float, aft: Array, forward: Array, pieces: int) -> list[Array]:
    """Triangles (…, 3, 3) of the port side and the half deck and bottom between two stations."""
    found = []
    for k in range(pieces):
        rings = []
        for t in (k / pieces, (k + 1) / pieces):
            half = aft + t * (forward - aft)
            x = np.full((len(half), 1), x0 + t * (x1 - x0))
            middle = half * (0.0, 1.0)  # the centreline at the height of each point
            rings.append((np.hstack((x, half)), np.hstack((x, middle))))
        (a, a_mid), (b, b_mid) = rings
        strip_a = np.vstack((a_mid[:1], a, a_mid[-1:]))
        strip_b = np.vstack((b_mid[:1], b, b_mid[-1:]))
        # Four triangles about its centre: either diagonal alone is off on a twisted face.
        corners = (strip_a[:-1], strip_a[1:], strip_b[1:], strip_b[:-1])
        flat = np.all((corners[0] == corners[1]) & (corners[2] == corners[3]), axis=1)
        corners = tuple(corner[~flat] for corner in corners)
        centre = np.mean(corners, axis=0)
        found += [np.stack((corners[i - 1], corners[i], centre), axis=1) for i in range(4)]
    return found


def _end(x: float, half: Array) -> Array:
    """Triangles of the port half of an end, outward normal forward."""
    on = np.column_stack((np.full(len(half), x), half))
    mid = on * (1.0, 0.0, 1.0)
    return np.vstack(
        (
            np.stack((mid[:-1], on[:-1], on[1:]), axis=1),
            np.stack((mid[:-1], on[1:], mid[1:]), axis=1),
        )
    )


def _closed(triangles: list[Array]) -> trimesh.Trimesh:
    port = np.concatenate(triangles)
    starboard = (port * (1.0, -1.0, 1.0))[:, ::-1]
    mesh = trimesh.Trimesh(**trimesh.triangles.to_kwargs(np.concatenate((port, starboard))))
    mesh.merge_vertices(digits_vertex=10)
    mesh.update_faces((mesh.faces != np.roll(mesh.faces, 1, axis=1)).all(axis=1))
    if not (mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0.0):
        raise ValueError("The stations do not make a closed mesh.")
    return mesh


def meshes_of(stations: Stations, pieces: int = 160) -> list[trimesh.Trimesh]:
    """The ruled loft as closed meshes, cut into about ``pieces`` along x.

    One mesh, or where neighbouring intervals use other points of their common station, several
    that meet at it.
    """
    each = -(-pieces // (len(stations) - 1))
    bodies: list[trimesh.Trimesh] = []
    skin: list[Array] = []
    ring: Array | None = None
    for (x0, aft), (x1, forward) in pairwise(stations):
        start, end = _paired(aft, forward)
        if ring is None or not np.array_equal(ring, start):
            if ring is not None:
                bodies.append(_closed([*skin, _end(x0, ring)]))
            skin = [_end(x0, start)[:, ::-1]]
        skin += _slab(x0, x1, start, end, each)
        ring = end
    assert ring is not None
    bodies.append(_closed([*skin, _end(stations[-1][0], ring)]))
    return bodies


def rotation(trim: float, heel: float) -> Array:
    """Body to earth: heel about the keel line, then trim about the athwartship axis."""
    ct, st, cf, sf = np.cos(trim), np.sin(trim), np.cos(heel), np.sin(heel)
    heeled = np.array([[1.0, 0.0, 0.0], [0.0, cf, -sf], [0.0, sf, cf]])
    trimmed = np.array([[ct, 0.0, -st], [0.0, 1.0, 0.0], [st, 0.0, ct]])
    turned: Array = trimmed @ heeled
    return turned


def under_water(bodies: list[trimesh.Trimesh], state: Array) -> tuple[float, Array]:
    """Volume under water and its first moment, in earth axes, at ``(c, θ, φ)``."""
    c, trim, heel = state
    turned = rotation(trim, heel).T
    volume, moment = 0.0, np.zeros(3)
    for body in bodies:
        placed = trimesh.Trimesh(body.vertices @ turned - (0.0, 0.0, c), body.faces, process=False)
        if placed.bounds[0, 2] >= 0.0:
            continue
        if placed.bounds[1, 2] > 0.0:
            placed = trimesh.intersections.slice_mesh_plane(
                placed, plane_normal=(0.0, 0.0, -1.0), plane_origin=(0.0, 0.0, 0.0), cap=True
            )
        volume += placed.volume
        moment += placed.volume * placed.center_mass
    return volume, moment


def solve(
    bodies: list[trimesh.Trimesh],
    volume: float,
    centre: tuple[float, float, float],
    start: Array | None = None,
) -> Array | None:
    """``(c, θ, φ)`` at rest with ``volume`` (m³) displaced; None where no root was found.

    From a level upright start unless one is given.
    """

    def residual(state: Array) -> Array:
        displaced, moment = under_water(bodies, state)
        weight = rotation(state[1], state[2]) @ np.array(centre) - (0.0, 0.0, state[0])
        return np.array([displaced - volume, *(moment - displaced * weight)[:2]])

    if start is None:
        heights = np.concatenate([body.bounds[:, 2] for body in bodies])
        level = brentq(
            lambda c: under_water(bodies, np.array([c, 0.0, 0.0]))[0] - volume,
            heights.min(),
            heights.max(),
            xtol=1e-3,
        )
        start = np.array([level, 0.0, 0.0])
    found = root(residual, start, method="hybr", options={"xtol": 1e-10})
    if not np.allclose(residual(found.x), 0.0, atol=1e-6 * volume):
        return None
    return np.asarray(found.x)
