"""What a boat's log says of her, written in the units asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from schemas.units import Dimension, System, unit_name
from schemas.written import number, plain, shown
from service.advice.dock import BoatModel
from service.calibration.known import Ride, rides
from service.calibration.log import FEATURES, USUAL, Offsets

PEOPLE = range(1, 15)
_MOST_RIDES = 3
_MPH = 1.609344


def present_log(model: BoatModel, system: System) -> dict[str, Any]:
    """How the log is used, the offsets of each number, and which run would teach the most."""
    learned = _learned(model)
    return {
        "used": model.log.use,
        "half_life_days": model.log.half_life and model.log.half_life / 86400.0,
        "runs": len(model.runs),
        "offsets": [_offset(offsets, system) for offsets in learned.values()],
        "ride_next": [_ride(ride, system) for ride in rides(learned)[:_MOST_RIDES]],
    }


def log_sentences(model: BoatModel, system: System) -> Iterator[str]:
    """What a person wants to hear of the log."""
    learned = _learned(model)
    if not model.log.use:
        yield "The log is switched off: the rule base alone advises."
        return
    if not learned:
        yield "Her log says nothing yet: keep runs with what was set in the end and a rating."
        return
    runs = max(offsets.runs for offsets in learned.values())
    sure = [_phrase(offsets, system) for offsets in learned.values() if _is_sure(offsets)]
    source = f"By her log of {runs} run{'' if runs == 1 else 's'}"
    if sure:
        yield f"{source}, against the rule base: {', '.join(sure)}."
    else:
        yield f"{source} nothing is surely off the rule base."
    for ride in rides(learned)[:1]:
        yield f"Of her log most would be gained by {_ride(ride, system)['says']}."


def _learned(model: BoatModel) -> dict[str, Offsets]:
    learned = model.boat.learned
    return {} if learned is None else dict(learned.offsets)


def _is_sure(offsets: Offsets) -> bool:
    value, band = offsets.boat(USUAL)
    return abs(value) > band


def _scale(offsets: Offsets, system: System) -> tuple[float, str]:
    """The factor to the unit that is written, and that unit."""
    if offsets.number.unit == "km/h" and system is System.US:
        return 1.0 / _MPH, unit_name(Dimension.SPEED, system)
    return 1.0, offsets.number.unit


def _phrase(offsets: Offsets, system: System) -> str:
    scale, unit = _scale(offsets, system)
    value, band = (round(scale * each, 1) for each in offsets.boat(USUAL))
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return f"{offsets.number.says} {sign}{plain(abs(value), 1)} ± {plain(band, 1)} {unit}"


def _offset(offsets: Offsets, system: System) -> dict[str, Any]:
    """Of a number; its values against people aboard are what the picture is drawn from."""
    scale, unit = _scale(offsets, system)
    moves = [name for name in FEATURES[1:] if name not in offsets.number.level]

    def at(people: float) -> dict[str, float]:
        value, band = offsets.boat(replace(USUAL, people=people))
        return {
            "people": people,
            "offset": round(value * scale, 2) + 0.0,
            "band": round(band * scale, 2),
        }

    return {
        "target": offsets.number.name,
        "says": _phrase(offsets, system),
        "sure": _is_sure(offsets),
        "unit": unit,
        "runs": offsets.runs,
        "changes": offsets.changes,
        "worth": round(offsets.weight, 1),
        "doubted": len(offsets.doubted),
        "most": round(offsets.number.most * scale, 2),
        "usual": at(USUAL.people),
        "changes_with": moves,
        "by_people": [at(float(people)) for people in PEOPLE if "people" in moves],
        "riders": [
            {
                "rider": name,
                "runs": runs,
                "offset": round(value * scale, 2) + 0.0,
                "band": round(offsets.width * error * scale, 2),
            }
            for name, (runs, value, error) in offsets.riders.items()
        ],
    }


def _ride(ride: Ride, system: System) -> dict[str, Any]:
    people, mass = ride.context.people, ride.context.rider_mass
    return {
        "people": int(people),
        "rider_mass": number(mass, Dimension.MASS, system),
        "says": f"a run with {people:.0f} aboard and a rider of "
        f"{shown(mass, Dimension.MASS, system, 0)}: her offsets "
        f"{plain(100.0 * ride.share, 0)} % less uncertain",
        "less_uncertain": round(ride.share, 3),
    }
