"""Hulls and loads the tests share."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.hydrostatics.hull import Hull, Particulars, hard_chine
from service.hydrostatics.weights import Loading

FRESH = 1000.0


def prism(length: float, *half_section: tuple[float, float]) -> Hull:
    return Hull.from_stations([(0.0, half_section), (length, half_section)])


BOX = prism(6.0, (0.0, 0.0), (1.2, 0.0), (1.2, 1.2))
WEDGE = prism(4.0, (0.0, 0.0), (3.0, 3.0 * math.tan(math.radians(20.0))))
CHINE = 1.2 * math.tan(math.radians(20.0))
HARD_CHINE_PRISM = prism(6.5, (0.0, 0.0), (1.2, CHINE), (1.2, 1.6))
SEVEN_METRES = hard_chine(
    Particulars(
        waterline_length=6.3,
        chine_beam=2.1,
        depth=1.25,
        deadrise=math.radians(18.0),
        length_overall=7.0,
        sheer_beam=2.5,
    )
)


def _section(
    rng: np.random.Generator, beam: float, depth: float, points: int
) -> list[tuple[float, float]]:
    """A half section whose half breadths and heights both rise from the keel."""
    y = np.sort(rng.uniform(0.3, 1.0, points)) * beam / 2.0
    z = np.sort(rng.uniform(0.0, 0.7, points)) * depth
    y[0], z[0], z[-1] = 0.0, 0.0, depth
    return list(zip(y.tolist(), z.tolist(), strict=True))


def random_stations(rng: np.random.Generator) -> Hull:
    """Between 2 and 12 uneven stations, with one number of points or a mixture."""
    count = int(rng.integers(2, 13))
    length, beam, depth = rng.uniform(5.0, 9.0), rng.uniform(2.0, 2.8), rng.uniform(1.0, 1.6)
    x = np.concatenate(([0.0], np.sort(rng.uniform(0.05, 0.95, count - 2)), [1.0])) * length
    x = x + np.arange(count) * 0.02
    mixed = rng.random() < 0.5
    points = int(rng.integers(2, 6))
    fine = rng.uniform(0.3, 0.9)
    stations = []
    for at in x:
        narrowed = beam * (1.0 - fine * (at / x[-1]) ** 3)
        number = int(rng.integers(2, 6)) if mixed else points
        stations.append((float(at), _section(rng, narrowed, depth, number)))
    return Hull.from_stations(stations)


def random_particulars(rng: np.random.Generator) -> Hull:
    overall = rng.uniform(5.0, 9.0)
    beam = overall * rng.uniform(0.27, 0.36)
    return hard_chine(
        Particulars(
            waterline_length=overall * rng.uniform(0.86, 0.94),
            chine_beam=beam,
            depth=rng.uniform(1.1, 1.5),
            deadrise=math.radians(rng.uniform(5.0, 21.0)),
            length_overall=overall,
            sheer_beam=beam * rng.uniform(1.0, 1.25),
            draft=rng.uniform(0.3, 0.45),
        )
    )


def centroid(hull: Hull) -> NDArray[np.float64]:
    """Roughly the middle of the whole hull: where a load is likely to be near."""
    area = np.array([np.trapezoid(points[:, 0], points[:, 1]) for _, points in hull.stations])
    x = np.array([x for x, _ in hull.stations])
    return np.array([np.trapezoid(area * x, x) / np.trapezoid(area, x), 0.0, 0.0])


def random_load(rng: np.random.Generator, hull: Hull, **fixed: Any) -> Loading:
    """Trimmed and heeled: off the middle lengthways and athwartships."""
    depth = float(hull.sheer[:, 2].min())
    drawn = {
        "mass": FRESH * hull.volume * rng.uniform(0.15, 0.55),
        "x": centroid(hull)[0] + hull.length * rng.uniform(-0.08, 0.04),
        "y": hull.beam * rng.uniform(-0.06, 0.06),
        "z": depth * rng.uniform(0.35, 0.65),
    }
    return Loading(**(drawn | fixed))
