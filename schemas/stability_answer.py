"""How much stability the boat has in hand, written in the request's units."""

from __future__ import annotations

from typing import Any

from schemas import plain, written
from schemas.record import InputSchema
from schemas.units import Dimension, System, unit_name
from service.advice.stability_picture import Arms, OffsetLoad, ReferenceLine, StabilityPicture


class StabilityQuerySchema(InputSchema):
    """Whether the answer is to carry the stability picture."""

    stability = plain.String(
        load_default="none",
        validate=plain.OneOf(["none", "full"]),
        metadata={"description": "full: righting arms to the sheer, range, everybody to one side."},
    )


def present_stability(found: StabilityPicture, system: System) -> dict[str, Any]:
    """Both sides, the offset load, and the numbers beside reference lines that assess nothing."""
    return {
        "sides": [_arms(arms, system) for arms in found.arms],
        "everybody_to_one_side": [_offset(load, system) for load in found.offsets],
        "reference_lines": [_line(line, system) for line in found.lines],
        "note": "The sheer is taken for the only opening. Free surfaces act by the virtual rise.",
    }


def _angle(inside: float | None, system: System) -> float | None:
    return written.number(inside, Dimension.ANGLE, system)


def _length(inside: float | None, system: System) -> float | None:
    return written.number(inside, Dimension.LENGTH, system)


def _arms(arms: Arms, system: System) -> dict[str, Any]:
    return {
        "to": arms.side.value,
        "gz": [
            {"angle": _angle(angle, system), "gz": _length(gz, system)}
            for angle, gz in zip(arms.angles, arms.gz, strict=True)
        ],
        "downflooding": _angle(arms.downflooding, system),
        "greatest_gz": _length(arms.greatest, system),
        "at": _angle(arms.at, system),
        "range": _angle(arms.range, system),
    }


def _offset(load: OffsetLoad, system: System) -> dict[str, Any]:
    return {
        "side": load.side.value,
        "floats": load.floats,
        "heel": _angle(load.heel, system),
        "least_freeboard": _length(load.least_freeboard, system),
        "seated": load.seated,
        "standing": load.standing,
    }


def _line(line: ReferenceLine, system: System) -> dict[str, Any]:
    angle = line.unit == "rad"
    write = _angle if angle else _length
    return {
        "name": line.name,
        "value": write(line.value, system),
        "line": write(line.line, system),
        "unit": unit_name(Dimension.ANGLE if angle else Dimension.LENGTH, system),
        "source": line.source,
        "note": line.note,
    }
