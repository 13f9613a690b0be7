"""``POST /v1/loading``: the hydrostatic check alone."""

from __future__ import annotations

from schemas import plain
from schemas.fields import Quantity
from schemas.request import LoadedBoatSchema
from schemas.units import Dimension
from service.advice.requests import LoadingRequest


class LoadingRequestSchema(LoadedBoatSchema):
    """One boat and what is aboard. Loads to ``Asked[LoadingRequest]``."""

    record = LoadingRequest

    angles = plain.List(
        Quantity(Dimension.ANGLE, 0, 180),
        validate=plain.Length(1, 37),
        load_default=None,
        metadata={"description": "Heel angles of the righting-arm curve."},
    )
