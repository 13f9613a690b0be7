"""ETag, If-Match and If-None-Match (RFC 9110, 13): nobody overwrites what they have not seen."""

from __future__ import annotations

from flask import Response, request
from werkzeug.exceptions import PreconditionFailed, PreconditionRequired

from schemas import error_texts as say
from schemas import plain
from schemas.record import InputSchema
from schemas.units import System


class IfMatchSchema(InputSchema):
    """The version that a change is meant for, or that it is not meant for."""

    if_match = plain.String(
        data_key="If-Match",
        metadata={"description": "The ETag of what is to be changed, or `*`. Without it: 428."},
    )
    if_none_match = plain.String(
        data_key="If-None-Match",
        metadata={
            "description": "An ETag, or `*` for any: where there is such a version already, "
            "nothing is changed (412)."
        },
    )


def tag(version: int, system: System = System.METRIC) -> str:
    """The version; another system of units is another representation, so another tag."""
    return str(version) if system is System.METRIC else f"{version}-{system}"


def put_on(response: Response, version: int, system: System = System.METRIC) -> Response:
    response.set_etag(tag(version, system))
    return response


def check(version: int | None, *, required: bool = True) -> None:
    """412 where the current version, ``None`` where there is none, is not what the headers want.

    Without ``If-Match``: 428 (RFC 6585) if it is ``required``.
    """
    tags = [] if version is None else [tag(version, system) for system in System]
    named = "If-Match" in request.headers
    # In the order of RFC 9110, 13.2.2. Tags are compared strongly here (13.1.1), and so a weak
    # one never matches; but weakly there (13.1.2).
    if named and not any(request.if_match.contains(each) for each in tags):
        raise changed()
    if any(request.if_none_match.contains_weak(each) for each in tags):
        raise PreconditionFailed(say.THERE_ALREADY)
    if required and not named:
        raise PreconditionRequired(say.IF_MATCH_WANTED)


def changed() -> PreconditionFailed:
    """The 412: someone else was here."""
    return PreconditionFailed(say.CHANGED_SINCE)
