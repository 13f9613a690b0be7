"""What measurements tell of a boat, written in the units asked for."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from schemas.log_answer import log_sentences, present_log
from schemas.units import Dimension, System, express, unit_name, unit_names
from schemas.written import DIGITS, figure, number, plain, shown
from service.advice.dock import BoatModel, ReadingOf
from service.calibration.fit import WIDTH, CalibrationError, fit
from service.calibration.inclining import Estimate, classical, displacement, metacentric_height
from service.calibration.known import Gain, Known, gains, known, proposals
from service.calibration.survey import Condition, Unknown

_NAMES = {
    Unknown.MASS: ("light.mass", Dimension.MASS),
    Unknown.X: ("light.x", Dimension.LENGTH),
    Unknown.Y: ("light.y", Dimension.LENGTH),
    Unknown.Z: ("light.z", Dimension.LENGTH),
    Unknown.DEPTH: ("hull.depth", Dimension.LENGTH),
    Unknown.BREADTH: ("hull.breadth", Dimension.PERCENT),
}
_MOST_PROPOSALS = 6


def present_fit(model: BoatModel, system: System) -> dict[str, Any]:
    """The fit of all readings: before and after, each residual, what does not fit, what next."""
    found = model.found
    return {
        "known": [_known(entry, system, read=bool(model.readings)) for entry in known(found)],
        "readings": [
            _reading(model, index, source, system) for index, source in enumerate(model.readings)
        ],
        "does_not_fit": _does_not_fit(model, system),
        "widened": round(found.scatter, 2),
        "gm": list(_gm(model, system)),
        "measure_next": _next(model, system),
    }


def present_model(model: BoatModel, system: System) -> dict[str, Any]:
    """All that is known of the boat, from where, how surely, and what to measure next."""
    learned = model.boat.learned
    trim = learned.running_trim if learned else None
    return {
        "boat": {"id": model.boat.id, "name": model.boat.name},
        **present_fit(model, system),
        "running_trim": trim
        and {
            "trim": number(trim.trim, Dimension.ANGLE, system),
            "speed": number(trim.case.speed, Dimension.SPEED, system),
            "displacement": number(trim.case.mass, Dimension.MASS, system),
            "source": f"read on the water, calibration {model.trim_of}",
        },
        "log": present_log(model, system),
        "left_out": [
            {"calibration": name, "why": why} for name, why in sorted(model.left_out.items())
        ],
        "assumed": [{"pointer": gap.pointer, "source": gap.source} for gap in model.assumed],
        "says": _summary(model, system),
        "units": unit_names(system),
    }


def _known(entry: Known, system: System, *, read: bool = True) -> dict[str, Any]:
    name, dimension = _NAMES[entry.unknown]

    def pair(value: float, band: float) -> dict[str, float | None]:
        return {
            "value": number(value, dimension, system),
            "band": number(band, dimension, system),
        }

    return {
        "name": name,
        "unit": dimension.value,
        "before": pair(entry.value_before, entry.band_before),
        "after": pair(entry.value, entry.band),
        "found": entry.found,
        "source": _source(entry, read=read),
    }


def _source(entry: Known, *, read: bool) -> str:
    if not read:
        return "the particulars; nothing was read yet"
    return "the readings" if entry.found else "the particulars, more than the readings"


def _reading(model: BoatModel, index: int, source: ReadingOf, system: System) -> dict[str, Any]:
    found = model.found
    dimension = _dimension(source)
    read, expected, fitted = (
        float(values[index]) for values in (found.survey.values, found.expected, found.fitted)
    )
    studentised = float(found.studentised[index])
    return {
        "calibration": source.calibration,
        "loading": source.loading,
        "kind": source.kind,
        "x": number(source.x, Dimension.LENGTH, system),
        "side": source.side.value if source.side else None,
        "unit": dimension.value,
        "read": number(read, dimension, system),
        "expected": number(expected, dimension, system),
        "fitted": number(fitted, dimension, system),
        "residual": number(read - fitted, dimension, system),
        "studentised": None if math.isnan(studentised) else round(studentised, 2),
    }


def _dimension(source: ReadingOf) -> Dimension:
    return {
        "heel": Dimension.ANGLE, "mass": Dimension.MASS, "breadth": Dimension.PERCENT,
    }.get(source.kind, Dimension.LENGTH)  # fmt: skip


def _does_not_fit(model: BoatModel, system: System) -> dict[str, Any] | None:
    """The reading that the others speak against, and what the boat is without it."""
    found = model.found
    index = found.suspect
    if index is None:
        return None
    source = model.readings[index]
    try:
        without = known(fit(found.form, model.entered.light, found.survey.without(index)))
    except CalibrationError:
        without = ()
    digits = 1 if source.kind in ("heel", "mass") else 3
    apart = shown(abs(float(found.residuals[index])), _dimension(source), system, digits)
    return {
        "reading": index,
        "says": f"{_called(source, system)} is {apart} off what all the others say. It still "
        "counts: measure it again, or delete that calibration and send it without.",
        "without": [_known(entry, system) for entry in without],
    }


def _called(source: ReadingOf, system: System) -> str:
    where = "" if source.loading is None else f" of loading {source.loading + 1}"
    if source.kind == "freeboard" and source.x is not None and source.side is not None:
        at = shown(source.x, Dimension.LENGTH, system, 2)
        return f"The freeboard at {at} on the {source.side} side{where}"
    return f"The {source.kind}{where}"


def _gm(model: BoatModel, system: System) -> Iterator[dict[str, Any]]:
    """GM of each loading that was inclined: by the fit, and by the classical formula beside it."""
    found = model.found
    for index, condition in enumerate(found.survey.conditions):
        if condition.heels:
            yield {
                "loading": index,
                "displacement": _estimate(displacement(found, condition), Dimension.MASS, system),
                "fitted": _estimate(metacentric_height(found, condition), Dimension.LENGTH, system),
                "classical": _estimate(_classical(model, condition), Dimension.LENGTH, system),
            }


def _classical(model: BoatModel, condition: Condition) -> Estimate | None:
    return classical(condition.heels, displacement(model.found, condition))


def _estimate(
    found: Estimate | None, dimension: Dimension, system: System
) -> dict[str, float | None] | None:
    if found is None:
        return None
    return {
        "value": number(found.value, dimension, system),
        "standard_error": number(found.error, dimension, system),
        "band": number(WIDTH * found.error, dimension, system),
    }


def _next(model: BoatModel, system: System) -> list[dict[str, Any]]:
    ranked = gains(model.found, proposals(model.found, model.loadings))
    return [_gain(gain, system) for gain in ranked[:_MOST_PROPOSALS]]


def _gain(gain: Gain, system: System) -> dict[str, Any]:
    return {
        "measure": gain.proposal.name,
        "says": gain.proposal.says,
        "less_uncertain": round(gain.share, 3),
        "bands": [
            {
                "name": name,
                "now": number(float(gain.now[unknown]), dimension, system),
                "then": number(float(gain.then[unknown]), dimension, system),
            }
            for unknown, (name, dimension) in _NAMES.items()
        ],
    }


def _summary(model: BoatModel, system: System) -> list[str]:
    """What a person wants to hear first."""
    mass = next(entry for entry in known(model.found) if entry.unknown is Unknown.MASS)
    light, band = (
        figure(
            round(express(value, Dimension.MASS, system), DIGITS[Dimension.MASS]),  # as in `known`
            unit_name(Dimension.MASS, system),
            0,
        )
        for value in (mass.value, mass.band)
    )
    count = len(model.readings)
    source = f"from {count} reading{'' if count == 1 else 's'}" if count else "as entered"
    sentences = [f"The light boat is {light} ± {band}, {source}."]
    best = gains(model.found, proposals(model.found, model.loadings))[:1]
    sentences += [
        f"Most would be gained by {gain.proposal.says}: mass and centre "
        f"{plain(100.0 * gain.share, 0)} % less uncertain."
        for gain in best
    ]
    return [*sentences, *log_sentences(model, system)]
