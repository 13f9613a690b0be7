"""The shape of an outing's answer, for the specification at ``/openapi.json``."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Severity, Verdict
from schemas.shapes import (
    AssumedSchema,
    NamedBoatSchema,
    NotYetSchema,
    PlatesShownSchema,
    RuleSetSchema,
    UnitNamesSchema,
    number,
    one,
    several,
    text,
    word,
)
from service.advice.loading_plan import Limit
from service.boats.model import Side
from service.outings.answer import Missed, Remark
from service.outings.requests import Mode
from service.outings.setups import Origin


class _WhenSchema(Schema):
    """Minutes from setting out, and the moment where the start was told."""

    starts = number()
    ends = number()
    start_time = text(null=True)
    end_time = text(null=True)


class OutingLiesSchema(Schema):
    """How the boat lies at rest."""

    status = text()
    heel = number("Degrees, positive with the starboard side down.", null=True)
    trim = number("Degrees, positive with the bow up.", null=True)
    least_freeboard = number(null=True)
    displacement = number()


class OutingSeatSchema(Schema):
    """Who sits where."""

    seat = text()
    people = fields.List(fields.String(), required=True)


class OutingTankSchema(Schema):
    """The water in one tank."""

    tank = text()
    fill = number("Percent of capacity.")
    volume = number()


class OutingLoadSchema(Schema):
    """A movable load: its name, and the seat it lies beside, or its own place."""

    load = text()  # type: ignore[assignment]  # the field goes to self.fields
    mass = number()
    at = text()


MOVABLE = fields.List(
    fields.Nested(OutingLoadSchema()), metadata={"description": "Where any load is movable."}
)
SHIFTED = fields.Integer(metadata={"description": "How often a load is, where any is movable."})


class OutingSetupSchema(Schema):
    """The set-up of one turn."""

    surf_side = word(Side)
    speed = number("By GPS.")
    plates = one(PlatesShownSchema())
    tanks = several(OutingTankSchema())
    driver = text("The same in all turns; null where none of the crew can drive.", null=True)
    observer = text("Who watches the rider; null where nobody aboard is able to.", null=True)
    seating = several(OutingSeatSchema())
    loads = MOVABLE  # type: ignore[assignment]  # the field goes to self.fields


class OutingStepSchema(Schema):
    """Someone who moves, a load that is shifted, or a tank that is pumped."""

    kind = word(("move", "shift", "pump"))
    person = fields.String()
    load = fields.String()  # type: ignore[assignment]  # the field goes to self.fields
    mass = fields.Float()
    from_ = fields.String(data_key="from")
    to = fields.String()
    tank = fields.String()
    from_fill = fields.Float()
    to_fill = fields.Float()
    volume = fields.Float(metadata={"description": "In, or out where negative."})
    minutes = fields.Float()
    together = fields.Integer(
        allow_none=True, metadata={"description": "Pumps of the same number may run at once."}
    )


class OutingBreakSchema(Schema):
    """A limit that a state on the way breaks."""

    limit = word(Limit)


class OutingChangeSchema(_WhenSchema):
    """What changes before a turn, in a safe order."""

    minutes = number("Getting into and out of the water included.")
    pump_minutes = number()
    pump_minutes_in_sequence = number()
    people_settle_while_pumping = fields.Boolean(required=True)
    water_in = number()
    water_out = number()
    people_who_move = fields.Integer(required=True)
    loads_shifted = SHIFTED
    steps = several(OutingStepSchema())
    surf_side = word(Side, null=True)
    side_changes = fields.Boolean(required=True)
    plates = one(PlatesShownSchema(), null=True)
    plates_before = one(PlatesShownSchema(), null=True)
    speed = number(null=True)
    speed_before = number(null=True)
    least_freeboard = number("In any state on the way.", null=True)
    most_lean = number("Degrees, to either side.", null=True)
    breaks = several(OutingBreakSchema())


class OutingFuelSchema(Schema):
    """Percent of the fuel tank at the start and end, and what the set-up is made for."""

    start = number()
    end = number()
    set_up_for = number()


class OutingTurnSchema(_WhenSchema):
    """One rider's turn."""

    turn = fields.Integer(required=True)
    rider = text()
    minutes = number()
    verdict = word(Verdict)
    source = word(Origin, "Rules, a saved set-up, one carried over from another boat, …")
    saved = text("Id of the kept set-up behind it.", null=True)
    setup = one(OutingSetupSchema())
    predicted = one(OutingLiesSchema(), "With the fuel at the start of the turn.")
    predicted_at_end = one(OutingLiesSchema())
    cautions = fields.List(fields.String(), required=True)
    fuel = one(OutingFuelSchema())
    change_over = one(OutingChangeSchema(), "Before the turn.")
    advice_request = fields.Dict(
        keys=fields.String(), required=True,
        metadata={"description": "A body for `POST /v1/advice`: the rules' set-up in full."},
    )  # fmt: skip


class OutingOutSchema(_WhenSchema):
    """As the boat sets out, everybody aboard."""

    seating = several(OutingSeatSchema())
    predicted = one(OutingLiesSchema())


class OutingHomeSchema(_WhenSchema):
    """Level, people aft, ballast drained."""

    minutes = number()
    tanks = several(OutingTankSchema())
    seating = several(OutingSeatSchema())
    loads = MOVABLE  # type: ignore[assignment]  # the field goes to self.fields
    plates = one(PlatesShownSchema())
    predicted = one(OutingLiesSchema())
    fuel = number("Percent left at the end.")
    change_over = one(OutingChangeSchema())


class OutingShareSchema(Schema):
    """Minutes of one rider."""

    rider = text()
    wanted = number()
    riding = number()
    turns = fields.Integer(required=True)


class OutingTotalsSchema(Schema):
    """Sums."""

    minutes = number()
    riding_minutes = number()
    change_over_minutes = number()
    pump_minutes = number()
    water_in = number()
    water_out = number()
    side_changes = fields.Integer(required=True)
    seats_changed = fields.Integer(required=True)
    loads_shifted = SHIFTED
    riders = several(OutingShareSchema())
    fairness = number("Jain's index of the parts of what each wanted; 1 is even.", null=True)


class OutingOrderSchema(Schema):
    """How good the order is: minutes of change-over and of the preference for early beginners."""

    exact = fields.Boolean(
        required=True, metadata={"description": "It is proved that no order is better."}
    )
    cost = number()
    bound = number("It is proved that no order is below this.")
    gap = number("`cost` less `bound`: what a better order could save at most.")
    gap_percent = number("The same in percent of `cost`.")


class OutingShortSchema(Schema):
    """What did not fit, and why."""

    rider = text()
    why = word(Missed)
    text = text()


class OutingRemarkSchema(Schema):
    """What else people must know."""

    kind = word(Remark)
    severity = word(Severity)
    text = text()
    turn = fields.Integer(required=True, allow_none=True)


class OutingCautionSchema(Schema):
    """A caution, with the turns that it is for."""

    severity = word(Severity)
    text = text()
    action = fields.String(required=True)
    source = fields.String(required=True)
    rule = fields.String(required=True)
    turns = fields.List(fields.Integer(), required=True)


class OutingLossSchema(Schema):
    """The common number less the rider's own."""

    rider = text()
    other_side = fields.Boolean(required=True)
    speed = number()
    centre_plate = number(null=True)
    off_side_plate = number(null=True)
    water = number("Sum over the tanks.")
    lean = number("Degrees towards the wave.", null=True)
    trim = number(null=True)


class OutingAnswerSchema(Schema):
    """Who rides when, each one's set-up, and what changes in between."""

    verdict = word(Verdict)
    not_yet = one(
        NotYetSchema(),
        "Null unless the verdict is `do_not_go`. Where it is there, nothing of this is to be done.",
        null=True,
    )
    boat = one(NamedBoatSchema())
    mode = word(Mode)
    start_time = text(null=True)
    way_out = one(OutingOutSchema())
    turns = several(OutingTurnSchema())
    way_home = one(OutingHomeSchema())
    totals = one(OutingTotalsSchema())
    order = one(OutingOrderSchema())
    did_not_fit = several(OutingShortSchema())
    remarks = several(OutingRemarkSchema())
    cautions = several(OutingCautionSchema())
    losses = several(OutingLossSchema(), "With a common set-up: what each rider loses by it.")
    assumed = several(AssumedSchema())
    rule_set = one(RuleSetSchema())
    units = one(UnitNamesSchema())
