"""ETag, If-Match and If-None-Match (RFC 9110, 13): nobody overwrites what they have not seen."""

from __future__ import annotations

from flask import Response, request
from werkzeug.exceptions import PreconditionFailed, PreconditionRequired

from schemas import error_texts as say
from schemas import plain
from schemas.record import InputSchema
from schemas.units import System


class IfMatchSchema(InputSchema):
    """The version that a change is meant for."""

    if_match = plain.String(
        data_key="If-Match",
        metadata={"description": "The ETag of what is to be changed, or `*`. Without it: 428."},
    )


def tag(version: int, system: System = System.METRIC) -> str:
    """The version; another system of units is another representation, so another tag."""
    return str(version) if system is System.METRIC else f"{version}-{system}"


def put_on(response: Response, version: int, system: System = System.METRIC) -> Response:
    response.set_etag(tag(version, system))
    return response


def check(version: int, *, required: bool = True) -> None:
    """412 where ``If-Match`` names another version than this, the current one.

    Without the header: 428 (RFC 6585) if it is ``required``.
    """
    if "If-Match" not in request.headers:
        if required:
            raise PreconditionRequired(say.IF_MATCH_WANTED)
        return
    # Tags are compared strongly: a weak one never matches.
    if not any(request.if_match.contains(tag(version, system)) for system in System):
        raise changed()


def changed() -> PreconditionFailed:
    """The 412: somebody else was here."""
    return PreconditionFailed(say.CHANGED_SINCE)
