"""What is seen, as it is told: signs with their strength, signs alone, or that it is good."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, validate

from rules.tuning import load
from schemas import error_texts as say
from schemas.fields import Choice, Either, shown
from schemas.known import OneOfNames
from schemas.record import RecordSchema
from service.advice.tuning.requests import Seen, Strength

GOOD = "good"
MOST_SIGNS = 8


class Good(fields.String):
    """The word that stands for nothing amiss."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if value != GOOD:
            raise ValidationError(say.SIGNS_FORM_NOT.format(value=shown(value), good=GOOD))
        return []


_A_SIGN = OneOfNames(list(load().signs), error=say.NO_SIGN)


class SeenSchema(RecordSchema):
    """A sign and how strongly it is seen."""

    record = Seen

    sign = fields.String(
        required=True, validate=_A_SIGN, metadata={"description": "A sign of GET /v1/tuning/signs."}
    )
    strength = Choice(Strength, load_default=Strength.CLEAR)


class ClearlySeen(fields.String):
    """A sign by its name alone."""

    def deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        return Seen(super().deserialize(value, *args, **kwargs), Strength.CLEAR)


def _once(signs: list[Seen]) -> None:
    if len({seen.sign for seen in signs}) < len(signs):
        raise ValidationError(say.SIGNS_ONCE)


def signs(**kwargs: Any) -> Either:
    """A field for what is seen: a list of signs, or the word that nothing is amiss."""
    alone = ClearlySeen(
        validate=_A_SIGN,
        metadata={
            "description": "A sign of GET /v1/tuning/signs alone: short for the object with that "
            f'`sign` and the strength "{Strength.CLEAR}".'
        },
    )
    each = fields.List(
        Either({dict: fields.Nested(SeenSchema()), str: alone}, say.SIGN_FORM),
        validate=[validate.Length(max=MOST_SIGNS), _once],
    )
    return Either(
        {list: each, str: Good(metadata={"enum": [GOOD]})},
        say.SIGNS_FORM.format(good=GOOD),
        load_default=list,
        **kwargs,
    )
