"""The shape of the rules' answers, for the specification; see :mod:`schemas.shapes`."""

from __future__ import annotations

from marshmallow import Schema, fields

from rules.model import Confidence, Stage
from schemas.shapes import RuleSetSchema, one, says, several, text, word


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
    rule_set = one(RuleSetSchema())


class TopicSchema(Schema):
    """A topic with its parameters and rules."""

    topic = text()
    title = text()
    about = text()
    parameters = several(ParameterShownSchema())
    rules = several(RuleShownSchema())


class RulesSchema(Schema):
    """The whole rule base."""

    rule_set = one(RuleSetSchema())
    stages = fields.List(fields.String(), required=True)
    topics = several(TopicSchema())
