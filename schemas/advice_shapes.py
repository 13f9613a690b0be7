"""The shape of the advice, for the specification at ``/openapi.json``."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Confidence, Verdict
from schemas.loading_shapes import AtRestSchema
from schemas.shapes import (
    AssumedSchema,
    CautionSchema,
    NamedBoatSchema,
    NotYetSchema,
    PlatesShownSchema,
    RiderShownSchema,
    RuleSetSchema,
    UnitNamesSchema,
    number,
    one,
    says,
    several,
    text,
    word,
)
from service.advice.requests import Role
from service.boats.model import Side
from service.running.waves import Regime


class TankShownSchema(Schema):
    """The water for one tank."""

    tank = text()
    fill = number("Percent of capacity.")
    now = number("What is in it now, percent of capacity.")
    volume = number()
    mass = number()
    change = number("Water to let in, or out where negative.")
    minutes = number("At the rate of this tank's pump; null where it is unknown.", null=True)


class AfterSchema(Schema):
    """How the boat lies after a step."""

    heel = number(null=True)
    least_freeboard = number(null=True)


class StepSchema(Schema):
    """One thing to do: people who move, a load that is shifted, or a tank that is pumped."""

    do = word(("move", "shift", "pump"))
    people = fields.Integer()
    persons = fields.List(fields.Integer(), **says("Numbers of the people who move."))
    load = fields.String()  # type: ignore[assignment]
    tank = fields.String()
    from_ = fields.Raw(
        required=True,
        data_key="from",
        metadata={"type": ["string", "number", "null"], "description": "A seat, or percent."},
    )
    to = fields.Raw(required=True, metadata={"type": ["string", "number", "null"]})
    volume = fields.Float(**says("In, or out where negative."))
    minutes = fields.Float(allow_none=True)
    together = fields.Integer(**says("Pump steps of the same number may run at once."))
    after = one(AfterSchema())


class MinutesSchema(Schema):
    """Pumping time; null where a pump's rate is unknown."""

    in_sequence = number(null=True)
    at_once = number(null=True)


class BreakSchema(Schema):
    """A limit that a state on the way breaks, where no order avoids it."""

    step = fields.Integer(required=True, **says("0 is before the first."))
    limit = text()
    text = fields.String(required=True)


class ChangeoverSchema(Schema):
    """From what is there now to the set-up, in the order in which to do it."""

    steps = several(StepSchema())
    minutes = one(MinutesSchema())
    breaks = several(BreakSchema())


class ObstacleSchema(Schema):
    """What could not be had, by how much, and what would help."""

    limit = text()
    text = fields.String(required=True)
    help = fields.List(fields.String(), required=True)


class SeatingShownSchema(Schema):
    """Where one person goes, or so many of a head count who are alike.

    `person` to `gain` stand there where people were listed, in their order.
    """

    person = fields.Integer(**says("The place in the list, from 1."))
    name = fields.String(allow_none=True, **says("As given."))
    people = fields.Integer(required=True, **says("1 for someone who was listed."))
    mass = number("Of each of them.")
    role = word(Role, "As settled: driver and observer are one each.")
    from_ = fields.String(
        required=True, allow_none=True, data_key="from", **says("Null: not placed yet.")
    )
    to = text("Null: no seat left.", null=True)
    moves = fields.Boolean(**says("Whether they leave a place that was given."))
    gain = fields.Float(
        allow_none=True,
        **says(
            "Degrees by which their move brings lean and trim together nearer to what is wanted; "
            "null where they stay, or move for another reason."
        ),
    )


class MovingSchema(Schema):
    """What it costs that people leave places they were given; the boat stops for it."""

    people = fields.Integer(required=True)
    minutes = number()
    least_gain = number("Degrees of lean and trim together; nobody is asked to move for less.")


class FromSchema(Schema):
    """Where a load lies."""

    x = number("Forward of the transom.")
    y = number("To port of the centreline.")


class ShiftedSchema(Schema):
    """A movable load to be shifted to beside a seat, at its own height."""

    name = fields.String(required=True)
    mass = number()
    from_ = fields.Nested(FromSchema(), required=True, data_key="from")
    to = text()


class SetupShownSchema(Schema):
    """The set-up. Not to be set up where `not_yet` stands beside it."""

    surf_side = word(Side)
    speed = number("By GPS.")
    plates = one(PlatesShownSchema())
    tanks = several(TankShownSchema())
    seating = several(SeatingShownSchema())
    moving = one(MovingSchema(), "Null where nobody moves.", null=True)
    loads = several(ShiftedSchema())  # type: ignore[assignment]


class UnderWaySchema(Schema):
    """A rough estimate; it decides nothing."""

    trim = fields.Integer(required=True, allow_none=True, **says("Whole degrees, bow up."))
    band = fields.Integer(required=True, allow_none=True, **says("Half-width, degrees."))
    valid = fields.Boolean(required=True, **says("Whether the method is within its range."))
    note = text()
    depth_froude = number(null=True)
    regime = word(Regime, null=True)


class WaveSchema(Schema):
    """The boat's own free waves at this speed."""

    wavelength = number(null=True)
    cusp_wavelength = number(null=True)
    note = text()


class PredictedSchema(Schema):
    """What to expect of exactly this set-up."""

    at_rest = one(AtRestSchema())
    under_way = one(UnderWaySchema())
    wave = one(WaveSchema())


class EffectSchema(Schema):
    """What a rule changed: a number by so much, or a word."""

    target = text()
    change = fields.Raw(required=True, metadata={"type": ["number", "string"]})


class ReasonSchema(Schema):
    """One rule that fired."""

    rule = text()
    title = text()
    why = text("The reason a coach would give.")
    because = fields.Dict(keys=fields.String(), required=True, **says("The facts it saw."))
    effect = several(EffectSchema())
    source = text()
    confidence = word(Confidence)
    other_view = fields.String(**says("The other view, where practice is contested."))


class LineSchema(Schema):
    """One line of an account."""

    rule = text()
    kind = word(("base", "add", "bound", "rounding"))
    label = text()
    change = number()


class AccountSchema(Schema):
    """A number and the lines that add up to it exactly."""

    value = number()
    unit = text()
    lines = several(LineSchema())


class SensitivityShownSchema(Schema):
    """What a small change would do at rest, to first order."""

    change = text()
    where = text("A seat, a tank or a plate.")
    heel = number()
    trim = number()
    least_freeboard = number()
    note = fields.String()


class WatchSchema(Schema):
    """What to look at behind the boat, and the lever to move when it is seen."""

    look = text()
    lever = text()
    rule = text()


class SavedShownSchema(Schema):
    """A saved set-up as it has to be set today, beside what the rules advise."""

    id = text("Of a kept one.", null=True)
    found = fields.Boolean(
        required=True, **says("The best of the rider's own; false: the request told it.")
    )
    source = word(
        ("saved", "carried_over"),
        "Of this boat, corrected for who is aboard today; or of another, carried over by physics.",
    )
    boat = one(NamedBoatSchema(), "On which it was set.")
    verdict = word(Verdict)
    not_yet = one(NotYetSchema(), "Null unless the verdict is `do_not_go`.", null=True)
    setup = one(SetupShownSchema())
    at_rest = one(AtRestSchema())
    cautions = several(CautionSchema())
    assumed = several(AssumedSchema(), "What was not told of it.")


class AdviceAnswerSchema(Schema):
    """Explained set-up advice for one rider."""

    verdict = word(Verdict)
    not_yet = one(
        NotYetSchema(),
        "Null unless the verdict is `do_not_go`. Where it is there, neither `setup` nor "
        "`changeover` is to be done.",
        null=True,
    )
    boat = one(NamedBoatSchema())
    rider = one(RiderShownSchema())
    setup = one(SetupShownSchema())
    changeover = one(
        ChangeoverSchema(), "Where the request tells what is in the tanks now.", null=True
    )
    obstacles = several(ObstacleSchema())
    predicted = one(PredictedSchema())
    reasons = several(ReasonSchema(), "Every rule that fired, in order.")
    accounts = fields.Dict(
        keys=fields.String(),
        values=fields.Nested(AccountSchema()),
        required=True,
        **says("By number: speed, plates.centre, tanks.<id>, …"),
    )
    cautions = several(CautionSchema(), "The gravest first.")
    sensitivities = several(SensitivityShownSchema())
    watch_for = several(WatchSchema())
    assumed = several(AssumedSchema())
    saved = one(
        SavedShownSchema(),
        "The saved set-up that was told or that the rider has; the set-up above is the rules'.",
        null=True,
    )
    rule_set = one(RuleSetSchema())
    units = one(UnitNamesSchema())
    trace = fields.Dict(
        keys=fields.String(),
        **says("With ?trace=full: facts, rules that fired and those that did not, and why."),
    )
