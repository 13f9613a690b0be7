"""What is seen, as it is told: signs with their strength, signs alone, or that it is good."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, post_load

from rules.tuning import load
from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Either
from schemas.known import OneOfNames
from schemas.record import RecordSchema
from service.advice.tuning.requests import Seen, Strength

GOOD = "good"
MOST_SIGNS = 8


class Good(plain.String):
    """The word that stands for nothing amiss."""

    says = say.SIGNS_FORM.format(good=GOOD)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if value != GOOD:
            raise self.make_error("invalid")
        return []


_A_SIGN = OneOfNames(list(load().signs), error=say.NO_SIGN)


def written() -> plain.Raw:
    """A member that an answer has and a request need not: it may come back, and says nothing."""
    return plain.Raw(
        allow_none=True, metadata={"description": "As the answer wrote it; taken and ignored."}
    )


class SeenSchema(RecordSchema):
    """A sign and how strongly it is seen. The words that an answer's ``seen`` adds may stay."""

    record = Seen

    sign = plain.String(
        required=True, validate=_A_SIGN, metadata={"description": "A sign of GET /v1/tuning/signs."}
    )
    strength = Choice(Strength, load_default=Strength.CLEAR)
    says = written()
    look_alike = written()
    gone = written()

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> Any:
        return Seen(data["sign"], data["strength"])


class ClearlySeen(plain.String):
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
    each = plain.List(
        Either({dict: plain.Nested(SeenSchema()), str: alone}, say.SIGN_FORM),
        validate=[plain.Length(max=MOST_SIGNS), _once],
    )
    return Either(
        {list: each, str: Good(metadata={"enum": [GOOD]})},
        Good.says,
        load_default=list,
        **kwargs,
    )
