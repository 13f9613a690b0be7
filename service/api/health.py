"""Whether the process lives, and whether it can advise."""

from __future__ import annotations

from marshmallow import Schema, fields
from sqlalchemy.exc import SQLAlchemyError
from werkzeug.exceptions import ServiceUnavailable

import rules
from schemas import error_texts as say
from service.api.body import Blueprint
from service.api.stored import the_store
from service.storage import Store, schema


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
    """The rule base loads and the store is there, so advice can be given and kept."""
    try:
        rules.load()
    except Exception as error:  # whatever is wrong with it, the service is not ready
        raise ServiceUnavailable(say.RULES_DO_NOT_LOAD) from error
    if fault := _fault_of(the_store()):
        raise ServiceUnavailable(fault)
    return {"status": "ready"}


def _fault_of(store: Store) -> str | None:
    """Why nothing can be kept, if nothing can."""
    wanted = schema.head()
    try:
        found = schema.current(store)
    except SQLAlchemyError:
        return say.STORE_AWAY
    if found is None:
        return say.STORE_EMPTY
    if found != wanted:
        words = say.STORE_LATER if schema.later(found) else say.STORE_OLDER
        return words.format(found=found, wanted=wanted)
    return None if store.is_writable() else say.STORE_NOT_WRITABLE
