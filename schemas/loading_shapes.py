"""The shape of how a boat lies, and of the loading's answer."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Verdict
from schemas.shapes import (
    AssumedSchema,
    CautionSchema,
    NamedBoatSchema,
    RuleSetSchema,
    UnitNamesSchema,
    number,
    one,
    says,
    several,
    text,
    word,
)
from service.hydrostatics.equilibrium import Status


class DraftSchema(Schema):
    """Depth of the keel line below the water."""

    origin = number("At the transom.", null=True)
    amidships = number(null=True)


class FreeboardSchema(Schema):
    """Height of the sheer above the water; negative is under it."""

    bow = number()
    stern = number()
    port = number("Amidships.")
    starboard = number("Amidships.")
    least = number("The lowest anywhere along the sheer.")


class MetacentricSchema(Schema):
    """Metacentric height, upright."""

    solid = number()
    fluid = number("Less the virtual rise by part-filled tanks.")


class MomentSchema(Schema):
    """Moment to change trim."""

    value = number()
    unit = text()


class AtRestSchema(Schema):
    """The floating position and its stability, from the hydrostatics."""

    status = word(Status)
    displacement = number()
    draft = one(DraftSchema())
    heel = number("Degrees, positive with the starboard side down.", null=True)
    trim = number("Degrees, positive with the bow up.", null=True)
    freeboard = one(FreeboardSchema(), null=True)
    kb = number("Centre of buoyancy above the keel line, upright.", null=True)
    bm = number(null=True)
    km = number(null=True)
    gm = one(MetacentricSchema(), null=True)
    bm_long = number(null=True)
    moment_to_change_trim = one(MomentSchema(), null=True)


class ArmSchema(Schema):
    """A righting arm, trim free; null where the hull cannot float."""

    angle = number("Heel, degrees.")
    gz = number(null=True)


class LimitSchema(Schema):
    """A value against a limit; null as limit is unknown."""

    name = text()
    value = number()
    limit = number(null=True)
    within = fields.Boolean(required=True, allow_none=True)
    source = text()


class LoadingAnswerSchema(AtRestSchema):
    """How the boat lies with what is aboard."""

    verdict = word(Verdict)
    boat = one(NamedBoatSchema())
    gz = several(ArmSchema())
    limits = several(LimitSchema())
    cautions = several(CautionSchema())
    assumed = several(AssumedSchema())
    rule_set = one(RuleSetSchema())
    units = one(UnitNamesSchema())
    stability = fields.Dict(
        keys=fields.String(), **says("With ?stability=full: arms, downflooding, offset load.")
    )
