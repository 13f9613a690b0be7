"""What all stored documents have in common.

A document is kept as it was sent, its quantities in plain metric numbers; so it is written in any
system of units without loss, and what was left out stays left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from marshmallow import Schema, fields, pre_load

from schemas import plain
from schemas.fields import Choice, Either, Identifier, Quantity, QuantityByName
from schemas.record import InputSchema
from schemas.request import UnitsSchema
from schemas.units import System, UnknownQuantityError, express, read

# Significant digits. With these, what was sent in one system, read in the other and sent back in
# that reads the same again in the first: 180 lb stay 180 lb, and 2.55 m stay 2.55 m.
_KEPT = 15
_WRITTEN = {System.METRIC: 10, System.US: 12}


class When(plain.Moment):
    """A moment with its offset from UTC (RFC 3339), in this century."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> datetime:
        moment = super()._deserialize(value, attr, data, **kwargs)
        if not 2000 <= moment.year < 2100:
            raise self.make_error("invalid")
        return moment.astimezone(UTC)


class StoredSchema(UnitsSchema):
    """A document. What the service itself writes may be sent back, and is passed over."""

    id = Identifier(
        load_default=None,
        metadata={"description": "Chosen by the caller or, left out, by the service."},
    )
    version = fields.Integer(dump_only=True, metadata={"description": "Counts the changes."})
    created = fields.DateTime(dump_only=True)
    updated = fields.DateTime(dump_only=True)

    @pre_load
    def _without_read_only(self, data: Any, **_: Any) -> Any:
        if not isinstance(data, Mapping):
            return data
        return {name: value for name, value in data.items() if name not in read_only(self)}


class UnitsQuerySchema(InputSchema):
    """What the answer is written in."""

    units = Choice(
        System,
        load_default=System.METRIC,
        metadata={"description": "Units that the answer is written in."},
    )


def read_only(schema: Schema) -> set[str]:
    """The names that the service itself writes."""
    return {name for name, field in schema.fields.items() if field.dump_only}


def document_of(sent: Mapping[str, Any], schema: Schema) -> dict[str, Any]:
    """What is kept of a body that the schema has loaded without error."""
    passed_over = {"id", "units", *read_only(schema)}
    own = {name: value for name, value in sent.items() if name not in passed_over}
    return kept(own, schema, system_of(sent))


def system_of(sent: Mapping[str, Any]) -> System:
    """The system of units that a body says it is written in."""
    return System.US if sent.get("units") == System.US else System.METRIC


def written(document: Mapping[str, Any], schema: Schema, wanted: System) -> dict[str, Any]:
    """A kept document in a system of units."""
    return _document(document, schema, _Conversion(System.METRIC, wanted, _WRITTEN[wanted]))


def kept(document: Mapping[str, Any], schema: Schema, given: System) -> dict[str, Any]:
    """A document, or a part of one, with its quantities as plain metric numbers.

    What cannot be read stays as it is, for the schema to complain about. A part that names its
    own units (a whole request) stays as it is, too.
    """
    return _document(document, schema, _Conversion(given, System.METRIC, _KEPT))


@dataclass(frozen=True, slots=True)
class _Conversion:
    given: System
    wanted: System
    digits: int

    def __call__(self, value: Any, field: Quantity) -> Any:
        try:
            inside = float(read(value, field.dimension, self.given))
            number = float(f"{express(inside, field.dimension, self.wanted):.{self.digits}g}")
        except (UnknownQuantityError, ValueError, OverflowError):
            return value
        return value if number == value else number


def _document(document: Mapping[str, Any], schema: Schema, convert: _Conversion) -> dict[str, Any]:
    return {
        name: _value(value, schema.fields.get(name), convert) for name, value in document.items()
    }


def _value(value: Any, field: Any, convert: _Conversion) -> Any:
    if isinstance(field, Either):
        field = field.forms.get(type(value))
    if isinstance(field, Quantity):
        return convert(value, field)
    if isinstance(field, fields.Nested) and isinstance(value, Mapping):
        own_units = isinstance(field.schema, UnitsSchema)
        return value if own_units else _document(value, field.schema, convert)
    if isinstance(field, fields.List) and isinstance(value, list):
        return [_value(item, field.inner, convert) for item in value]
    if isinstance(field, fields.Tuple) and isinstance(value, list):
        pairs = zip(value, field.tuple_fields, strict=False)
        return [_value(item, inner, convert) for item, inner in pairs]
    if isinstance(field, QuantityByName) and isinstance(value, Mapping):
        return {name: _value(item, field.value_field, convert) for name, item in value.items()}
    return value


def merge_patch(target: Any, patch: Any) -> Any:
    """JSON Merge Patch (RFC 7396, section 2)."""
    if not isinstance(patch, Mapping):
        return patch
    merged = dict(target) if isinstance(target, Mapping) else {}
    for name, value in patch.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = merge_patch(merged.get(name), value)
    return merged
