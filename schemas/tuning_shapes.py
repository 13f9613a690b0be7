"""The shape of the tuning's answers, for the specification at ``/openapi.json``."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Confidence, Turn
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
from service.advice.tuning.answer import Action
from service.advice.tuning.requests import Strength
from service.boats.model import Side


class LookAlikeSchema(Schema):
    """The sign this one is most often taken for."""

    sign = text()
    tell = text("How to tell the two apart.")


class SignSchema(Schema):
    """Something seen behind the boat, on the board or aboard."""

    sign = text()
    says = text("A sentence that someone on the first day understands.")
    look_alike = one(LookAlikeSchema())
    gone = text("What is seen when it is mended.")


class SignSeenSchema(SignSchema):
    """A sign as it was told."""

    strength = word(Strength)


class SignListedSchema(SignSchema):
    """A sign, by whom it is noticed, and what it cannot be told together with."""

    about = word(("wave", "rider", "boat"))
    contradicts = fields.List(
        fields.String(),
        required=True,
        **says("Signs that cannot be so together with it; whoever tells both is asked which."),
    )


class MoveSchema(Schema):
    """What can be moved; the lower rank goes first."""

    move = text()
    lever = text()
    rank = fields.Integer(required=True)
    does = text()
    look = text()
    wrong_if = text()


class TuningRuleSetSchema(RuleSetSchema):
    """The two rule bases that made the answer."""

    tuning = text("Of signs, moves and rules of the tuning.")


class SignsRuleSetSchema(Schema):
    """The rule base of the tuning."""

    version = text()
    tuning = text()


class SignsAnswerSchema(Schema):
    """Every sign and every move."""

    signs = several(SignListedSchema())
    moves = several(MoveSchema())
    rule_set = one(SignsRuleSetSchema())


class DurationSchema(Schema):
    """A time with its unit."""

    value = number()
    unit = text()


class ExpectSchema(Schema):
    """What should be seen, and after how long."""

    look = text("What the change does, as it is seen.")
    gone = text("What is seen when the sign that it is for is mended.", null=True)
    once = text("From when on it is looked at; null: at once.", null=True)
    after = one(DurationSchema())


class BeforeAfterSchema(Schema):
    """A figure at rest before and after the change; null where the boat does not float."""

    before = number(null=True)
    after = number(null=True)
    change = number(null=True)


class TuningPredictedSchema(Schema):
    """What the hydrostatics say of the change."""

    heel = one(BeforeAfterSchema(), "Degrees, positive with the starboard side down.")
    trim = one(BeforeAfterSchema(), "Degrees, positive with the bow up.")
    least_freeboard = one(BeforeAfterSchema())
    under_way = text("What it does to the running boat: direction only.")
    note = text()


class TankChangedSchema(Schema):
    """A tank that is changed with the others, percent."""

    tank = text()
    from_ = fields.Float(required=True, data_key="from")
    to = number()


class ChangeSchema(Schema):
    """One change of one lever. Sent back in ``history`` with what it ``did``."""

    lever = text()
    move = text()
    from_ = fields.Raw(
        required=True, allow_none=True, data_key="from",
        metadata={"type": ["number", "string"]},
    )  # fmt: skip
    to = fields.Raw(required=True, allow_none=True, metadata={"type": ["number", "string"]})
    unit = text(null=True)
    people = fields.Integer(required=True, **says("How many change seats."))
    persons = fields.List(
        fields.Integer(),
        required=True,
        **says("Who change seats: their places in the crew's list, from 1."),
    )
    masses = fields.List(fields.Float(), required=True, **says("Of those who change seats."))
    tanks = several(
        TankChangedSchema(),
        "Of the lever `tanks`: each that changes. `from` and `to` are then of all of them, in "
        "percent of what they hold together.",
    )
    text = text()
    why = fields.String(required=True)
    expect = one(ExpectSchema())
    wrong_if = fields.String(required=True)
    undo = fields.String(required=True)
    predicted = one(TuningPredictedSchema())


class QuestionSchema(Schema):
    """What has to be known first, and the signs that answer it."""

    text = text()
    signs = several(SignSchema())


class TuningReasonSchema(Schema):
    """A rule behind the answer."""

    rule = text()
    title = text()
    why = text()
    because = fields.Dict(keys=fields.String(), required=True, **says("The facts it saw."))
    turn = word(Turn, null=True)
    source = text()
    confidence = word(Confidence)
    other_view = fields.String()


class PassedOverSchema(Schema):
    """A move that was asked for and not proposed."""

    move = text()
    why = text()


class TuningAnswerSchema(Schema):
    """The one next change, or to leave it, to stop, or a question."""

    action = word(Action)
    message = text()
    boat = one(NamedBoatSchema())
    surf_side = word(Side)
    seen = several(SignSeenSchema())
    change = one(ChangeSchema(), "After a stop: before going on.", null=True)
    look_again = fields.Boolean(
        required=True,
        **says("What is seen is new: one look in ten is wrong, so look again before the change."),
    )
    alternatives = several(ChangeSchema())
    question = one(QuestionSchema(), null=True)
    reasons = several(TuningReasonSchema())
    cautions = several(CautionSchema())
    passed_over = several(PassedOverSchema())
    assumed = several(AssumedSchema())
    rule_set = one(TuningRuleSetSchema())
    units = one(UnitNamesSchema())


RUN_TUNING_BODY = {
    "required": True,
    "description": "As for `/v1/tuning`, without what the run has already: its request is taken as "
    "it is, in its units, and what is named here stands in its place; only its `ballast`, which is "
    "of before the advice, is left out: tanks are as advised, if `settings` do not tell. "
    "`history`: only what came since the last call; faults in it are counted from the session's "
    "first change.",
    "content": {"application/json": {"schema": {"type": "object"}}},
}
