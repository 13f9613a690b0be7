"""The floating boat near one attitude, as a linear function of weights at seats and in tanks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from service.advice.balance.cost import HEEL_AS_METRES, Array, Task
from service.advice.weighing import Attitude
from service.hydrostatics.equilibrium import Floating, response, sheer_heights
from service.hydrostatics.hull import Hull


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """Outputs (m): lean and trim (degrees), then what is left to each limit (m, see ``broken``).

    ``base`` (m): at the reference with ``percents`` in the tanks;
    ``spot`` (k, m): by 1 kg at each of the task's spots; ``tank`` (tanks, m): by one percent more
    in each; ``surface`` (tanks, m): by the free surface that a part-filled one has, ``slack``
    (tanks): 1 where the reference has it.
    """

    base: Array
    percents: Array
    spot: Array
    tank: Array
    surface: Array
    slack: Array

    @classmethod
    def at(cls, task: Task, percents: Array, attitude: Attitude) -> Linear:
        """By the implicit function theorem. ``attitude`` must be one in which the boat lies."""
        floating = attitude.floating
        boat, wanted = task.cargo.boat, task.wanted
        surfaces = (
            (t.x, t.y, surface_height(t.capacity, t.length, t.width, t.z, percent / 100.0))
            for t, percent in zip(boat.tanks, percents, strict=True)
        )
        x, y, z = np.array([*task.spots.points.tolist(), *surfaces]).T
        moved = np.stack(response(floating, 1.0, x, y, z), axis=1)
        height, slope = _sheer(boat.hull, floating)
        stations = len(height) // 2
        rows, slopes = [height - wanted.least_freeboard], [slope]
        if wanted.least_bow is not None:
            ends = [stations - 1, 2 * stations - 1]
            rows.append(height[ends] - wanted.least_bow)
            slopes.append(slope[ends])
        lean = attitude.lean or 0.0
        per_degree = np.array([0.0, 0.0, -HEEL_AS_METRES * math.degrees(1.0)])
        if wanted.most_lean is not None:
            most = wanted.most_lean
            rows.append(HEEL_AS_METRES * np.array([most - lean, most + lean]))
            slopes.append(np.stack((-per_degree, per_degree)))
        degree = math.degrees(1.0)
        turn = np.array([[0.0, 0.0, -degree], [0.0, degree, 0.0]])
        base = np.concatenate(([lean, attitude.trim or 0.0], *rows))
        to_outputs = np.concatenate((turn, *slopes)).T
        outputs = moved @ to_outputs
        spots = len(task.spots.points)
        tank = outputs[spots:] * task.kg[:, None]
        free = np.array([task.water * t.length * t.width**3 / 12.0 for t in boat.tanks])
        one = np.stack(response(floating, 0.0, 0.0, 0.0, 0.0, 1.0))
        surface = free[:, None] * (one @ to_outputs)
        slack = ((percents > 0.0) & (percents < 100.0)).astype(np.float64)
        return cls(base, percents, outputs[:spots], tank, surface, slack)


def surface_height(capacity: float, length: float, width: float, z: float, fill: float) -> float:
    """Height at which the next litre goes in: the water's surface, where its area is known."""
    area = length * width
    return z if area == 0.0 else z + capacity / area * (min(fill, 1.0) - 0.5)


def _sheer(hull: Hull, floating: Floating) -> tuple[Array, Array]:
    """Heights above the water (k) of some points of the sheer, and their slopes (k, 3).

    The ends, the middle and the lowest of both sides: port first, then the same to starboard.
    """
    c, trim, heel = floating.sinkage or 0.0, floating.trim or 0.0, floating.heel or 0.0
    heights = sheer_heights(hull, c, trim, heel)
    last = heights.shape[1] - 1
    lowest = heights.argmin(axis=1).tolist()
    chosen = sorted({0, last // 2, last, *lowest})
    x, y, z = hull.sheer[chosen].T
    y, x, z = np.stack((y, -y)), np.stack((x, x)), np.stack((z, z))
    up = y * math.sin(heel) + z * math.cos(heel)
    slopes = np.stack(
        (
            np.full(x.shape, -1.0),
            math.cos(trim) * x - math.sin(trim) * up,
            math.cos(trim) * (y * math.cos(heel) - z * math.sin(heel)),
        ),
        axis=-1,
    )
    return heights[:, chosen].ravel(), slopes.reshape(-1, 3)
