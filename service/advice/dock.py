"""What was measured of a kept boat, and the boat that it makes of her.

From loadings as an operator tells them (people on seats, tanks, fuel) to the readings that
:mod:`service.calibration` fits; and from the fit, the log and a running trim to the boat that
advice is given for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.dock_readings import (
    Ashore,
    Calibration,
    DockLoading,
    KnownLoading,
    LogUse,
    RunningTrim,
)
from service.advice.requests import LoadingRequest
from service.advice.situation import Assumption, Gaps, condition_of
from service.advice.under_way import planing_case, planing_form
from service.boats.model import Boat, Side
from service.calibration.fit import Fit, fit
from service.calibration.learned import Learned
from service.calibration.log import Offsets, Ridden, learn_all
from service.calibration.survey import Condition, Direct, Freeboard, Heel, Survey, Unknown
from service.hydrostatics.weights import Weight, combine
from service.running.estimate import Measured

ASHORE = 0.003
"""Standard deviation (m) of a depth or breadth by tape ashore. This project's own choice."""

FAR = 0.1
"""A depth or breadth this far (as a share) off the form is a slip, or another boat."""


@dataclass(frozen=True, slots=True)
class ReadingOf:
    """Where a reading of the survey comes from: calibration, its loading, what it is."""

    calibration: str
    loading: int | None
    kind: str
    x: float | None = None
    side: Side | None = None
    moment: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class BoatModel:
    """What is known of a kept boat. ``entered``: her particulars; ``boat``: with all of it.

    ``readings`` tell where each reading of ``found.survey`` comes from; without any ``found`` is
    what the particulars say. ``loadings``: some to measure her in, by name. ``trim_of``: the
    calibration that the running trim is of. ``left_out``: calibrations that no longer fit the
    boat as she is entered now, and why.
    """

    entered: Boat
    boat: Boat
    found: Fit
    readings: tuple[ReadingOf, ...]
    loadings: Mapping[str, Condition]
    log: LogUse
    runs: tuple[Ridden, ...]
    trim_of: str | None
    assumed: tuple[Assumption, ...]
    left_out: Mapping[str, str]


def faults_of(boat: Boat, calibration: Calibration) -> dict[str, object]:
    """What in a calibration is not of this boat, under the names of its members."""
    errors: dict[str, object] = {}
    loadings = {
        index: faults
        for index, loading in enumerate(calibration.loadings)
        if (faults := _loading_faults(boat, loading))
    }
    if loadings:
        errors["loadings"] = loadings
    if calibration.running_trim and (faults := _loading_faults(boat, calibration.running_trim)):
        errors["running_trim"] = faults
    ashore = calibration.ashore or Ashore()
    depth, breadth = float(boat.hull.sheer[0, 2]), planing_form(boat.hull)
    away: dict[str, list[str]] = {}
    if ashore.depth is not None and abs(ashore.depth / depth - 1.0) > FAR:
        away["depth"] = [f"is more than {FAR:.0%} off the hull as entered ({depth:.2f} m)."]
    if ashore.breadth is not None and (
        breadth is None or abs(ashore.breadth / breadth[0] - 1.0) > FAR
    ):
        has = "has no chine" if breadth is None else f"is {breadth[0]:.2f} m there"
        away["breadth"] = [f"is more than {FAR:.0%} off the hull as entered, which {has}."]
    if away:
        errors["ashore"] = away
    return errors


def _loading_faults(boat: Boat, loading: KnownLoading) -> dict[str, object]:
    errors: dict[str, object] = {}
    places = {seat.id: seat.places for seat in boat.seats}
    for index, person in enumerate(loading.crew):
        if person.seat is not None:
            places[person.seat] = places.get(person.seat, 0) - 1
            if places[person.seat] < 0:
                crew = errors.setdefault("crew", {})
                crew[index] = {"seat": [f"{boat.name} has no such seat, or it is full."]}  # type: ignore[index]
    tanks = {tank.id: tank.max_fill for tank in boat.tanks}
    wrong = {
        tank: ["there is no such tank, or it does not take so much."]
        for tank, fill in (loading.ballast or {}).items()
        if fill > tanks.get(tank, -1.0)
    }
    if wrong:
        errors["ballast"] = wrong
    if isinstance(loading, DockLoading):
        hull = boat.hull
        outside = {
            index: {"x": [f"is not between {hull.x_min:.2f} and {hull.x_max:.2f} m."]}
            for index, read in enumerate(loading.freeboards)
            if not hull.x_min <= read.x <= hull.x_max
        }
        if outside:
            errors["freeboards"] = outside
    return errors


def model_of(
    boat: Boat, calibrations: Sequence[tuple[str, Calibration]], runs: Sequence[Ridden],
    base: RuleBase,
) -> BoatModel:  # fmt: skip
    """The boat as measured and as her log has her; see the two parts below."""
    return with_log(measured_model(boat, calibrations, base), runs)


def measured_model(
    boat: Boat, calibrations: Sequence[tuple[str, Calibration]], base: RuleBase
) -> BoatModel:
    """Everything measured put together: the fit is of all readings, not of one occasion's alone.

    ``calibrations`` in the order in which they came, each with its id. The runs change none of it.
    """
    left_out = {
        name: "it names seats, tanks or places that the boat no longer has"
        for name, calibration in calibrations
        if faults_of(boat, calibration)
    }
    used = [(name, each) for name, each in calibrations if name not in left_out]
    gaps = Gaps(base)
    survey, readings = survey_of(boat, used, gaps)
    try:
        found = fit(boat.hull, boat.light, survey)
        hull = found.hull
    except ValueError as error:  # no fit, or one whose corrections make no hull
        left_out |= {each.calibration: str(error) for each in readings}
        readings, found, hull = [], fit(boat.hull, boat.light, Survey()), boat.hull
    log = next((each.log for _, each in reversed(used) if each.log is not None), LogUse())
    fitted = replace(boat, light=found.light, hull=hull) if readings else boat
    trim_of, trim = next(
        ((name, each.running_trim) for name, each in reversed(used) if each.running_trim),
        (None, None),
    )
    learned = Learned(
        running_trim=None if trim is None else _measured(fitted, trim, gaps),
    )
    return BoatModel(
        entered=boat,
        boat=replace(fitted, learned=learned),
        found=found,
        readings=tuple(readings),
        loadings=_loadings(boat, base),
        log=log,
        runs=(),
        trim_of=trim_of if learned.running_trim else None,
        assumed=tuple(dict.fromkeys(gaps.assumed)),
        left_out=left_out,
    )


def with_log(model: BoatModel, runs: Sequence[Ridden]) -> BoatModel:
    """The same with what these runs say, and no others."""
    learned = replace(model.boat.learned or Learned(), offsets=_offsets(runs, model.log))
    return replace(model, boat=replace(model.boat, learned=learned), runs=tuple(runs))


def boat_without(model: BoatModel, run: Ridden) -> Boat:
    """The boat as she would be known without this one of ``model.runs``."""
    return with_log(model, [each for each in model.runs if each is not run]).boat


def _offsets(runs: Sequence[Ridden], log: LogUse) -> Mapping[str, Offsets]:
    half_life = None if log.half_life is None else log.half_life / 86400.0
    return learn_all(runs, half_life) if log.use else {}


def survey_of(
    boat: Boat, calibrations: Sequence[tuple[str, Calibration]], gaps: Gaps
) -> tuple[Survey, list[ReadingOf]]:
    """All readings of several occasions, numbered through, and where each comes from.

    What was not given is filled by ``gaps``.
    """
    conditions: list[Condition] = []
    readings: list[ReadingOf] = []
    direct: list[Direct] = []
    directs: list[ReadingOf] = []
    for name, calibration in calibrations:
        for number, loading in enumerate(calibration.loadings):
            conditions.append(_condition(boat, loading, gaps))
            readings += (
                ReadingOf(name, number, "freeboard", read.x, read.side)
                for read in loading.freeboards
            )
            readings += (
                ReadingOf(name, number, "heel", moment=read.moment) for read in loading.inclining
            )
        for kind, measured in _ashore(boat, calibration):
            direct.append(measured)
            directs.append(ReadingOf(name, None, kind))
    return Survey(tuple(conditions), tuple(direct)), [*readings, *directs]


def _loadings(boat: Boat, base: RuleBase) -> dict[str, Condition]:
    half = KnownLoading(fuel=0.5)
    named = {"empty, with half the fuel": half}
    if boat.tanks:
        full = replace(half, ballast={tank.id: 1.0 for tank in boat.tanks})
        named["with full tanks and half the fuel"] = full
    conditions = {}
    for name, loading in named.items():
        weights, density = _aboard(boat, loading, Gaps(base))
        conditions[name] = Condition(tuple(weights[1:]), density)
    return conditions


def _condition(boat: Boat, loading: DockLoading, gaps: Gaps) -> Condition:
    weights, density = _aboard(boat, loading, gaps)
    return Condition(
        weights=tuple(weights[1:]),  # the first is the light boat
        density=density,
        freeboards=tuple(
            Freeboard(
                read.x, "port" if read.side is Side.PORT else "starboard", read.height,
                read.accuracy,
            )
            for read in loading.freeboards
        ),
        heels=tuple(Heel(read.angle, read.moment, read.accuracy) for read in loading.inclining),
    )  # fmt: skip


def _aboard(boat: Boat, loading: KnownLoading, gaps: Gaps) -> tuple[list[Weight], float]:
    """Every weight, the lightship first, and the water's density (kg/m³)."""
    asked = LoadingRequest(
        boat, loading.crew, loading.ballast, loading.loads, loading.water, loading.fuel
    )
    condition = condition_of(asked, Side.PORT, gaps)
    return condition.weights(), condition.density


def _ashore(boat: Boat, calibration: Calibration) -> Iterator[tuple[str, Direct]]:
    weighed, ashore = calibration.weighed, calibration.ashore or Ashore()
    if weighed is not None:
        yield "mass", Direct(Unknown.MASS, weighed.mass, weighed.accuracy)
    if ashore.depth is not None:
        yield "depth", Direct(Unknown.DEPTH, ashore.depth - float(boat.hull.sheer[0, 2]), ASHORE)
    form = planing_form(boat.hull)
    if ashore.breadth is not None and form is not None:
        breadth = form[0]
        yield "breadth", Direct(Unknown.BREADTH, ashore.breadth / breadth - 1.0, ASHORE / breadth)


def _measured(boat: Boat, read: RunningTrim, gaps: Gaps) -> Measured | None:
    weights, density = _aboard(boat, read, gaps)
    case = planing_case(
        boat, combine(weights), read.speed, density, read.centre_plate, read.off_side_plate
    )
    return None if case is None or not math.isfinite(read.trim) else Measured(read.trim, case)
