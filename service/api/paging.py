"""Lists in pages by key, not by offset: a page is as quick at the end as at the start."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar
from urllib.parse import urlencode

from flask import Response, current_app, request
from marshmallow import ValidationError, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.fields import CountInWords
from schemas.record import InputSchema
from service.storage.tables import Kept

MOST = 200
_START = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)

RowT = TypeVar("RowT", bound=Kept)
Key = tuple[int, ...]
"""What a list is sorted by, as whole numbers; the last one tells any two rows apart."""


def by_number(row: RowT) -> Key:
    """The order in which they came."""
    return (row.number,)


def whole(moment: datetime) -> int:
    """A moment as a number: microseconds, which is what the store keeps."""
    return (moment - _START) // _MICROSECOND


def moment(number: int) -> datetime:
    """The moment of a number."""
    return _START + number * _MICROSECOND


class Cursor(plain.String):
    """The key after which the next page begins. What is in it is nobody's business."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        try:
            text = base64.urlsafe_b64decode(str(value).encode()).decode()
            key = tuple(int(part) for part in text.split("."))
        except (ValueError, binascii.Error, UnicodeError):
            raise plain.refused(value, say.PAGE_AS_IT_STANDS) from None
        # Row numbers, and microseconds of this century and the next.
        if not all(0 <= number < 2**53 for number in key):
            raise plain.refused(value, say.PAGE_AS_IT_STANDS)
        return key


class PageSchema(InputSchema):
    """Which part of a list."""

    limit = CountInWords(
        1,
        MOST,
        load_default=50,
        metadata={"description": f"How many, at most {MOST}."},
    )
    after = Cursor(load_default=None, metadata={"description": "From the link to the next page."})

    def parts(self, _asked: Mapping[str, Any]) -> int:
        """How many numbers a key of this list has."""
        return 1

    @validates_schema(skip_on_field_errors=True)
    def _of_this_list(self, asked: dict[str, Any], **_: Any) -> None:
        if asked["after"] is not None and len(asked["after"]) != self.parts(asked):
            raise ValidationError(say.PAGE_AS_IT_STANDS, "after")


def page(
    rows: Sequence[RowT], shown: Sequence[Mapping[str, Any]], limit: int,
    key: Callable[[RowT], Key] = by_number,
) -> Response:  # fmt: skip
    """A page of ``limit``; ``rows`` may have one more, which says that there is a next one.

    The link to it is in the body and in ``Link``.
    """
    address = following(rows, limit, key)
    body = {"items": list(shown[:limit]), "next": address}
    response = Response(current_app.json.dumps(body), mimetype="application/json")
    return linked(response, address)


def following(
    rows: Sequence[RowT], limit: int, key: Callable[[RowT], Key] = by_number
) -> str | None:
    """The address of the next page, if there is one."""
    if len(rows) <= limit:
        return None
    mark = base64.urlsafe_b64encode(".".join(map(str, key(rows[limit - 1]))).encode()).decode()
    return f"{request.path}?{urlencode({**request.args.to_dict(), 'after': mark})}"


def linked(response: Response, address: str | None) -> Response:
    """The response with the next page in ``Link`` (RFC 8288)."""
    if address is not None:
        response.headers["Link"] = f'<{address}>; rel="next"'
    return response
