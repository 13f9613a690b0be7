"""The shape of what is answered about a boat's calibrations, for the specification."""

from __future__ import annotations

from marshmallow import Schema, fields

from schemas.calibration import CalibrationSchema
from schemas.shapes import number, one, several, text


class BandSchema(Schema):
    """A value and the half-width of its 95 % interval."""

    value = number(null=True)
    band = number(null=True)


class KnownSchema(Schema):
    """One unknown of the boat, before anything was measured and now."""

    name = text("light.mass, light.x, …; hull.depth and hull.breadth are corrections of the form.")
    unit = text("Kind of quantity, named in `units`.")
    before = one(BandSchema())
    after = one(BandSchema())
    found = fields.Boolean(
        required=True,
        metadata={"description": "The readings tell more about it than the particulars did."},
    )
    source = text()


class ReadingSchema(Schema):
    """One reading and how it fits."""

    calibration = text()
    loading = fields.Integer(required=True, allow_none=True)
    kind = text("freeboard, heel, mass, depth or breadth.")
    x = number(null=True)
    side = text(null=True)
    unit = text()
    read = number()
    expected = number("By the particulars.")
    fitted = number("By the boat that was found.")
    residual = number("Read less fitted.")
    studentised = number("The residual over its own standard deviation.", null=True)


class DoesNotFitSchema(Schema):
    """The reading that the others speak against."""

    reading = fields.Integer(required=True, metadata={"description": "Its place in `readings`."})
    says = text()
    without = several(KnownSchema(), "What the boat would be without it.")


class EstimateSchema(Schema):
    """A value, its standard error and the half-width of its 95 % interval."""

    value = number()
    standard_error = number()
    band = number()


class GMSchema(Schema):
    """GM of a loading that was inclined."""

    loading = fields.Integer(required=True)
    displacement = one(EstimateSchema())
    fitted = one(EstimateSchema(), "On the nonlinear hydrostatics.", null=True)
    classical = one(EstimateSchema(), "w d / (W tan φ), for comparison.", null=True)


class GainBandSchema(Schema):
    """A half-width now, and when that has been measured."""

    name = text()
    now = number()
    then = number()


class GainSchema(Schema):
    """What one more measurement would bring."""

    measure = text()
    says = text()
    less_uncertain = number("Of mass and centre together, 0 to 1.")
    bands = several(GainBandSchema())


class FitSchema(Schema):
    """The fit of all that was measured of the boat."""

    known = several(KnownSchema())
    readings = several(ReadingSchema())
    does_not_fit = one(DoesNotFitSchema(), null=True)
    widened = number("Bands are this much wider, since readings disagree more than was stated.")
    gm = several(GMSchema())
    measure_next = several(GainSchema(), "The most gain first.")


class CalibrationAnswerSchema(CalibrationSchema):
    """What was measured, and what it makes of the boat."""

    boat = fields.String(dump_only=True)
    fit = fields.Nested(FitSchema(), dump_only=True)


class CalibrationsSchema(Schema):
    """All that was measured of a boat."""

    items = several(CalibrationSchema())


class MeasuredTrimSchema(Schema):
    """The running trim that corrects the estimate at speed."""

    trim = number()
    speed = number()
    displacement = number()
    source = text()


class OffsetAtSchema(Schema):
    """The boat's offset with so many people aboard; other things as usual."""

    people = number()
    offset = number()
    band = number()


class RiderOffsetSchema(Schema):
    """A rider's own offset."""

    rider = text()
    runs = fields.Integer(required=True)
    offset = number()
    band = number()


class OffsetSchema(Schema):
    """What the log says of one number of the set-up."""

    target = text(
        "speed, centre_plate, off_side_plate; of water ballast (every tank), and beyond that "
        "off_side_ballast and forward_ballast."
    )
    says = text("The usual offset in words, with the half-width of its 95 % interval.")
    sure = fields.Boolean(
        required=True, metadata={"description": "The usual offset is more than its half-width."}
    )
    unit = text()
    runs = fields.Integer(required=True)
    changes = fields.Integer(
        required=True,
        metadata={"description": "Single changes on the water that count, in the runs' stead."},
    )
    worth = number("In fresh runs of five stars.")
    doubted = fields.Integer(
        required=True, metadata={"description": "Runs that hardly count, being far off the rest."}
    )
    most = number("Advice goes no further than this off the rule base, whatever the log says.")
    usual = one(OffsetAtSchema())
    changes_with = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "What else the offset may go by: people, water, rider_mass."},
    )
    by_people = several(OffsetAtSchema(), "Empty where the offset does not go by people.")
    riders = several(RiderOffsetSchema())


class RideSchema(Schema):
    """A run that would teach the most, if it rode well."""

    people = fields.Integer(required=True)
    rider_mass = number()
    says = text()
    less_uncertain = number("Of all offsets of the boat together, 0 to 1.")


class LogSchema(Schema):
    """The log of the boat."""

    used = fields.Boolean(required=True)
    half_life_days = number(null=True)
    runs = fields.Integer(required=True)
    offsets = several(OffsetSchema())
    ride_next = several(RideSchema(), "The most gain first.")


class LeftOutSchema(Schema):
    """A calibration that does not fit the boat as she is entered now."""

    calibration = text()
    why = text()


class GapSchema(Schema):
    """A default that was used."""

    pointer = text()
    source = text()


class ModelSchema(FitSchema):
    """All that is known of a boat."""

    boat = one(Schema.from_dict({"id": text(), "name": text()}, name="BoatName")())
    running_trim = one(MeasuredTrimSchema(), null=True)
    log = one(LogSchema())
    left_out = several(LeftOutSchema())
    assumed = several(GapSchema())
    says = fields.List(fields.String(), required=True)
    units = fields.Dict(required=True)


__all__ = ["CalibrationAnswerSchema", "CalibrationsSchema", "ModelSchema"]
