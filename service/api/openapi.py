"""The specification at ``/openapi.json`` (OpenAPI 3.1), written from the schemas in use."""

from __future__ import annotations

from typing import Any

import flask_smorest
from flask import Flask, Response
from marshmallow import fields
from werkzeug.exceptions import HTTPException

from schemas.fields import Either
from service.api import errors

SETTINGS = {
    "API_TITLE": "wavesetup",
    "API_VERSION": "v1",
    "OPENAPI_VERSION": "3.1.0",
    "OPENAPI_URL_PREFIX": "/",
    "API_SPEC_OPTIONS": {
        "info": {
            "description": "Explained set-up advice for throwing the right surf wave for a rider, "
            "from a rule base on a real hydrostatic calculation.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
    },
}


def either2property(self: Any, field: Any, **_: Any) -> dict[str, Any]:
    """Several forms of one value."""
    if not isinstance(field, Either):
        return {}
    forms = [self.field2property(form) for form in field.forms.values()]
    if field.allow_none:
        forms.append({"type": "null"})
    return {"oneOf": forms}


def tuple2property(self: Any, field: Any, **_: Any) -> dict[str, Any]:
    """An array of fixed length, which apispec does not know."""
    if not isinstance(field, fields.Tuple):
        return {}
    items = [self.field2property(item) for item in field.tuple_fields]
    return {
        "type": "array",
        "prefixItems": items,
        "minItems": len(items),
        "maxItems": len(items),
    }


class Api(flask_smorest.Api):  # type: ignore[misc]
    """flask-smorest with this project's errors."""

    ERROR_SCHEMA = errors.ProblemSchema

    def __init__(self, app: Flask) -> None:
        super().__init__(app)
        self.ma_plugin.converter.add_attribute_function(either2property)
        self.ma_plugin.converter.add_attribute_function(tuple2property)

    def handle_http_exception(self, error: HTTPException) -> Response:
        return errors.handle_http_exception(error)

    def _register_responses(self) -> None:
        # flask-smorest writes its error responses with the default media type; they are problems.
        self.DEFAULT_RESPONSE_CONTENT_TYPE = errors.MEDIA_TYPE
        super()._register_responses()
        del self.DEFAULT_RESPONSE_CONTENT_TYPE  # back to that of the class
