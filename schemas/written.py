"""Numbers and sentences as they go out: in the request's units, rounded to what can be told."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from rules.accounts import Account
from rules.base import RuleBase
from rules.model import Facts, Field, Value
from schemas.units import Dimension, System, express, unit_name

DIGITS: Mapping[Dimension, int] = {
    Dimension.MASS: 1,
    Dimension.LENGTH: 4,
    Dimension.VOLUME: 1,
    Dimension.SPEED: 2,
    Dimension.TEMPERATURE: 1,
    Dimension.TIME: 1,
    Dimension.FLOW: 1,
    Dimension.PERCENT: 1,
    Dimension.ANGLE: 4,
}
"""Digits after the point in the JSON: more than anybody reads, enough to reckon on with."""

_DIMENSION_OF = {
    "mass": Dimension.MASS,
    "length": Dimension.LENGTH,
    "temperature": Dimension.TEMPERATURE,
}
_PLACEHOLDER = re.compile(r"\{(\$?)([a-z_]+\.[a-z_]+)\}")
_SINGULAR = {"people": "person", "children": "child", "tanks": "tank"}


def number(inside: float | None, dimension: Dimension, system: System) -> float | None:
    """A value inside → the JSON number in ``system``; ``None`` stays ``None``."""
    if inside is None:
        return None
    return round(express(inside, dimension, system), DIGITS[dimension]) + 0.0


def shown(inside: float, dimension: Dimension, system: System, digits: int) -> str:
    """A value inside with its unit in ``system``, as people read it: ``0.41 m``, ``1.35 ft``."""
    return figure(express(inside, dimension, system), unit_name(dimension, system), digits)


def figure(value: float, unit: str, digits: int) -> str:
    """A number that is already in ``unit``, as people read it; degrees stand close."""
    return f"{plain(value, digits)}{'' if unit == '°' else ' '}{unit}"


def height(value: float, unit: str) -> str:
    """A length in ``unit`` (m or ft) as it is read on the dock: 43 cm, 1.2 m, 17 in, 3.5 ft.

    One below nothing has its sign left out: whoever writes it says what it means.
    """
    size = abs(value)
    if unit == "m" and size < 1.0:
        return f"{plain(100.0 * size, 0)} cm"
    if unit == "ft" and size < 3.0:
        return f"{plain(12.0 * size, 0)} in"
    return f"{plain(size, 1)} {unit}"


def offset(moment: datetime) -> str:
    """Whose time of day a moment is written in: ``UTC+02:00``, ``UTC``."""
    found = f"{moment:%z}"
    return "UTC" if found == "+0000" else f"UTC{found[:3]}:{found[3:5]}"


def hours(starts: datetime, ends: datetime, to: str = "-") -> str:
    """Such as ``09:00-11:00 UTC+02:00``; both offsets where the clocks change between."""
    begun, ended = offset(starts), offset(ends)
    first = f"{starts:%H:%M}{to}" if begun == ended else f"{starts:%H:%M} {begun} to "
    return f"{first}{ends:%H:%M} {ended}"


def on_day(moment: datetime) -> str:
    """A day that no one can read two ways: ``05 Jul 2026``."""
    return f"{moment:%d %b %Y}"


def fact(field: Field, value: Value | None, system: System) -> Value | None:
    """A fact of the rules in the request's units; angles, counts and words stay as they are."""
    if value is None or isinstance(value, str):
        return value
    dimension = _DIMENSION_OF.get(field.quantity)
    if dimension is None:
        return round(value, 4)
    return number(value, dimension, system)


def sentence(text: str, base: RuleBase, facts: Facts, system: System) -> str:
    """A text of the rules with its ``{kind.field}`` and ``{$parameter}`` written out."""

    def written(match: re.Match[str]) -> str:
        dollar, name = match.groups()
        if dollar:
            parameter = base.parameters[name]
            return quantity(parameter.number(), parameter.unit, system)
        kind, _, short = name.partition(".")
        field = base.fields[kind][short]
        value = facts.get(kind, {}).get(short)
        if value is None or isinstance(value, str):
            return "unknown" if value is None else value
        return quantity(value, field.unit, system)

    return _PLACEHOLDER.sub(written, text)


def quantity(value: float, unit: str, system: System) -> str:
    """A value in a unit of the rules (kg, m, °, °C, km/h, %, people …) as people read it."""
    if unit == "kg":
        mass = express(value, Dimension.MASS, system)
        return f"{plain(mass, 0)} {unit_name(Dimension.MASS, system)}"
    if unit == "m":
        length = express(value, Dimension.LENGTH, system)
        whole, small, parts = (3.0, "in", 12.0) if system is System.US else (1.0, "cm", 100.0)
        if 0.0 < abs(length) < whole:
            return f"{plain(parts * length, 0)} {small}"
        digits = 0 if abs(length) >= 50 else 1 if system is System.US or abs(length) >= 2 else 2
        return f"{plain(length, digits)} {unit_name(Dimension.LENGTH, system)}"
    if unit == "km/h":
        speed = express(value / 3.6, Dimension.SPEED, system)
        return f"{plain(speed, 1)} {unit_name(Dimension.SPEED, system)}"
    if unit == "°C":
        return shown(value, Dimension.TEMPERATURE, system, 0)
    if unit == "°":
        return f"{plain(value, 1)}°"
    if unit == "-":
        return plain(value, 2)
    if unit == "%":
        return f"{plain(value, 0)} %"
    return f"{plain(value, 0)} {_SINGULAR.get(unit, unit) if round(value) == 1 else unit}"


def plain(value: float, digits: int) -> str:
    """A number with at most ``digits`` after the point and no idle zeros: 6.10 → 6.1."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def account(found: Account, system: System) -> dict[str, Any]:
    """An account as JSON; in other units its lines still add up to its value exactly."""
    convert = found.unit == "km/h" and system is System.US
    unit = unit_name(Dimension.SPEED, system) if found.unit == "km/h" else found.unit

    def written(value: Decimal) -> Decimal:
        if not convert:
            return value
        return Decimal(repr(round(express(float(value) / 3.6, Dimension.SPEED, system), 2)))

    lines: list[dict[str, Any]] = []
    total = Decimal(0)
    for line in found.lines:
        change = written(line.change)
        total += change
        label = line.label
        if line.band is not None:
            label += f" {'+' if change > 0 else ''}{plain(float(change), 1)}"
            label += f" ± {plain(float(written(line.band)), 1)}"
        lines.append(
            {"rule": line.rule, "kind": line.kind, "label": label, "change": float(change)}
        )
    value = written(found.value)
    if value != total:
        lines.append(
            {
                "rule": "rounding", "kind": "rounding", "label": "rounded in these units",
                "change": float(value - total),
            }
        )  # fmt: skip
    return {"value": float(value), "unit": unit, "lines": lines}
