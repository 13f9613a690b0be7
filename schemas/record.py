"""A schema for each dataclass of the domain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, TypeVar

from marshmallow import Schema, post_load

from schemas import error_texts as say

RecordT = TypeVar("RecordT")


def as_record(record: type[RecordT], data: Mapping[str, Any]) -> RecordT:
    """The dataclass from what was loaded; its sequences are tuples."""
    return record(
        **{name: tuple(value) if isinstance(value, list) else value for name, value in data.items()}
    )


class InputSchema(Schema):
    """What may be sent; a fault tells which fields there are."""

    error_messages: dict[str, str] = {  # noqa: RUF012  # as marshmallow declares it
        "unknown": say.NO_SUCH_FIELD,
        "type": say.GIVE_OBJECT_WITH,
    }

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        names = ", ".join(field.data_key or name for name, field in self.load_fields.items())
        for key, message in InputSchema.error_messages.items():
            self.error_messages[key] = message.format(names=names)


class RecordSchema(InputSchema):
    """Loads into the dataclass ``record``, whose fields the schema's are named after."""

    record: ClassVar[type[Any]]

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> Any:
        return as_record(self.record, data)
