"""JSON in and out, strictly.

Out of the box several bodies that are no interoperable JSON (RFC 8259, RFC 7493) are taken or end
in a 500: duplicate names, NaN, lone surrogates, depth and digits that exhaust the parser, a wrong
or missing content type, a content coding. Each is an answer that names the fault here.
"""

from __future__ import annotations

import json
import math
from typing import Any, NoReturn

import flask_smorest
from flask import Request
from flask.json.provider import DefaultJSONProvider
from marshmallow import Schema
from webargs.core import is_json
from webargs.flaskparser import FlaskParser
from werkzeug.exceptions import BadRequest, RequestEntityTooLarge, UnsupportedMediaType

from schemas import error_texts as say

MOST_BYTES = 1024 * 1024
MOST_LEVELS = 20
MOST_ITEMS = 1000
"""In one array or object. Schemas look at every item before they count them."""
MOST_VALUES = 100_000
"""In all. The largest hull has 13,000."""


class MalformedJSONError(ValueError):
    """The text is no JSON that every reader understands alike."""


def parse(body: bytes) -> Any:
    """The value of a JSON text. Raises :class:`MalformedJSONError` with the reason."""
    try:
        value = json.loads(
            body.decode(),
            object_pairs_hook=_object,
            parse_float=_finite,
            parse_constant=_not_a_number,
        )
    except UnicodeDecodeError:
        raise MalformedJSONError(say.NOT_UTF8) from None
    except RecursionError:
        raise MalformedJSONError(say.NESTED_TOO_DEEP) from None
    except json.JSONDecodeError as error:
        raise MalformedJSONError(
            say.JSON_FAULT.format(what=error.msg.lower(), line=error.lineno, column=error.colno)
        ) from None
    except MalformedJSONError:
        raise
    except ValueError:  # from int(): more digits than Python converts
        raise MalformedJSONError(say.TOO_MANY_DIGITS) from None
    _check_size(value)
    if b"\\u" in body:
        _check_characters(value)
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(pairs) > MOST_ITEMS:
        raise MalformedJSONError(say.TOO_MANY_MEMBERS.format(most=MOST_ITEMS))
    value: dict[str, Any] = {}
    for name, member in pairs:
        if name in value:
            raise MalformedJSONError(say.NAME_TWICE.format(name=json.dumps(name[:40])))
        value[name] = member
    return value


def _finite(literal: str) -> float:
    number = float(literal)
    if not math.isfinite(number):
        raise MalformedJSONError(say.MORE_THAN_A_DOUBLE.format(number=literal[:40]))
    return number


def _not_a_number(literal: str) -> NoReturn:
    raise MalformedJSONError(say.NOT_A_JSON_NUMBER.format(number=literal))


def _check_size(value: Any) -> None:
    level, values = [value], 0
    for _ in range(MOST_LEVELS):
        containers = [each for each in level if isinstance(each, dict | list)]
        if any(len(each) > MOST_ITEMS for each in containers):
            raise MalformedJSONError(say.TOO_MANY_MEMBERS.format(most=MOST_ITEMS))
        level = [
            child
            for parent in containers
            for child in (parent.values() if isinstance(parent, dict) else parent)
        ]
        values += len(level)
        if values > MOST_VALUES:
            raise MalformedJSONError(say.TOO_MANY_VALUES.format(most=MOST_VALUES))
        if not level:
            return
    raise MalformedJSONError(say.TOO_DEEP.format(most=MOST_LEVELS))


def _check_characters(value: Any) -> None:
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise MalformedJSONError(say.HALF_A_CHARACTER) from None


def read(request: Request) -> Any:
    """The JSON body of a request; 400, 413 or 415 with the reason where there is none."""
    coding = request.headers.get("Content-Encoding", "identity")
    if coding.strip().lower() != "identity":
        # RFC 9110, 15.5.16: say which coding would have been accepted.
        raise _unsupported(say.CODING_NOT_READ.format(coding=repr(coding[:40])), coding)
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if not is_json(request.mimetype) or charset != "utf-8":
        raise _unsupported(say.SEND_JSON)
    body = request.get_data(cache=True)
    # Of a body of unknown length werkzeug reads up to the limit and says nothing of the rest.
    most = request.max_content_length
    if request.content_length is None and most is not None and len(body) >= most:
        raise RequestEntityTooLarge
    if not body.strip():
        raise BadRequest(say.EMPTY_BODY)
    try:
        return parse(body)
    except MalformedJSONError as error:
        raise BadRequest(say.NOT_JSON.format(why=error)) from error


class _NotRead(UnsupportedMediaType):
    """A 415 that says in its headers what would have been read."""

    coding: bool = False

    def get_headers(self, *args: Any, **kwargs: Any) -> list[tuple[str, str]]:
        wanted = ("Accept-Encoding", "identity") if self.coding else ("Accept", "application/json")
        return [*super().get_headers(*args, **kwargs), wanted]


def _unsupported(detail: str, coding: str = "") -> _NotRead:
    error = _NotRead(detail)
    error.coding = bool(coding)
    return error


class StrictParser(FlaskParser):
    """Reads the body as above and leaves the rest to webargs."""

    def load_json(self, req: Request, schema: Schema) -> Any:
        return read(req)


class Blueprint(flask_smorest.Blueprint):  # type: ignore[misc]
    """The blueprint of this API: every body goes through the strict parser."""

    ARGUMENTS_PARSER = StrictParser()


class StrictJSON(DefaultJSONProvider):
    """Never writes NaN or an infinity, which no JSON reader has to take."""

    sort_keys = False
    ensure_ascii = False

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        return super().dumps(obj, allow_nan=False, **kwargs)
