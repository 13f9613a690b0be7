"""marshmallow's plain fields and validators, with errors that say what was sent and what is wanted.

Request schemas are made of these and of ``schemas.fields`` alone.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sized
from typing import Any, TypeVar

from marshmallow import ValidationError, fields, validate

from schemas import error_texts as say

SizedT = TypeVar("SizedT", bound=Sized)


def shown(value: object) -> str:
    """The value as it was sent, short enough for an error message."""
    text = json.dumps(value, ensure_ascii=False, default=repr)
    return text if len(text) <= 40 else text[:37] + "…"


def refused(value: object, wanted: str) -> ValidationError:
    """The error for a value in the place of which something else is wanted."""
    return ValidationError(say.NOT_ACCEPTED.format(value=shown(value), wanted=wanted))


class _NotLikedError(ValidationError):
    """The field does not take this value; which value is known one step further out."""


class Told(fields.Field[Any]):
    """A field whose errors say what was sent, if anything was, and what is wanted."""

    says = say.GIVE_VALUE

    def wanted(self) -> str:
        """What is accepted, as a sentence that begins small."""
        return self.says

    def make_error(self, key: str, **_: Any) -> ValidationError:
        if key == "required":
            return ValidationError(say.IS_MISSING.format(wanted=self.wanted()))
        return _NotLikedError(key)

    def deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        try:
            return super().deserialize(value, *args, **kwargs)
        except _NotLikedError:
            raise refused(value, self.wanted()) from None


class Raw(Told, fields.Raw):
    """Anything."""


class String(Told, fields.String):
    """Text."""

    says = say.GIVE_TEXT


class List(Told, fields.List[Any]):
    """A list."""

    says = say.GIVE_LIST


class Tuple(Told, fields.Tuple):
    """A list of so many."""

    says = say.GIVE_LIST

    def wanted(self) -> str:
        return say.GIVE_LIST_OF.format(count=len(self.tuple_fields))

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        if isinstance(value, list) and len(value) != len(self.tuple_fields):
            raise self.make_error("invalid")
        return super()._deserialize(value, *args, **kwargs)


class Dict(Told, fields.Dict):
    """An object with names of its own."""

    says = say.GIVE_OBJECT


class Nested(Told, fields.Nested):
    """An object with the fields of a schema."""

    def wanted(self) -> str:
        names = (field.data_key or name for name, field in self.schema.load_fields.items())
        return say.GIVE_OBJECT_WITH.format(names=", ".join(names))

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        if not isinstance(value, Mapping):
            raise self.make_error("type")
        return super()._deserialize(value, *args, **kwargs)


class Date(Told, fields.Date):
    """A date (RFC 3339)."""

    says = say.GIVE_DATE


class Moment(Told, fields.AwareDateTime):
    """A date and time with its offset from UTC (RFC 3339)."""

    says = say.GIVE_MOMENT


class Float(Told, fields.Float):
    """A number."""

    says = say.GIVE_NUMBER


class Boolean(Told, fields.Boolean):
    """True or false, in words too, as query parameters have it."""

    says = say.GIVE_TRUE_OR_FALSE


class Length(validate.Length):
    """So many characters, or entries."""

    def __call__(self, value: SizedT) -> SizedT:
        least, count = self.min or 0, len(value)
        most = count if self.max is None else self.max
        if not least <= count <= most:
            what = say.CHARACTERS if isinstance(value, str) else say.ENTRIES
            words = say.LENGTH_FROM_TO if least else say.LENGTH_AT_MOST
            raise ValidationError(words.format(count=count, what=what, least=least, most=self.max))
        return value


class Range(validate.Range):
    """A number from one to another, both allowed."""

    def _format_error(self, value: Any, _message: str) -> str:
        wanted = say.GIVE_NUMBER_FROM_TO.format(least=self.min, most=self.max)
        return say.NOT_ACCEPTED.format(value=shown(value), wanted=wanted)


class Regexp(validate.Regexp):
    """Text of a form, which ``error`` tells.

    The whole text has to be of it, a line break at the end too. Its pattern also stands in the
    service's description, where ECMA-262 reads it: with ``^`` and ``$``.
    """

    def __call__(self, value: Any) -> Any:
        if self.regex.fullmatch(value) is None:
            raise ValidationError(self._format_error(value))
        return value

    def _format_error(self, value: Any) -> str:
        return say.NOT_ACCEPTED.format(value=shown(value), wanted=self.error)


class OneOf(validate.OneOf):
    """One of several words."""

    def _format_error(self, value: Any) -> str:
        return say.NOT_ONE_OF.format(value=shown(value), choices=", ".join(self.choices))
