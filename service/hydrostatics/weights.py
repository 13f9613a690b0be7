"""Weights aboard and their sum.

kg and metres; ``x`` forward of the transom, ``y`` to port, ``z`` above the keel line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Weight:
    """One weight at its centre.

    ``free_surface`` (kg·m) is the density of the liquid times the second moment of its free
    surface about its own fore-and-aft middle line, ρ_t i with i = l b³/12; 0 for solids.
    """

    name: str
    mass: float
    x: float
    y: float
    z: float
    free_surface: float = 0.0


@dataclass(frozen=True, slots=True)
class Loading:
    """All weights together: mass (kg), centre of gravity (m), free surfaces (kg·m).

    Raises ValueError unless the mass is positive, ``free_surface`` not negative, all finite.
    """

    mass: float
    x: float
    y: float
    z: float
    free_surface: float = 0.0

    def __post_init__(self) -> None:
        values = (self.mass, self.x, self.y, self.z, self.free_surface)
        if not all(math.isfinite(value) for value in values):
            raise ValueError("The loading has a number that is not finite.")
        if self.mass <= 0.0:
            raise ValueError("The total mass must be more than 0 kg.")
        if self.free_surface < 0.0:
            raise ValueError("Free surfaces cannot be negative.")

    @property
    def rise(self) -> float:
        """GG₁ = ρ_t i / Δ: virtual rise of the centre of gravity by free surfaces (m)."""
        return self.free_surface / self.mass


def combine(weights: Iterable[Weight]) -> Loading:
    """The sum of the weights. Exactly rounded sums, so their order makes no difference.

    Raises ValueError where the total mass is not positive.
    """
    listed = list(weights)
    mass = math.fsum(weight.mass for weight in listed)
    if not mass > 0.0:
        raise ValueError("The total mass must be more than 0 kg.")
    return Loading(
        mass=mass,
        x=math.fsum(weight.mass * weight.x for weight in listed) / mass,
        y=math.fsum(weight.mass * weight.y for weight in listed) / mass,
        z=math.fsum(weight.mass * weight.z for weight in listed) / mass,
        free_surface=math.fsum(weight.free_surface for weight in listed),
    )


def ballast_water(
    capacity: float,
    x: float,
    y: float,
    z: float,
    length: float,
    width: float,
    fill: float,
    density: float,
    name: str,
) -> Weight:
    """The water in a tank filled to the fraction ``fill`` of ``capacity`` (m³).

    ``x, y, z`` is the centre of the full tank. With ``length`` and ``width`` (m) known the tank
    is a box of height capacity / (length·width) standing on its floor: the water's centre sinks
    with the fill, and the free surface counts for 0 < fill < 1. With either 0 they are unknown:
    the centre stays and there is no free surface. Above 1 (a bag overfilled) the mass grows at
    the same centre. Raises ValueError for a negative or non-finite number.
    """
    values = (capacity, length, width, fill, density)
    if not all(math.isfinite(value) and value >= 0.0 for value in values):
        raise ValueError(f"Tank {name}: sizes, fill and density must be finite and not negative.")
    mass = density * capacity * fill
    area = length * width
    if area == 0.0:
        return Weight(name, mass, x, y, z)
    height = capacity / area
    slack = 0.0 < fill < 1.0
    return Weight(
        name,
        mass,
        x,
        y,
        z - height * (1.0 - min(fill, 1.0)) / 2.0,
        free_surface=density * length * width**3 / 12.0 if slack else 0.0,
    )
