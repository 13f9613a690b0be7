"""The curves of one advice: righting arm, freeboard, off-side plate, and how the wake dies away."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rules.base import RuleBase
from schemas.units import Dimension, System, express, unit_name
from schemas.written import shown
from service.advice.answer import Advice
from service.hydrostatics.equilibrium import equilibrium
from service.hydrostatics.stability import freeboards, righting_arms
from service.hydrostatics.weights import Loading, Weight, combine
from service.pages import texts as t
from service.pages.charts import Axes, Mark, curve
from service.pages.svg import Point
from service.pages.words import counted
from service.running.waves import cusp_wavelength, relative_cusp_height

HEELS = np.radians(np.arange(-20.0, 61.0, 2.5))


@dataclass(frozen=True, slots=True)
class Plot:
    """A picture with its heading and the sentence below it."""

    title: str
    says: str
    picture: str


def plots(advice: Advice, system: System) -> list[Plot]:
    """Every curve that this advice has the numbers for."""
    every = (righting(advice, system), freeboard(advice, system), off_side_plate(advice, system))
    return [plot for plot in every if plot is not None]


def righting(advice: Advice, system: System) -> Plot | None:
    """GZ over heel, as loaded, trim free; ``None`` where the boat cannot float."""
    rest = advice.at_rest
    arms = righting_arms(advice.boat.hull, rest.loading, rest.density, HEELS).tolist()
    unit = unit_name(Dimension.LENGTH, system)
    pieces: list[list[Point]] = [[]]
    for heel, arm in zip(HEELS.tolist(), arms, strict=True):
        if arm is None:
            pieces.append([])
        else:
            pieces[-1].append((math.degrees(heel), express(arm, Dimension.LENGTH, system)))
    lines = [piece for piece in pieces if len(piece) > 1]
    if not lines:
        return None
    marks = []
    if rest.heel is not None and HEELS[0] <= rest.heel <= HEELS[-1]:
        marks = [Mark(math.degrees(rest.heel), 0.0, t.HERE)]
    axes = Axes(
        t.RIGHTING_X, t.RIGHTING_Y.format(unit=unit), (-20.0, 60.0), _range(lines, zero=True)
    )
    picture = curve("righting", t.RIGHTING_TITLE, t.RIGHTING_SAYS, axes, lines, marks)
    return Plot(t.RIGHTING_TITLE, t.RIGHTING_SAYS, picture)


def freeboard(advice: Advice, system: System) -> Plot | None:
    """Least freeboard for 0 people up to the seats there are, water as advised, amid the seats."""
    boat, rest = advice.boat, advice.at_rest
    places = sum(seat.places for seat in boat.seats)
    aboard = len(advice.setup.seating)
    most = max(places, aboard)
    if most == 0 or rest.freeboard is None:
        return None
    mean = advice.base.number("defaults.person_mass")
    amid = (
        (
            sum(seat.x * seat.places for seat in boat.seats) / places,
            sum(seat.z * seat.places for seat in boat.seats) / places,
        )
        if places
        else (boat.light.x, boat.light.z)
    )
    # The people as they sit leave with their own moments; others come amid the seats.
    seats = {seat.id: seat for seat in boat.seats}
    people = [
        (each.person.kilograms, seats[each.goal])
        for each in advice.setup.seating
        if each.goal in seats
    ]
    if len(people) != aboard:
        return None
    each = math.fsum(mass for mass, _ in people) / aboard if aboard else mean
    empty = _without(rest.loading, [(mass, s.x, s.y, s.z) for mass, s in people])
    points: list[Point] = []
    for count in range(most + 1):
        crew = Weight("people", count * each, amid[0], 0.0, amid[1])
        loading = _with(empty, crew)
        floating = equilibrium(boat.hull, loading, rest.density)
        if floating.sinkage is None:
            break
        least = freeboards(boat.hull, floating).least
        points.append((float(count), express(least, Dimension.LENGTH, system)))
    if len(points) < 2:
        return None
    unit = unit_name(Dimension.LENGTH, system)
    # Where they really sit differs from amid the seats, so the mark may stand off the curve.
    height = express(rest.freeboard.least, Dimension.LENGTH, system)
    now = [Mark(float(aboard), height, t.AS_SEATED.format(people=counted(aboard)))]
    says = t.FREEBOARD_SAYS.format(mass=shown(each, Dimension.MASS, system, 0))
    axes = Axes(
        t.FREEBOARD_X, t.FREEBOARD_Y.format(unit=unit), (0.0, float(most)),
        _range([[*points, (0.0, height)]], zero=True),
    )  # fmt: skip
    picture = curve("freeboard", t.FREEBOARD_TITLE, says, axes, [points], now, dots=True)
    return Plot(t.FREEBOARD_TITLE, says, picture)


def _without(loading: Loading, people: list[tuple[float, float, float, float]]) -> Loading:
    left = [Weight("people", -mass, x, y, z) for mass, x, y, z in people]
    return _sum(loading, left)


def _with(loading: Loading, crew: Weight) -> Loading:
    return _sum(loading, [crew])


def _sum(loading: Loading, weights: list[Weight]) -> Loading:
    whole = Weight("all", loading.mass, loading.x, loading.y, loading.z, loading.free_surface)
    return combine([whole, *weights])


def off_side_plate(advice: Advice, system: System) -> Plot | None:
    """What the rules ask of the off-side plate over the load; ``None`` where none is fitted."""
    off = (
        advice.setup.starboard_plate
        if advice.setup.surf_side.value == "port"
        else advice.setup.port_plate
    )
    load = advice.facts["plan"]["load_beyond_light"]
    if off is None or not isinstance(load, float):
        return None
    unit = unit_name(Dimension.MASS, system)
    base = advice.base
    points = [
        (express(kg, Dimension.MASS, system), min(plate, base.number("off_side_plate.most")))
        for kg, plate in plate_points(base)
    ]
    low = min(points[0][0], express(load, Dimension.MASS, system))
    high = max(points[-1][0], express(load, Dimension.MASS, system))
    points = [(low, points[0][1]), *points, (high, points[-1][1])]
    axes = Axes(t.PLATE_X.format(unit=unit), t.PLATE_Y, (low, high), (40.0, 100.0))
    here = Mark(express(load, Dimension.MASS, system), off * 100.0, t.HERE)
    picture = curve("plate", t.PLATE_TITLE, t.PLATE_SAYS, axes, [points], [here])
    return Plot(t.PLATE_TITLE, t.PLATE_SAYS, picture)


def plate_points(base: RuleBase) -> list[Point]:
    """``(kg beyond a light crew, % of travel)`` at the rule base's own points."""
    by_load = base.parameters["off_side_plate.by_load"].value
    if not isinstance(by_load, tuple):
        raise TypeError("off_side_plate.by_load is not a curve")
    start = base.number("off_side_plate.light_crew")
    return [(x, start + y) for x, y in by_load]


def decay(
    speed: float, distances: dict[str, float], system: System, here: float | None = None
) -> Plot | None:
    """Relative height of the largest waves from the nearest published distance outwards.

    ``speed`` (m/s) gives the wavelength below which the law does not hold; ``distances`` (m) by
    their words are marked, as is ``here``, where the run is. ``None`` where the law does not hold.
    """
    wavelength = float(cusp_wavelength(speed))
    reference, end = min(distances.values()), max(*distances.values(), here or 0.0)
    if not 0 < wavelength <= reference:
        return None
    at = np.linspace(max(reference / 2, wavelength), min(end, 1000.0) * 1.05, 80)
    heights = 100 * relative_cusp_height(at, reference, wavelength)

    def point(distance: float) -> Point:
        height = 100 * float(relative_cusp_height(distance, reference, wavelength))
        return express(distance, Dimension.LENGTH, system), height

    line = [
        (express(float(x), Dimension.LENGTH, system), float(y))
        for x, y in zip(at, heights, strict=True)
    ]
    marks = [Mark(*point(distance), words) for words, distance in distances.items()]
    if here is not None and wavelength <= here <= at[-1]:
        marks.append(Mark(*point(here), t.HERE))
    says = t.DECAY_SAYS.format(reference=shown(reference, Dimension.LENGTH, system, 0))
    axes = Axes(
        t.DECAY_X.format(unit=unit_name(Dimension.LENGTH, system)), t.DECAY_Y,
        (0.0, line[-1][0]), (0.0, 140.0),
    )  # fmt: skip
    return Plot(t.DECAY_TITLE, says, curve("decay", t.DECAY_TITLE, says, axes, [line], marks))


def _range(lines: list[list[Point]], *, zero: bool) -> tuple[float, float]:
    """From the lowest to the highest value with a little air, zero within."""
    values = [y for points in lines for _, y in points] + ([0.0] if zero else [])
    low, high = min(values), max(values)
    air = (high - low or 1.0) * 0.08
    return (low - air if low < 0 else low), high + air
