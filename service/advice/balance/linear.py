"""The floating boat near one attitude, as a linear function of weights at seats and in tanks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from service.advice.balance.problem import HEEL_AS_METRES, Array, Problem
from service.advice.loading_condition import Attitude
from service.hydrostatics.equilibrium import Floating, equilibrium, response, sheer_heights
from service.hydrostatics.hull import Hull
from service.hydrostatics.weights import Loading

NEAR_GM = 0.3
"""Metres. With more than that over its limits GM is not asked for."""
ADDED = 5.0
"""kg (or kg·m) for the slope of GM."""


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """Outputs (m): lean and trim (degrees), then what is left to each limit (metres).

    ``limits``: columns of the outputs, those of one limit together, and whether it is firm.
    ``base`` (m): at the reference with ``percents`` in the tanks;
    ``spot`` (k, m): by 1 kg at each point asked for; ``tank`` (tanks, m): by one percent more
    in each; ``surface`` (tanks, m): by the free surface that a part-filled one has, ``slack``
    (tanks): 1 where the reference has it.
    """

    base: Array
    percents: Array
    spot: Array
    tank: Array
    surface: Array
    slack: Array
    limits: tuple[tuple[slice, bool], ...]

    @classmethod
    def at(cls, problem: Problem, percents: Array, attitude: Attitude, points: Array) -> Linear:
        """By the implicit function theorem. ``attitude`` must be one with an equilibrium.

        ``points`` (k, 3) in m: where weights may be put.
        """
        floating = attitude.floating
        boat, wanted = problem.condition.boat, problem.wanted
        surfaces = (
            (t.x, t.y, surface_height(t.capacity, t.length, t.width, t.z, percent / 100.0))
            for t, percent in zip(boat.tanks, percents, strict=True)
        )
        x, y, z = np.array([*points.tolist(), *surfaces]).T
        moved = np.stack(response(floating, 1.0, x, y, z), axis=1)
        height, slope = _sheer(boat.hull, floating)
        stations = len(height) // 2
        rows, slopes, firm = [height - wanted.least_freeboard], [slope], [True]
        if wanted.least_bow is not None:
            ends = [stations - 1, 2 * stations - 1]
            rows.append(height[ends] - wanted.least_bow)
            slopes.append(slope[ends])
            firm.append(False)
        lean = attitude.lean or 0.0
        per_degree = np.array([0.0, 0.0, -HEEL_AS_METRES * math.degrees(1.0)])
        if wanted.most_lean is not None:
            most = wanted.most_lean
            rows.append(HEEL_AS_METRES * np.array([most - lean, most + lean]))
            slopes.append(np.stack((-per_degree, per_degree)))
            firm.append(False)
        degree = math.degrees(1.0)
        turn = np.array([[0.0, 0.0, -degree], [0.0, degree, 0.0]])
        base = np.concatenate(([lean, attitude.trim or 0.0], *rows))
        to_outputs = np.concatenate((turn, *slopes)).T
        outputs = moved @ to_outputs
        free = np.array(
            [problem.condition.density * t.length * t.width**3 / 12.0 for t in boat.tanks]
        )
        one = np.stack(response(floating, 0.0, 0.0, 0.0, 0.0, 1.0))
        surface = free[:, None] * (one @ to_outputs)
        lines = [line for line in (wanted.least_gm, wanted.ample_gm) if line is not None]
        if (floating.gm or 0.0) < max(lines) + NEAR_GM:
            by_kg, by_surface = _stability(problem, attitude, np.stack((x, y, z), axis=1))
            for line in lines:
                base = np.append(base, (floating.gm or 0.0) - line)
                outputs = np.column_stack((outputs, by_kg))
                surface = np.column_stack((surface, free * by_surface))
                rows.append(base[-1:])
                firm.append(line == wanted.least_gm)
        spots = len(points)
        tank = outputs[spots:] * problem.kg[:, None]
        ends_at = np.cumsum([2, *(len(row) for row in rows)]).tolist()
        limits = tuple(zip(map(slice, ends_at, ends_at[1:]), firm, strict=False))
        slack = part_filled(percents)
        return cls(base, percents, outputs[:spots], tank, surface, slack, limits)

    @classmethod
    def flat(cls, problem: Problem) -> Linear:
        """Of a boat that no weight turns: where there is no attitude to linearise about."""
        tanks, wanted = len(problem.start), problem.wanted
        base = np.array([wanted.lean.wanted, wanted.trim.wanted])
        none = np.zeros((tanks, 2))
        spot = np.zeros((len(problem.points), 2))
        return cls(base, problem.start, spot, none, none, np.zeros(tanks), ())

    def outputs(self, base: Array, percents: Array) -> Array:
        """(…, m) for ``percents`` (…, tanks), with ``base`` (…, m) for the reference's."""
        water = (percents - self.percents) @ self.tank
        return np.asarray(base + water + (part_filled(percents) - self.slack) @ self.surface)

    def under(self, outputs: Array, *, firm: bool) -> Array:
        """(…): metres under the limits that are ``firm``, or under the others."""
        total = np.zeros(outputs.shape[:-1])
        for columns, its in self.limits:
            if its is firm:
                total = total + np.maximum(-outputs[..., columns].min(axis=-1), 0.0)
        return total


def part_filled(percents: Array) -> Array:
    """1 where a tank has a free surface."""
    return np.asarray(((percents > 0.0) & (percents < 100.0)).astype(np.float64))


def _stability(problem: Problem, attitude: Attitude, points: Array) -> tuple[Array, float]:
    """Change of GM (m) by 1 kg at ``points`` (k, 3), and by 1 kg·m of free surface.

    By differences, since GM's own slope would take third derivatives of the energy.
    """
    loading, hull = attitude.loading, problem.condition.boat.hull
    centre = np.array([loading.x, loading.y, loading.z])
    gm = attitude.floating.gm or 0.0

    def after(mass: float, place: Array, free_surface: float) -> float:
        whole = loading.mass + mass
        x, y, z = ((loading.mass * centre + mass * place) / whole).tolist()
        then = Loading(whole, x, y, z, loading.free_surface + free_surface)
        found = equilibrium(hull, then, problem.condition.density).gm
        return 0.0 if found is None else (found - gm) / (mass + free_surface)

    at = after(ADDED, centre, 0.0)
    slope = np.array([after(ADDED, centre + aside, 0.0) - at for aside in np.eye(3)])
    return at + (points - centre) @ slope, after(0.0, centre, ADDED)


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
