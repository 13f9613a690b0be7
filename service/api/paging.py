"""Lists in pages by key, not by offset: a page is as quick at the end as at the start."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple, TypeVar
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


class Mark(NamedTuple):
    """The last row of a page, by what its answer shows of it.

    Its number would tell how much all outfits together keep. ``moment`` is what a list by time is
    sorted by, else ``None``.
    """

    row_id: str
    created: datetime
    moment: datetime | None


def whole(moment: datetime) -> int:
    """A moment as a number: microseconds, which is what the store keeps."""
    return (moment - _START) // _MICROSECOND


def moment(number: int) -> datetime:
    """The moment of a number."""
    return _START + number * _MICROSECOND


class Cursor(plain.String):
    """The mark after which the next page begins, as one word."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        try:
            text = base64.urlsafe_b64decode(str(value).encode()).decode()
            created, at, row_id = text.split(".", 2)
            numbers = int(created), int(at or 0)
        except (ValueError, binascii.Error, UnicodeError):
            raise plain.refused(value, say.PAGE_AS_IT_STANDS) from None
        # Microseconds of this century and the next; an id has no NUL, which no database takes.
        if not all(0 <= number < 2**53 for number in numbers) or not row_id.isprintable():
            raise plain.refused(value, say.PAGE_AS_IT_STANDS)
        return Mark(row_id, moment(numbers[0]), moment(numbers[1]) if at else None)


def _written(mark: Mark) -> str:
    at = "" if mark.moment is None else whole(mark.moment)
    text = f"{whole(mark.created)}.{at}.{mark.row_id}"
    return base64.urlsafe_b64encode(text.encode()).decode()


class PageSchema(InputSchema):
    """Which part of a list."""

    limit = CountInWords(
        1,
        MOST,
        load_default=50,
        metadata={"description": f"How many, at most {MOST}."},
    )
    after = Cursor(load_default=None, metadata={"description": "From the link to the next page."})

    def by_time(self, _asked: Mapping[str, Any]) -> bool:
        """Whether this list is sorted by a moment."""
        return False

    @validates_schema(skip_on_field_errors=True)
    def _of_this_list(self, asked: dict[str, Any], **_: Any) -> None:
        mark = asked["after"]
        if mark is not None and (mark.moment is not None) != self.by_time(asked):
            raise ValidationError(say.PAGE_AS_IT_STANDS, "after")


def page(
    rows: Sequence[RowT], shown: Sequence[Mapping[str, Any]], limit: int,
    at: Callable[[RowT], datetime] | None = None,
) -> Response:  # fmt: skip
    """A page of ``limit``; ``rows`` may have one more, which says that there is a next one.

    ``at`` is the moment by which the list is sorted; without it, it is in the order in which they
    came. The link to the next page is in the body and in ``Link``.
    """
    address = following(rows, limit, at)
    body = {"items": list(shown[:limit]), "next": address}
    response = Response(current_app.json.dumps(body), mimetype="application/json")
    return linked(response, address)


def following(
    rows: Sequence[RowT], limit: int, at: Callable[[RowT], datetime] | None = None
) -> str | None:
    """The address of the next page, if there is one."""
    if len(rows) <= limit:
        return None
    last = rows[limit - 1]
    mark = _written(Mark(last.id, last.created, at(last) if at else None))
    return f"{request.path}?{urlencode({**request.args.to_dict(), 'after': mark})}"


def linked(response: Response, address: str | None) -> Response:
    """The response with the next page in ``Link`` (RFC 8288)."""
    if address is not None:
        response.headers["Link"] = f'<{address}>; rel="next"'
    return response
