"""``POST /v1/loading``: the hydrostatic check alone."""

from __future__ import annotations

from marshmallow import fields, validate

from schemas.fields import Quantity
from schemas.request import LoadedBoatSchema
from schemas.units import Dimension
from service.advice.requests import LoadingRequest


class LoadingRequestSchema(LoadedBoatSchema):
    """One boat and what is aboard. Loads to ``Asked[LoadingRequest]``."""

    record = LoadingRequest

    angles = fields.List(
        Quantity(Dimension.ANGLE, 0, 180),
        validate=validate.Length(1, 37),
        load_default=None,
        metadata={"description": "Heel angles of the righting-arm curve."},
    )
