"""Units: read in the request's system, SI inside, written in the request's system.

The one place where a unit is converted. Factors come from pint, once, at import, as exact
fractions (1 lb = 45359237/100000000 kg); a number is read as the decimal that was written, so
range checks are exact and a conversion is rounded once. What a caller writes never reaches
pint's parser: a quantity is a number and one of the names below.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType

import pint


class System(StrEnum):
    """What plain numbers are read in and the answer is written in."""

    METRIC = "metric"
    US = "us"


class Dimension(StrEnum):
    """What a number measures. The unit inside is the one named in the comment."""

    MASS = "mass"  # kg
    LENGTH = "length"  # m
    VOLUME = "volume"  # m³
    SPEED = "speed"  # m/s
    TEMPERATURE = "temperature"  # °C
    TIME = "time"  # s
    FLOW = "flow"  # m³/s
    PERCENT = "percentage"  # a fraction, 1.0 = 100 %
    ANGLE = "angle"  # radians


class UnknownQuantityError(ValueError):
    """The text is no number with a unit of this dimension."""


@dataclass(frozen=True, slots=True)
class Unit:
    """``inside = written · scale + offset``, both exact."""

    name: str
    scale: Fraction
    offset: Fraction = Fraction(0)

    def inward(self, written: Fraction) -> Fraction:
        return written * self.scale + self.offset

    def outward(self, inside: Fraction) -> Fraction:
        return (inside - self.offset) / self.scale


_REGISTRY: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)


def _unit(name: str, definition: str, inside: str) -> Unit:
    """A unit by pint's definition; the offset is what its zero is inside (°F)."""
    zero = Fraction(_REGISTRY.Quantity(Fraction(0), definition).to(inside).magnitude)
    one = Fraction(_REGISTRY.Quantity(Fraction(1), definition).to(inside).magnitude)
    return Unit(name, one - zero, zero)


# dimension: unit inside, then (name as written in answers, pint's name, other accepted spellings).
# The first is the metric system's, the second the US one's; where they agree it stands once.
_TABLE: Mapping[Dimension, tuple[str, tuple[tuple[str, str, str], ...]]] = {
    Dimension.MASS: (
        "kg",
        (
            ("kg", "kg", "kgs kilogram kilograms"),
            ("lb", "lb", "lbs pound pounds"),
        ),
    ),
    Dimension.LENGTH: (
        "m",
        (
            ("m", "m", "metre metres meter meters"),
            ("ft", "ft", "foot feet"),
            ("cm", "cm", ""),
            ("mm", "mm", ""),
            ("km", "km", ""),
            ("in", "inch", "inch inches"),
            ("yd", "yard", "yard yards"),
            ("mi", "mile", "mile miles"),
        ),
    ),
    Dimension.VOLUME: (
        "m**3",
        (
            ("L", "litre", "litre litres liter liters"),
            ("US gal", "US_liquid_gallon", "gal gallon gallons"),
            ("m³", "m**3", "m3"),
        ),
    ),
    Dimension.SPEED: (
        "m/s",
        (
            ("km/h", "km/hour", "kmh kph"),
            ("mph", "mile/hour", "mi/h"),
            ("kn", "knot", "kt kts knot knots"),
            ("m/s", "m/s", ""),
        ),
    ),
    Dimension.TEMPERATURE: (
        "degC",
        (
            ("°C", "degC", "C degC"),
            ("°F", "degF", "F degF"),
        ),
    ),
    Dimension.TIME: (
        "s",
        (
            ("min", "minute", "mins minute minutes"),
            ("min", "minute", ""),
            ("s", "s", "sec second seconds"),
            ("h", "hour", "hr hour hours"),
        ),
    ),
    Dimension.FLOW: (
        "m**3/s",
        (
            ("L/min", "litre/minute", "lpm"),
            ("US gal/min", "US_liquid_gallon/minute", "gal/min gpm"),
            ("L/s", "litre/s", ""),
            ("L/h", "litre/hour", "lph"),
            ("gal/h", "US_liquid_gallon/hour", "gph"),
        ),
    ),
    Dimension.PERCENT: ("dimensionless", (("%", "percent", "percent"),)),
    Dimension.ANGLE: ("radian", (("°", "degree", "deg degree degrees"),)),
}

UNITS: Mapping[Dimension, Mapping[str, Unit]]
"""Every accepted spelling, case-folded, to its unit."""
UNITS = MappingProxyType(
    {
        dimension: MappingProxyType(
            {
                spelling.casefold(): _unit(name, definition, inside)
                for name, definition, others in rows
                for spelling in (name, *others.split())
            }
        )
        for dimension, (inside, rows) in _TABLE.items()
    }
)

_OF_SYSTEM: Mapping[System, Mapping[Dimension, Unit]] = {
    system: {
        dimension: UNITS[dimension][rows[min(column, len(rows) - 1)][0].casefold()]
        for dimension, (_, rows) in _TABLE.items()
    }
    for column, system in enumerate(System)
}

# Outward in whole numbers: (inside · up − off) / down. The same as by fractions, to the last digit,
# since Python rounds a quotient of integers once; and ten times faster, for every number there is.
_OUTWARD: Mapping[System, Mapping[Dimension, tuple[int, int, int]]] = {
    system: {
        dimension: (
            unit.offset.denominator * unit.scale.denominator,
            unit.offset.numerator * unit.scale.denominator,
            unit.offset.denominator * unit.scale.numerator,
        )
        for dimension, unit in units.items()
    }
    for system, units in _OF_SYSTEM.items()
}

# Digits worth showing after the point: about what a tape, a scale or a GPS can tell.
_DECIMALS: Mapping[Dimension, tuple[int, int]] = {
    Dimension.MASS: (0, 0),
    Dimension.LENGTH: (3, 2),
    Dimension.VOLUME: (0, 0),
    Dimension.SPEED: (1, 1),
    Dimension.TEMPERATURE: (1, 1),
    Dimension.TIME: (1, 1),
    Dimension.FLOW: (0, 1),
    Dimension.PERCENT: (0, 0),
    Dimension.ANGLE: (1, 1),
}

_QUANTITY = re.compile(
    r"\s*(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?)"
    r"\s*(?P<unit>[^\s0-9.+-](?:.*\S)?)\s*",
)
_LONGEST = 40

_system: ContextVar[System] = ContextVar("units", default=System.METRIC)


@contextmanager
def using(system: System) -> Iterator[None]:
    """Within the block plain numbers are read, and quantities dumped, in ``system``."""
    token = _system.set(system)
    try:
        yield
    finally:
        _system.reset(token)


def current_system() -> System:
    return _system.get()


def unit(dimension: Dimension, system: System) -> Unit:
    return _OF_SYSTEM[system][dimension]


def unit_name(dimension: Dimension, system: System) -> str:
    return unit(dimension, system).name


def unit_names(system: System) -> dict[str, str]:
    """The ``units`` object of an answer: the unit of every kind of quantity."""
    return {dimension.value: unit_name(dimension, system) for dimension in Dimension}


def decimals(dimension: Dimension, system: System) -> int:
    """How many digits after the point are worth showing."""
    return _DECIMALS[dimension][system is System.US]


def parse(text: str, dimension: Dimension) -> Fraction:
    """``"180 lb"`` → the exact value inside (81.6466266 kg).

    Raises :class:`UnknownQuantityError` without a unit, with one of another dimension, or with
    anything that is not a plain decimal number.
    """
    found = _QUANTITY.fullmatch(text) if len(text) <= _LONGEST else None
    if found is None:
        raise UnknownQuantityError(text)
    spelling = " ".join(found["unit"].split()).casefold()
    written_in = UNITS[dimension].get(spelling)
    if written_in is None:
        raise UnknownQuantityError(text)
    return written_in.inward(Fraction(found["number"]))


def read(value: object, dimension: Dimension, system: System) -> Fraction:
    """A JSON number (in ``system``) or a text with its own unit → the exact value inside.

    A float stands for the shortest decimal that names it, which is what was written.
    Raises :class:`UnknownQuantityError` for anything else, infinities and NaN included.
    """
    if isinstance(value, str):
        return parse(value, dimension)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnknownQuantityError(value)
    try:
        written = Fraction(repr(value))
    except ValueError:  # inf, nan
        raise UnknownQuantityError(value) from None
    return unit(dimension, system).inward(written)


def express(inside: float, dimension: Dimension, system: System) -> float:
    """A value inside → the same in ``system``, not rounded to shown digits; never −0.0.

    Raises ``ValueError`` or ``OverflowError`` for NaN and infinities: an answer carries none.
    """
    numerator, denominator = inside.as_integer_ratio()
    up, off, down = _OUTWARD[system][dimension]
    return (numerator * up - denominator * off) / (denominator * down)
