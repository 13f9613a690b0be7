"""Half sections checked, made to correspond, and lofted to the integration sections.

A half section is an (m, 2) array of ``(y, z)`` in metres, keel to sheer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# No piece of the length integrated by one pair of Gauss points is longer than this part of it.
_PIECES = 60
_ROUNDING = 1e-9


def checked(
    stations: Sequence[tuple[float, Sequence[tuple[float, float]]]],
) -> tuple[tuple[float, Array], ...]:
    if len(stations) < 2:
        raise ValueError("A hull needs at least two stations.")
    checked: list[tuple[float, Array]] = []
    for number, (x, given) in enumerate(stations, start=1):
        where = f"Station {number} (x = {x})"
        points = np.array([(float(y), float(z)) for y, z in given], dtype=np.float64)
        if len(points) < 2:
            raise ValueError(f"{where} needs at least two points, keel to sheer.")
        if not (math.isfinite(x) and np.isfinite(points).all()):
            raise ValueError(f"{where} has a number that is not finite.")
        if checked and x <= checked[-1][0]:
            raise ValueError(f"{where} is not forward of the station before it.")
        if points[:, 0].min() < 0.0:
            raise ValueError(f"{where} has a negative half breadth.")
        if points[-1, 1] < points[:, 1].max():
            raise ValueError(f"{where}: the last point, the sheer, is not the highest.")
        if _crosses_itself(points):
            raise ValueError(f"{where}: the half section crosses itself.")
        if _area_inside(points) < -_ROUNDING:
            raise ValueError(f"{where}: the points do not run from the keel up to the sheer.")
        points.setflags(write=False)
        checked.append((float(x), points))
    return tuple(checked)


def _area_inside(points: Array) -> float:
    """Area between the half section, the deck and the centreline (m²)."""
    y, z = points.T
    return float(np.sum((y[1:] + y[:-1]) / 2.0 * np.diff(z)))


def _crosses_itself(points: Array) -> bool:
    """Whether two edges of the open polyline cross at a point inside both."""
    start, along = points[:-1], np.diff(points, axis=0)

    def side(p: Array) -> Array:
        """Of each point on each edge's line: (edges, points), the sign of the cross product."""
        away = p[None, :, :] - start[:, None, :]
        return np.sign(along[:, None, 0] * away[..., 1] - along[:, None, 1] * away[..., 0])

    apart = side(start) * side(points[1:]) < 0.0
    return bool(np.any(apart & apart.T))


def corresponding(aft: Array, forward: Array) -> tuple[Array, Array]:
    """The two half sections with as many points each, corresponding one to one."""
    if len(aft) == len(forward):
        return aft, forward
    arcs = _arc(aft), _arc(forward)
    common = np.union1d(*arcs)
    # Corners that coincide but for rounding are one corner.
    common = common[np.concatenate(([True], np.diff(common) > _ROUNDING))]
    common[-1] = 1.0
    resampled = [
        np.column_stack([np.interp(common, arc, column) for column in points.T])
        for arc, points in zip(arcs, (aft, forward), strict=True)
    ]
    return resampled[0], resampled[1]


def _arc(points: Array) -> Array:
    """Arc length from the keel over the whole arc length, 0 to 1."""
    lengths = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    if lengths[-1] == 0.0:  # a section that is one point, as at the stem head
        return np.linspace(0.0, 1.0, len(points))
    normalised: Array = lengths / lengths[-1]
    return normalised


def integration_sections(
    stations: Sequence[float], pairs: Sequence[tuple[Array, Array]]
) -> tuple[Array, Array, Array]:
    """``x`` (k,), weights (k,) and half sections (k, m, 2) at the Gauss points."""
    most = max(len(aft) for aft, _ in pairs)
    gauss = np.array([-1.0, 1.0]) / math.sqrt(3.0)
    longest = (stations[-1] - stations[0]) / _PIECES
    xs: list[Array] = []
    weights: list[Array] = []
    sections: list[Array] = []
    for start, end, (aft, forward) in zip(stations[:-1], stations[1:], pairs, strict=True):
        pieces = math.ceil((end - start) / longest * (1.0 - _ROUNDING))
        t = ((np.arange(pieces)[:, None] + (gauss + 1.0) / 2.0) / pieces).ravel()
        xs.append(start + t * (end - start))
        weights.append(np.full(len(t), (end - start) / (2.0 * pieces)))
        between = aft + t[:, None, None] * (forward - aft)
        # Fewer points than elsewhere: the sheer point repeated, whose edges have no length.
        filler = np.repeat(between[:, -1:], most - len(aft), axis=1)
        sections.append(np.concatenate((between, filler), axis=1))
    return np.concatenate(xs), np.concatenate(weights), np.concatenate(sections)


def mirrored(sections: Array) -> tuple[Array, Array]:
    """``y`` and ``z`` (p + 1, k) round the whole section, the first vertex again at the end."""
    half_y, half_z = sections[..., 0].T, sections[..., 1].T
    # One keel vertex is enough where it is on the centreline everywhere.
    port = 1 if not half_y[0].any() else 0
    y = np.concatenate((-half_y[::-1], half_y[port:], -half_y[-1:]))
    z = np.concatenate((half_z[::-1], half_z[port:], half_z[-1:]))
    return np.ascontiguousarray(y), np.ascontiguousarray(z)
