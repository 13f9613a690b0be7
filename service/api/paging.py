"""Lists in pages by key, not by offset: a page is as quick at the end as at the start."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from flask import Response, current_app, request
from marshmallow import Schema, ValidationError, fields, validate

from service.storage.tables import Kept

MOST = 200


class Cursor(fields.String):
    """Where the next page begins. What is in it is nobody's business."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        try:
            number = int(base64.urlsafe_b64decode(str(value).encode()).decode())
        except (ValueError, binascii.Error, UnicodeError):
            raise ValidationError("take it as it stands in the link to the next page.") from None
        if not 0 <= number < 2**63:
            raise ValidationError("take it as it stands in the link to the next page.")
        return number


class PageSchema(Schema):
    """Which part of a list."""

    limit = fields.Integer(
        load_default=50,
        validate=validate.Range(1, MOST),
        metadata={"description": f"How many, at most {MOST}."},
    )
    after = Cursor(metadata={"description": "From the link to the next page."})


def page(rows: Sequence[Kept], shown: Sequence[Mapping[str, Any]], limit: int) -> Response:
    """A page of ``limit``; ``rows`` may have one more, which says that there is a next one.

    The link to it is in the body and, as RFC 8288 has it, in ``Link``.
    """
    following = None
    if len(rows) > limit:
        mark = base64.urlsafe_b64encode(str(rows[limit - 1].number).encode()).decode()
        query = {**request.args.to_dict(), "after": mark}
        following = f"{request.path}?{urlencode(query)}"
    body = {"items": list(shown[:limit]), "next": following}
    response = Response(current_app.json.dumps(body), mimetype="application/json")
    if following is not None:
        response.headers["Link"] = f'<{following}>; rel="next"'
    return response
