"""The hull: particulars of a hard-chine form, or stations, which are the exact form."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, post_load

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Quantity
from schemas.record import InputSchema, RecordSchema
from schemas.units import Dimension
from service.caches import MB, SizedCache
from service.hydrostatics.hull import Hull, Particulars, form_digest, hard_chine

_HULLS: SizedCache[Particulars | bytes, Hull] = SizedCache(16 * MB)
"""A hull sent again is not computed again."""


class StationSchema(InputSchema):
    """One half section, from the keel to the sheer; mirrored."""

    x = Quantity(
        Dimension.LENGTH, -2, 15, required=True, metadata={"description": "Forward of the transom."}
    )
    points = plain.List(
        plain.Tuple((Quantity(Dimension.LENGTH, 0, 3), Quantity(Dimension.LENGTH, -1, 5))),
        required=True,
        validate=plain.Length(2, 60),
        metadata={"description": "[y, z] from the keel to the sheer."},
    )


class ParticularsSchema(RecordSchema):
    """What is usually known of a hard-chine planing boat; an approximation of her real form."""

    record = Particulars

    waterline_length = Quantity(
        Dimension.LENGTH,
        2,
        15,
        required=True,
        metadata={"description": "From the transom to where the stem crosses the waterline."},
    )
    chine_beam = Quantity(
        Dimension.LENGTH,
        0.5,
        5,
        required=True,
        metadata={"description": "Over the chines, aft."},
    )
    depth = Quantity(
        Dimension.LENGTH,
        0.3,
        4,
        required=True,
        metadata={"description": "Keel to sheer at the transom."},
    )
    deadrise = Quantity(
        Dimension.ANGLE, 0, 45, required=True, metadata={"description": "Of the bottom, aft."}
    )
    length_overall = Quantity(
        Dimension.LENGTH,
        3,
        15,
        load_default=None,
        metadata={"description": "From the transom to the stem head, without platform."},
    )
    sheer_beam = Quantity(Dimension.LENGTH, 0.5, 5, load_default=None)
    draft = Quantity(
        Dimension.LENGTH,
        0.05,
        2,
        load_default=None,
        metadata={"description": "Of the waterline that waterline_length is measured on."},
    )
    forefoot = Quantity(
        Dimension.PERCENT,
        0,
        100,
        load_default=None,
        metadata={"description": "Where the keel starts to rise, of the waterline length."},
    )
    sheer_rise = Quantity(
        Dimension.LENGTH,
        -1,
        2,
        load_default=None,
        metadata={"description": "Of the stem head over the sheer at the transom."},
    )
    bow_deadrise = Quantity(
        Dimension.ANGLE,
        0,
        75,
        load_default=math.radians(50),
        metadata={"description": "At the stem.", "default": 50},
    )


class HullSchema(InputSchema):
    """Either ``particulars`` or ``stations``. Loads to a ``Hull``."""

    particulars = plain.Nested(ParticularsSchema())
    stations = plain.List(
        plain.Nested(StationSchema()),
        validate=plain.Length(2, 101),
        metadata={"description": "From the stern forward."},
    )

    @post_load
    def _hull(self, data: dict[str, Any], **_: Any) -> Hull:
        if len(data) != 1:
            raise ValidationError(say.HULL_FORM)
        try:
            if "particulars" in data:
                given = data["particulars"]
                return _HULLS.get(given, lambda: hard_chine(given))
            stations = [(s["x"], s["points"]) for s in data["stations"]]
            return _HULLS.get(form_digest(stations), lambda: Hull.from_stations(stations))
        except ValueError as error:
            raise ValidationError(str(error)) from error


ROUNDING = 0.01
"""So much (m) two figures of the same thing may differ, one in feet and the other in metres."""
_PARTICULARS = ParticularsSchema()


def too_large(hull: Hull, told: Mapping[str, Any], length: float, beam: float) -> dict[str, Any]:
    """Faults of a hull, as it was ``told``, that is longer or wider than its boat (m).

    Only of what was told: where the default form is too large, nobody knows the form better.
    """
    longest, widest = length + ROUNDING, beam + ROUNDING
    if "particulars" in told:
        p: Particulars = _PARTICULARS.load(told["particulars"])
        faults = {
            name: [text]
            for names, most, text in (
                (("waterline_length", "length_overall"), longest, say.LONGER_THAN_THE_BOAT),
                (("chine_beam", "sheer_beam"), widest, say.WIDER_THAN_THE_BOAT),
            )
            for name in names
            if (getattr(p, name) or 0.0) > most
        }
        return {"particulars": faults} if faults else {}
    stations: dict[int, dict[str, list[str]]] = {}
    for number, (x, points) in enumerate(hull.stations):
        if x > longest:
            stations.setdefault(number, {})["x"] = [say.BEYOND_THE_LENGTH]
        if 2.0 * points[:, 0].max() > widest:
            stations.setdefault(number, {})["points"] = [say.BEYOND_THE_BEAM]
    return {"stations": stations} if stations else {}
