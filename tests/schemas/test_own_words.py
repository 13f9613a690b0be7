"""Every fault that a request schema can find is told in this project's words, and tells the value.

All schemas that any address takes are walked, each field down to the last; each is given what it
does not take.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from marshmallow import Schema, ValidationError, fields, missing, validate

from schemas import error_texts
from schemas.fields import Either
from schemas.plain import shown
from service.api.errors import faults

BAD: list[Any] = [
    None, True, 1.5, -(10**12), "", "no such word \N{SNOWMAN}", "x" * 3000, "a\u2028b", [],
    [[]] * 70, [1, 2, 3], {"no such": 1}, {"no such": "word"}, "2026-07-04T10:00:00",
    "1999-01-01T00:00:00Z",
]  # fmt: skip


def patterns(texts: list[str]) -> list[re.Pattern[str]]:
    def pattern(text: str) -> str:
        parts = re.split(r"\{[a-z_]*\}", text)
        return ".*".join(re.escape(part) for part in parts)

    return [re.compile(pattern(text), re.DOTALL) for text in texts]


def library_texts() -> list[str]:
    """Of marshmallow's fields, validators and schemas."""
    kinds = [kind for kind in vars(fields).values() if isinstance(kind, type)]
    found = [
        text
        for kind in kinds
        for text in {
            **getattr(kind, "default_error_messages", {}),
        }.values()
    ]
    for kind in vars(validate).values():
        if isinstance(kind, type):
            found += [
                text
                for name, text in vars(kind).items()
                if name.startswith(("message_", "default_message")) and " " in str(text)
            ]
    return [*found, *Schema._default_error_messages.values(), "Invalid value."]


OURS = patterns(
    [
        text
        for name, text in vars(error_texts).items()
        # These two are filled with others of these.
        if name.isupper() and name not in ("FIRST_FAULT", "FIRST_OF_FAULTS", "PROBLEM")
    ]
)
THEIRS = patterns([text for text in library_texts() if re.search("[a-z]{3}", text)])


def request_schemas(app: Flask) -> dict[str, Schema]:
    """Every schema that stands in ``arguments`` of any view, by view."""
    found = {}
    for name, view in app.view_functions.items():
        views = [getattr(view, "view_class", None) or view]
        for each in views:
            told = getattr(each, "_apidoc", {})
            for place in told.get("arguments", {}).get("parameters", []):
                found[f"{name} {place['in']}"] = place["schema"]
    return found


def every_field(schema: Schema, path: str = "") -> Iterator[tuple[str, fields.Field[Any]]]:
    for name, field in schema.load_fields.items():
        yield from inner(field, f"{path}/{name}")


def inner(field: Any, path: str) -> Iterator[tuple[str, fields.Field[Any]]]:
    yield path, field
    if isinstance(field, Either):
        for kind, form in field.forms.items():
            yield from inner(form, f"{path}({kind.__name__})")
    elif isinstance(field, fields.Nested):
        yield from every_field(field.schema, path)
    elif isinstance(field, fields.List):
        yield from inner(field.inner, f"{path}/*")
    elif isinstance(field, fields.Tuple):
        for number, each in enumerate(field.tuple_fields):
            yield from inner(each, f"{path}/{number}")
    elif isinstance(field, fields.Dict) and field.value_field is not None:
        yield from inner(field.value_field, f"{path}/*")


def told(call: Any, *values: Any) -> Iterator[tuple[str, str]]:
    try:
        call(*values)
    except LookupError:
        return  # an id that nothing has: 404
    except ValidationError as error:
        yield from faults(error.messages)


def check(message: str, where: str) -> None:
    assert any(each.fullmatch(message) for each in OURS), (where, message)
    assert not any(each.fullmatch(message) for each in THEIRS), (where, message)


def test_the_schemas_are_found(app: Flask) -> None:
    found = request_schemas(app)
    names = {type(schema).__name__ for schema in found.values()}
    wanted = {
        "AdviceRequestSchema", "TuningRequestSchema", "OutingRequestSchema", "BookingSchema",
        "BookingListSchema", "SetupSchema", "CalibrationSchema", "NewRunSchema", "BatchSchema",
        "IdempotencySchema", "OutfitSchema", "OutfitRulesSchema", "NewKeySchema",
    }  # fmt: skip
    assert wanted <= names


def test_every_field_speaks_for_itself(app: Flask) -> None:
    walked = 0
    with app.test_request_context():
        for view, schema in request_schemas(app).items():
            for path, field in every_field(schema):
                walked += 1
                for value in BAD:
                    for pointer, message in told(field.deserialize, value):
                        check(message, f"{view} {path} {value!r:.40}")
                        counted = re.match(r"has \d+ (characters|entries): give ", message)
                        if pointer or counted or isinstance(value, dict | list):
                            continue
                        same = [value, float(value)] if type(value) is int else [value]
                        begins = tuple(f"{shown(each)} " for each in same)
                        assert message.startswith(begins), (view, path, value, message)
    assert walked > 500


def test_what_is_missing_or_unknown_is_told_in_own_words(app: Flask) -> None:
    told_so = 0
    with app.test_request_context():
        for view, schema in request_schemas(app).items():
            bodies: list[Any] = [{}, {"no such": 1}, []]
            for body in bodies:
                for pointer, message in told(lambda b, s=schema: s.load(b, unknown="raise"), body):
                    check(message, f"{view} {pointer} {body}")
                    told_so += message.startswith("is missing: give ")
            for path, field in every_field(schema):
                if field.required:
                    for _, message in told(field.deserialize, missing):
                        check(message, f"{view} {path}")
    assert told_so > 20


@pytest.mark.parametrize("text", ["Not a valid list.", "Unknown field.", "Must be one of: a, b.",
                                  "Missing data for required field.",
                                  "Length must be between 1 and 40."])  # fmt: skip
def test_a_library_text_would_be_seen(text: str) -> None:
    with pytest.raises(AssertionError):
        check(text, "")
