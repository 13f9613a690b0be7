"""Equilibrium trim of a prismatic planing hull with transom tabs: a rough estimate.

D. Savitsky, "Hydrodynamic Design of Planing Hulls", Marine Technology 1(1), 1964, pp. 71-95, with
the tab of D. Savitsky & P. W. Brown, Marine Technology 13(4), 1976, pp. 381-400. SI and radians
outside; the papers' degrees inside the regressions only.

At surfing speed the boats of this service are at the hump, where buoyancy still carries more than
half of the weight and the tab formula is out of its range. ``RunningTrim.valid`` and ``reasons``
say so. Use the result for the direction and the order of changes; it must never pass or fail
anything.

All forces are coefficients of ½ρV²b² and all lengths are in beams, so the equilibrium depends on
pure numbers of ordinary size only.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g
from scipy.optimize import brentq, root

SPEED_COEFFICIENT_RANGE = (0.60, 13.0)  # Savitsky 1964
TRIM_RANGE = (math.radians(2), math.radians(15))  # Savitsky 1964
WETTED_RATIO_LIMIT = 4.0  # Savitsky 1964
TAB_DEFLECTION_LIMIT = math.radians(15)  # Savitsky & Brown 1976
TAB_CHORD_LIMIT = 0.10  # of the mean wetted length, Savitsky & Brown 1976
TAB_BEAM_FROUDE_RANGE = (2.0, 7.0)  # Savitsky & Brown 1976; read as implemented elsewhere
HUMP_VOLUME_FROUDE = 2.0
"""Volume Froude number below which the boat counts as at the hump: this project's own line.

The worked example of Savitsky & Brown 1976 runs at 2.00. Radojčić and others (Polish Maritime
Research 2(82), 2014) put the start of the hump at about 1 and full planing at 3 to 3.5.
"""

BAND = math.radians(2)
BAND_OUT_OF_RANGE = math.radians(4)
"""Half-widths given with the trim. This project's own choice: no published error was found."""

ROUGHNESS_ALLOWANCE = 0.0004  # added to the friction coefficient, Savitsky 1964

_LARGEST = 1e9  # no boat has a number beyond this, and no sum below it overflows
_STANDSTILL = 0.01  # speed coefficient below which there is nothing to solve
_SEARCH_TRIM = (math.radians(0.5), math.radians(35))
_SEARCH_RATIO = (1e-3, 50.0)
_PRESSURE_AT = 0.45  # of the wetted length from the transom: where the search starts
_NOTHING = 1e-9  # a coefficient as good as 0


@dataclass(frozen=True, slots=True)
class Tab:
    """A plate at the transom: chord (m), span as a share of the chine beam, angle down (radians).

    Several tabs add up, each by the formula for one alone; this is an assumption. ``ValueError``
    for a value that is not finite or has no physical meaning.
    """

    chord: float
    span_ratio: float
    deflection: float

    def __post_init__(self) -> None:
        """Refuse values that no tab can have."""
        if not 0 <= self.chord <= _LARGEST or not 0 <= self.span_ratio <= 1:
            raise ValueError("a tab has a chord not below zero and a span_ratio of 0 to 1")
        if not abs(self.deflection) <= math.pi / 2:
            raise ValueError("a tab's deflection must be within 90 degrees")


@dataclass(frozen=True, slots=True)
class PlaningCase:
    """One boat at one load and speed.

    ``mass`` kg; ``lcg`` and ``vcg`` are the centre of gravity forward of the transom and above
    the keel (m); ``beam`` is the chine beam (m); ``deadrise`` radians; ``speed`` m/s; ``density``
    kg/m³; ``viscosity`` m²/s (1.0e-6 is fresh water at about 20 °C; the trim hardly feels it).

    The thrust line is inclined by ``thrust_angle`` (radians, pushing upwards when positive)
    to the keel and passes ``thrust_arm`` (m, normal to it) below the centre of gravity.
    ``hull_length`` (m) is the length of keel there is to wet, ``None`` when not known.

    ``ValueError`` for a value that is not finite or has no physical meaning.
    """

    mass: float
    lcg: float
    vcg: float
    beam: float
    deadrise: float
    speed: float
    density: float
    viscosity: float = 1.0e-6
    tabs: tuple[Tab, ...] = ()
    thrust_angle: float = 0.0
    thrust_arm: float = 0.0
    hull_length: float | None = None

    def __post_init__(self) -> None:
        """Refuse values that no boat can have."""
        numbers = {
            f.name: value
            for f in fields(self)
            if f.name != "tabs" and (value := getattr(self, f.name)) is not None
        }
        for name, value in numbers.items():
            if not abs(value) <= _LARGEST:
                raise ValueError(f"{name} must be finite and of the size of a boat's")
        for name in ("mass", "beam", "density", "viscosity"):
            if not numbers[name] >= 1 / _LARGEST:
                raise ValueError(f"{name} must be above zero")
        if self.speed < 0:
            raise ValueError("speed must not be below zero")
        if not 0 <= self.deadrise < math.pi / 3:
            raise ValueError("deadrise must be from 0 to below 60 degrees")
        if not abs(self.thrust_angle) <= math.pi / 6:
            raise ValueError("thrust_angle must be within 30 degrees")


@dataclass(frozen=True, slots=True)
class RunningTrim:
    """The estimate. ``trim`` (radians, bow up positive) is ``None`` where no equilibrium exists.

    ``valid`` is true only inside every published range and beyond the hump; otherwise ``reasons``
    holds one plain sentence for each range that is left. ``band`` (radians) is the half-width to
    show with the trim. ``wetted_length_ratio`` is the mean wetted length in beams,
    ``wetted_keel`` (m) the wetted length of keel, ``buoyant_share`` the part of the hull's lift
    that the lift equation puts down to buoyancy.
    """

    trim: float | None
    valid: bool
    reasons: tuple[str, ...]
    band: float
    speed_coefficient: float
    volume_froude: float
    wetted_length_ratio: float | None = None
    wetted_keel: float | None = None
    buoyant_share: float | None = None


def flat_lift_coefficient(trim: float, ratio: float, speed_coefficient: float) -> float:
    """Lift coefficient at zero deadrise, Savitsky 1964 eq. (15)."""
    dynamic = 0.012 * math.sqrt(ratio)
    return math.pow(math.degrees(trim), 1.1) * (dynamic + _buoyant(ratio, speed_coefficient))


def deadrise_lift_coefficient(flat: float, deadrise: float) -> float:
    """Lift coefficient with deadrise from the one without, Savitsky 1964 eq. (16)."""
    return flat - 0.0065 * math.degrees(deadrise) * math.pow(flat, 0.6)


def centre_of_pressure(ratio: float, speed_coefficient: float) -> float:
    """Centre of pressure forward of the transom over the mean wetted length, Savitsky 1964."""
    return 0.75 - 1 / (5.21 * (speed_coefficient / ratio) ** 2 + 2.39)


def friction_coefficient(reynolds: float) -> float:
    """Friction coefficient by the ITTC 1957 line, without the roughness allowance.

    Savitsky reads Schoenherr's line; the two differ by under 1 % at these Reynolds numbers. Held
    at its value for 1e5 below that, where the line means nothing.
    """
    return 0.075 / (math.log10(max(reynolds, 1e5)) - 2) ** 2


def running_trim(case: PlaningCase) -> RunningTrim:
    """The trim at which the case is in vertical and pitch equilibrium, and how far to trust it."""
    speed_coefficient = case.speed / math.sqrt(g * case.beam)
    volume_froude = case.speed / math.sqrt(g * math.cbrt(case.mass / case.density))
    found = _equilibrium(case) if speed_coefficient > _STANDSTILL else None
    if found is None:
        sentence = "The method finds no running trim for this speed and load."
        return RunningTrim(
            None, False, (sentence,), BAND_OUT_OF_RANGE, speed_coefficient, volume_froude
        )
    trim, ratio = found
    keel = case.beam * (ratio + math.tan(case.deadrise) / (2 * math.pi * math.tan(trim)))
    buoyant = _buoyant(ratio, speed_coefficient)
    reasons = _ranges_left(case, trim, ratio, keel, speed_coefficient, volume_froude)
    return RunningTrim(
        trim=trim,
        valid=not reasons,
        reasons=reasons,
        band=BAND_OUT_OF_RANGE if reasons else BAND,
        speed_coefficient=speed_coefficient,
        volume_froude=volume_froude,
        wetted_length_ratio=ratio,
        wetted_keel=keel,
        buoyant_share=buoyant / (buoyant + 0.012 * math.sqrt(ratio)),
    )


def _buoyant(ratio: float, speed_coefficient: float) -> float:
    return 0.0055 * math.pow(ratio, 2.5) / speed_coefficient**2


def _equilibrium(case: PlaningCase) -> tuple[float, float] | None:
    """Trim and mean wetted length ratio, or ``None``."""
    weight = case.mass * g / (0.5 * case.density * case.speed**2 * case.beam**2)
    return _nearby(case, weight) or _bracketed(case, weight)


def _nearby(case: PlaningCase, weight: float) -> tuple[float, float] | None:
    """By Powell's hybrid method from where the lift alone would balance the weight.

    ``None`` where that leads nowhere, which does not say that there is none.
    """
    (least, most), (shortest, longest) = _SEARCH_TRIM, map(math.log, _SEARCH_RATIO)

    def within(trim: float, log_ratio: float) -> tuple[float, float]:
        return min(max(trim, least), most), min(max(log_ratio, shortest), longest)

    def off(at: NDArray[np.float64]) -> tuple[float, float]:
        trim, log_ratio = within(*at.tolist())
        vertical, moment = _forces(case, trim)(math.exp(log_ratio))
        return vertical - weight, moment

    ratio = max(case.lcg / case.beam / _PRESSURE_AT, _SEARCH_RATIO[0])
    speed_coefficient = case.speed / math.sqrt(g * case.beam)
    per_degree = 0.012 * math.sqrt(ratio) + _buoyant(ratio, speed_coefficient)
    trim = math.radians(math.pow(weight / per_degree, 1 / 1.1))
    found = root(off, within(trim, math.log(ratio)), tol=1e-10)
    trim, log_ratio = found.x.tolist()
    inside = least < trim < most and shortest < log_ratio < longest
    if not (found.success and inside and np.abs(found.fun).max() < _NOTHING):
        return None
    return trim, math.exp(log_ratio)


def _bracketed(case: PlaningCase, weight: float) -> tuple[float, float] | None:
    """By brackets about the trim, and about the ratio at every trim: slow and sure."""
    ratios: dict[float, float] = {}

    @cache
    def moment(trim: float) -> float:
        """With the ratio that carries the weight, or the end of its range that comes nearest."""
        forces = _forces(case, trim)
        # More trim needs less of it, so what was found at other trims is on either side.
        low = max((r for t, r in ratios.items() if t > trim), default=_SEARCH_RATIO[0])
        high = min((r for t, r in ratios.items() if t < trim), default=_SEARCH_RATIO[1])
        ratios[trim] = _root(cache(lambda ratio: forces(ratio)[0] - weight), low, high)
        return forces(ratios[trim])[1]

    # A wetted length at an end of its search range still gives the right sign of the moment, so
    # the ends of the trim range bracket the root; whether the root is a real one is seen after.
    low, high = _SEARCH_TRIM
    if not moment(low) > 0 > moment(high):
        return None
    trim = _root(moment, low, high)
    moment(trim)
    ratio = ratios[trim]
    return (trim, ratio) if _SEARCH_RATIO[0] < ratio < _SEARCH_RATIO[1] else None


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function that rises, or falls, is 0: at the nearer end where it is nowhere.

    It is asked twice for either end, and had better remember.
    """
    first, last = function(low), function(high)
    if first * last >= 0.0:
        return low if abs(first) <= abs(last) else high
    return float(brentq(function, low, high, xtol=1e-9, maxiter=500))


_ForcesAt = Callable[[float], tuple[float, float]]
"""Mean wetted length ratio → vertical force and moment (bow up, in beams) about the CG, both as
coefficients of ½ρV²b²."""


def _forces(case: PlaningCase, trim: float) -> _ForcesAt:
    """The forces at a trim, the boat held to its speed; what the ratio does not change is ready."""
    beam, lcg = case.beam, case.lcg / case.beam
    speed_coefficient = case.speed / math.sqrt(g * beam)
    sin_trim, cos_trim, tan_trim = math.sin(trim), math.cos(trim), math.tan(trim)
    line = trim + case.thrust_angle
    sin_line, cos_line = math.sin(line), math.cos(line)
    cos_deadrise = math.cos(case.deadrise)
    friction_arm = case.vcg / beam - math.tan(case.deadrise) / 4
    thrust_arm = case.thrust_arm / beam
    steep = math.pow(math.degrees(trim), 1.1)
    tab_lift, tab_drag, tab_moment = _tabs(case, trim)

    def at(ratio: float) -> tuple[float, float]:
        flat = flat_lift_coefficient(trim, ratio, speed_coefficient)
        lift = deadrise_lift_coefficient(flat, case.deadrise)

        # Mean speed along the bottom from the dynamic part of the lift (Savitsky 1964).
        dynamic = deadrise_lift_coefficient(0.012 * math.sqrt(ratio) * steep, case.deadrise)
        bottom = max(1 - dynamic / (ratio * cos_trim), 0.0)
        reynolds = case.speed * math.sqrt(bottom) * ratio * beam / case.viscosity
        friction = (friction_coefficient(reynolds) + ROUGHNESS_ALLOWANCE) * (
            bottom * ratio / cos_deadrise
        )

        drag = lift * tan_trim + friction * cos_trim + tab_drag
        thrust = drag / cos_line
        pressure_arm = lcg - ratio * centre_of_pressure(ratio, speed_coefficient)
        vertical = lift - friction * sin_trim + tab_lift + thrust * sin_line
        moment = (
            thrust * thrust_arm
            - lift / cos_trim * pressure_arm
            - friction * friction_arm
            - (tab_lift * lcg - tab_moment)
        )
        return vertical, moment

    return at


def _tabs(case: PlaningCase, trim: float) -> tuple[float, float, float]:
    """Lift of the tabs, its drag, its moment about the trailing edge (Savitsky & Brown 1976)."""
    lift = drag = moment = 0.0
    for tab in case.tabs:
        angle, chord = math.degrees(tab.deflection), tab.chord / case.beam
        one = 0.046 * chord * angle * tab.span_ratio
        lift += one
        drag += 0.0052 * one * (math.degrees(trim) + angle)
        moment += one * (0.6 + chord * (1 - tab.span_ratio))
    return lift, drag, moment


def _ranges_left(
    case: PlaningCase,
    trim: float,
    ratio: float,
    keel: float,
    speed_coefficient: float,
    volume_froude: float,
) -> tuple[str, ...]:
    """One plain sentence for each range of the method that the case leaves."""
    tabs = [tab for tab in case.tabs if tab.chord * tab.span_ratio * tab.deflection != 0]
    slowest, fastest = SPEED_COEFFICIENT_RANGE
    tab_slowest, tab_fastest = TAB_BEAM_FROUDE_RANGE
    chord_limit = TAB_CHORD_LIMIT * ratio * case.beam
    checks = (
        (
            volume_froude < HUMP_VOLUME_FROUDE,
            "The boat is still climbing onto the plane, and the method is for planing boats.",
        ),
        (
            not slowest <= speed_coefficient <= fastest,
            f"The method was tested at a speed coefficient of {slowest:g} to {fastest:g}.",
        ),
        (
            not TRIM_RANGE[0] <= trim <= TRIM_RANGE[1],
            "The trim found is outside the 2 to 15 degrees that were tested.",
        ),
        (
            ratio > WETTED_RATIO_LIMIT,
            f"The mean wetted length of {ratio:.1f} beams is more than the 4 that were tested.",
        ),
        (
            2 * ratio * case.beam < keel,
            "The chines run dry, which this calculation does not cover.",
        ),
        (
            case.hull_length is not None and keel > case.hull_length,
            "The wetted keel comes out longer than the hull.",
        ),
        (
            bool(tabs) and not tab_slowest <= speed_coefficient <= tab_fastest,
            f"The plates were tested at a speed coefficient of {tab_slowest:g} to {tab_fastest:g}.",
        ),
        (
            any(not 0 <= tab.deflection <= TAB_DEFLECTION_LIMIT for tab in tabs),
            "A plate is set outside the 0 to 15 degrees that were tested.",
        ),
        (
            any(tab.chord > chord_limit for tab in tabs),
            "A plate is longer than a tenth of the mean wetted length.",
        ),
    )
    return tuple(sentence for left, sentence in checks if left)
