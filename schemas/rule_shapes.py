"""The shape of the rules' answers, for the specification; see :mod:`schemas.shapes`."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Confidence, Stage
from rules.tuning import PROPERTIES
from schemas.shapes import number, one, says, several, text, word
from schemas.tuning_shapes import TuningRuleSetSchema


class ParameterShownSchema(Schema):
    """A named number, curve or table of the rules."""

    name = text()
    says = text()
    unit = text()
    value = fields.Raw(
        required=True,
        metadata={
            "anyOf": [
                {"type": "number"},
                {"type": "array", "items": {"type": "array", "items": {"type": "number"}}},
                {"type": "object", "additionalProperties": {"type": "number"}},
            ],
            "description": "A number, a curve of points, or a table of words.",
        },
    )
    source = text()
    confidence = word(Confidence)
    may_change = text()
    local = fields.Boolean(required=True)


class RuleShownSchema(Schema):
    """A rule: condition, effect, reason, source, confidence."""

    id = text()
    topic = text()
    title = text()
    stage = word(Stage)
    condition = fields.List(fields.String(), required=True)
    effect = fields.Dict(keys=fields.String(), required=True)
    reason = text()
    source = text()
    confidence = word(Confidence)
    other_view = text(null=True)


class CaseShownSchema(Schema):
    """A case that a rule is tested by."""

    name = text()
    source = text()
    fires = fields.Boolean(required=True, **says("Whether the rule fires in it."))


class LastOverriddenSchema(Schema):
    """A run in which a rule was not followed."""

    run = text()
    at = text()
    reason = text()


class FeedbackSchema(Schema):
    """What the outfit's runs say of a rule."""

    fired = fields.Integer(required=True, **says("In how many of the kept runs it fired."))
    overridden = fields.Integer(required=True, **says("In how many of these it was overridden."))
    last = several(LastOverriddenSchema())


class OneRuleSchema(RuleShownSchema):
    """A rule with the parameters it uses, the cases that exercise it, and what runs say of it."""

    parameters = several(ParameterShownSchema())
    cases = several(CaseShownSchema())
    feedback = fields.Nested(
        FeedbackSchema(), **says("Only with a key of an outfit that may read.")
    )
    rule_set = one(TuningRuleSetSchema())


class TopicSchema(Schema):
    """A topic with its parameters and rules."""

    topic = text()
    title = text()
    about = text()
    parameters = several(ParameterShownSchema())
    rules = several(RuleShownSchema())


class LeverUnitSchema(Schema):
    """A change of a lever that is plainly visible behind the boat."""

    value = number()
    of = text()


DoesSchema = Schema.from_dict({name: number() for name in PROPERTIES}, name="LeverDoesSchema")


class LeverShownSchema(Schema):
    """What one unit more of a lever does to the wave: 1 is plain, a half is slight."""

    id = text()
    title = text("What more of it is.")
    unit = one(LeverUnitSchema())
    does = one(DoesSchema())
    advice_within = number("Units that the advised setting may be from this boat's best.")
    source = text()
    confidence = word(Confidence)


class TuningRulesSchema(Schema):
    """What `/v1/tuning` goes by. An outfit cannot set its own values here."""

    topics = several(TopicSchema())
    levers = several(LeverShownSchema())


class RulesSchema(Schema):
    """The whole rule base."""

    rule_set = one(TuningRuleSetSchema())
    stages = fields.List(fields.String(), required=True)
    topics = several(TopicSchema())
    tuning = one(TuningRulesSchema())
