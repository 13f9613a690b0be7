"""The hull form, and the sections over which it is integrated.

Axes: origin on the keel line at the transom, ``x`` forward, ``y`` to port, ``z`` up; metres.
"""

from __future__ import annotations

import hashlib
import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.hydrostatics.immersion import AREA, immersed_at_many
from service.hydrostatics.loft import checked, corresponding, integration_sections, mirrored

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Hull:
    """A hull symmetric about its centreline, given by half sections; see :meth:`from_stations`.

    Compared and hashed by its form, so that a cache knows one sent again; every array is
    read-only, so it may be shared by threads.

    ``stations``: per station its ``x`` and the half section as an (m, 2) array of ``(y, z)``,
    keel to sheer.
    ``sheer``: (n, 3), the port sheer line, one point ``(x, y, z)`` per station.
    ``volume``: m³ inside the hull with a straight deck from sheer to sheer.
    ``length``: between the end stations; ``beam``: the greatest breadth (m).

    For the integrator, over k integration sections with p vertices each, in order from the
    starboard sheer over the keel to the port sheer and, by the deck, back to the first:
    ``vertices`` (4, p + 1, k): 1, x, y, z, and ``weights`` (p·k, 3), the integration weights times
    1, x and x² for each edge.
    ``levels`` (l,): heights of the waterline on the upright hull, and ``below`` (l, 6, 3): what
    :func:`~service.hydrostatics.immersion.immersed` sums under each; volumes never fall.

    ``kept``: of a stored boat rather than out of a request; caches hold the two apart.
    ``digest``: of the stations, see :func:`form_digest`.
    """

    stations: tuple[tuple[float, Array], ...]
    sheer: Array
    volume: float
    length: float
    beam: float
    vertices: Array
    weights: Array
    levels: Array
    below: Array
    kept: bool = False
    digest: bytes = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Digest the form; a hull that is made from another by ``replace`` gets its own."""
        object.__setattr__(self, "digest", form_digest(self.stations))

    def __eq__(self, other: object) -> bool:
        return self.digest == other.digest if isinstance(other, Hull) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.digest)

    @property
    def x_min(self) -> float:
        return self.stations[0][0]

    @property
    def x_max(self) -> float:
        return self.stations[-1][0]

    @property
    def outline(self) -> Array:
        """The plan view, (n, 2): ``x`` and the greatest half breadth at each station."""
        return np.array([(x, points[:, 0].max()) for x, points in self.stations])

    @classmethod
    def from_stations(cls, stations: Sequence[tuple[float, Sequence[tuple[float, float]]]]) -> Hull:
        """The hull through ``stations``, each ``(x, [(y, z), …])``: a half section keel to sheer.

        Between stations it is the straight (ruled) loft between corresponding points. Two
        neighbours with the same number of points correspond point by point; otherwise both are
        first resampled at the union of their normalised arc lengths, which keeps every corner.
        A first point off the centreline means a flat bottom out to it.

        Integrated along ``x`` with two Gauss–Legendre points in each interval, intervals longer
        than a sixtieth of the length being divided first: exact for cubics, so exact for the
        volume and moments of a ruled hull while the waterline stays on the same faces.

        Raises ValueError, naming the station, for anything that is not such a hull.
        """
        lofted = checked(stations)
        pairs = [corresponding(aft, forward) for (_, aft), (_, forward) in pairwise(lofted)]
        x, weight, sections = integration_sections([x for x, _ in lofted], pairs)
        y, z = mirrored(sections)
        edges = y.shape[0] - 1
        low = float(min(points[:, 1].min() for _, points in lofted))
        high = float(max(points[:, 1].max() for _, points in lofted))
        hull = cls(
            stations=lofted,
            sheer=np.array([(x, *points[-1]) for x, points in lofted]),
            volume=0.0,
            length=lofted[-1][0] - lofted[0][0],
            beam=2.0 * float(max(points[:, 0].max() for _, points in lofted)),
            vertices=np.stack((np.ones_like(y), np.broadcast_to(x, y.shape), y, z)),
            weights=np.tile(np.column_stack((weight, weight * x, weight * x * x)), (edges, 1)),
            levels=np.linspace(low, high, 33),
            below=np.zeros((0, 6, 3)),
        )
        level, ones = hull.levels, np.ones_like(hull.levels)
        below = immersed_at_many(hull, level, 0.0 * level, ones, 0.0 * level, ones)
        volumes = np.maximum.accumulate(below[:, AREA, 0], out=below[:, AREA, 0])
        if volumes[-1] <= 1e-9 * hull.length * max(hull.beam, high - low) ** 2:
            raise ValueError("The stations enclose no volume.")
        object.__setattr__(hull, "volume", float(volumes[-1]))
        object.__setattr__(hull, "below", below)
        for name in ("sheer", "vertices", "weights", "levels", "below"):
            getattr(hull, name).setflags(write=False)
        return hull


def form_digest(stations: Sequence[tuple[float, Sequence[tuple[float, float]] | Array]]) -> bytes:
    """What tells one form from another: 16 bytes of BLAKE2 over the numbers of its stations."""
    found = hashlib.blake2b(digest_size=16)
    for x, points in stations:
        section = np.asarray(points, dtype=np.float64) + 0.0  # no negative zero
        found.update(struct.pack("<dq", x + 0.0, len(section)))
        found.update(section.tobytes())
    return found.digest()


@dataclass(frozen=True, slots=True)
class Particulars:
    """What is usually known of a hard-chine planing boat (m, radians). See :func:`hard_chine`.

    ``waterline_length``: from the transom to where the stem crosses the nominal waterline.
    ``chine_beam``: breadth over the chines aft. ``depth``: keel to sheer at the transom.
    ``deadrise``: of the bottom aft.

    Defaults where ``None``. ``length_overall``, transom to stem head: where the stem's parabola
    meets the sheer. ``sheer_beam``: 1.15 chine beams. ``draft``, of the nominal waterline: the
    height of the chine at the transom. ``forefoot``, where the keel starts to rise, as a part of
    the waterline length: such that the parabola ends at the stem head, within 0.4 to 0.95, or
    0.85 where ``length_overall`` is not given either. ``sheer_rise``, of the stem head over the
    sheer at the transom: 0.1 depths. ``bow_deadrise`` is that at the stem.
    """

    waterline_length: float
    chine_beam: float
    depth: float
    deadrise: float
    length_overall: float | None = None
    sheer_beam: float | None = None
    draft: float | None = None
    forefoot: float | None = None
    sheer_rise: float | None = None
    bow_deadrise: float = math.radians(50.0)


def hard_chine(p: Particulars) -> Hull:
    """A stated family of hard-chine forms, for inboard planing boats of about 5 to 9 m.

    The keel is straight to the forefoot, then a parabola that crosses the nominal waterline at
    ``waterline_length`` and goes on to the stem head; where it is still below the sheer at
    ``length_overall`` a plumb stem makes up the rest. Half breadths are constant over the after
    45 % of the length overall, then fair in to the stem, ``b (1 − ξ^n)`` with ξ from 0 to 1 and n
    2.5 at the chine, 3 at the sheer. The bottom is straight from keel to chine, its deadrise
    constant to the same place and rising with ξ² to ``bow_deadrise``. The sheer rises with the
    square of x. 21 stations of three points: keel, chine, sheer.

    An approximation of a real boat by its particulars; her stations, if known, are the exact
    form. Raises ValueError with the reason where the particulars do not make such a hull.
    """
    _check_ranges(p)
    waterline = p.waterline_length
    chine = p.chine_beam / 2.0
    sheer = 1.15 * chine if p.sheer_beam is None else p.sheer_beam / 2.0
    rise = 0.1 * p.depth if p.sheer_rise is None else p.sheer_rise
    chine_height = chine * math.tan(p.deadrise)
    draft = chine_height if p.draft is None else p.draft
    if chine_height >= p.depth:
        raise ValueError("depth is not more than the height of the chine (beam and deadrise).")
    if draft <= 0.0:
        raise ValueError("A bottom without deadrise needs a draft.")
    if draft >= min(p.depth, p.depth + rise):
        raise ValueError("draft must be less than the height of the sheer.")
    foot, overall = _stem(p, steep=math.sqrt((p.depth + rise) / draft))

    ends = [(0.0, foot), (foot, waterline), (waterline, overall)]
    parts = [10, 5, 5] if overall - waterline > 1e-6 * waterline else [10, 10, 0]
    pieces = [np.linspace(a, b, k, endpoint=False) for (a, b), k in zip(ends, parts, strict=True)]
    x = np.unique(np.concatenate((*pieces, [overall])))
    xi = np.clip((x / overall - 0.45) / 0.55, 0.0, 1.0)
    keel_z = draft * (np.maximum(x - foot, 0.0) / (waterline - foot)) ** 2
    sheer_y = sheer * (1.0 - xi**3)
    sheer_z = p.depth + rise * (x / overall) ** 2
    chine_y = chine * (1.0 - xi**2.5)
    chine_z = keel_z + chine_y * np.tan(p.deadrise + (p.bow_deadrise - p.deadrise) * xi**2)
    keel_z[-1] = chine_z[-1] = min(keel_z[-1], sheer_z[-1])
    if np.any(chine_z > sheer_z):
        raise ValueError(
            "The chine would come above the sheer forward: too much deadrise or too little depth."
        )
    return Hull.from_stations(
        [
            (float(x[i]), [(0.0, keel_z[i]), (chine_y[i], chine_z[i]), (sheer_y[i], sheer_z[i])])
            for i in range(len(x))
        ]
    )


def _check_ranges(p: Particulars) -> None:
    given = {name: getattr(p, name) for name in Particulars.__slots__}
    for name, value in given.items():
        if value is not None and not math.isfinite(value):
            raise ValueError(f"{name} is not finite.")
    for name in ("waterline_length", "chine_beam", "depth", "sheer_beam", "draft"):
        if given[name] is not None and given[name] <= 0.0:
            raise ValueError(f"{name} must be more than 0.")
    for name in ("deadrise", "bow_deadrise"):
        if not 0.0 <= given[name] <= math.radians(75.0):
            raise ValueError(f"{name} must be between 0 and 75 degrees.")


def _stem(p: Particulars, steep: float) -> tuple[float, float]:
    """``x`` of the forefoot and of the stem head.

    The parabola from the forefoot reaches the height of the stem head at ``steep`` times the
    distance at which it crosses the nominal waterline.
    """
    waterline = p.waterline_length
    if p.forefoot is not None:
        part = p.forefoot
    elif p.length_overall is None:
        part = 0.85
    else:
        part = (steep - p.length_overall / waterline) / (steep - 1.0)
        part = min(max(part, 0.4), 0.95)
    if not 0.0 <= part < 1.0:
        raise ValueError("forefoot must be at least 0 and less than 1 waterline length.")
    foot = part * waterline
    reach = foot + steep * (waterline - foot)
    overall = reach if p.length_overall is None else p.length_overall
    if overall < waterline:
        raise ValueError("length_overall is less than waterline_length.")
    if overall > reach * (1.0 + 1e-9):
        raise ValueError(
            "length_overall is more than the stem can reach: it would be higher than the sheer."
        )
    return foot, overall
