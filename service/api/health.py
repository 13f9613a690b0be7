"""Whether the process lives, and whether it can advise."""

from __future__ import annotations

from marshmallow import Schema, fields
from werkzeug.exceptions import ServiceUnavailable

import rules
from service.api.body import Blueprint


class StatusSchema(Schema):
    """How the service is."""

    status = fields.String(required=True)


blueprint = Blueprint("health", __name__, description="Operations.")


@blueprint.route("/healthz")
@blueprint.response(200, StatusSchema())
def healthz() -> dict[str, str]:
    """The process answers."""
    return {"status": "ok"}


@blueprint.route("/readyz")
@blueprint.response(200, StatusSchema())
def readyz() -> dict[str, str]:
    """The rule base loads, so advice can be given."""
    try:
        rules.load()
    except Exception as error:  # whatever is wrong with it, the service is not ready
        raise ServiceUnavailable("The rule base does not load.") from error
    return {"status": "ready"}
