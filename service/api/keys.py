"""``/v1/keys``: the API keys of an outfit, for its admins."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from flask import Response, current_app, jsonify, url_for
from marshmallow import ValidationError

from schemas import error_texts as say
from schemas.outfits import IssuedKeySchema, KeySchema, KeysSchema, NewKeySchema
from service.api import idempotency
from service.api.auth import needs, principal
from service.api.body import Blueprint
from service.api.stored import the_store
from service.outfits import keys
from service.outfits.keys import Scope
from service.storage.tables import Key, now

blueprint = Blueprint("keys", __name__, url_prefix="/v1", description="API keys.")


def _shown(key: Key) -> dict[str, Any]:
    def moment(at: datetime | None) -> str | None:
        return None if at is None else at.isoformat()

    return {
        "id": key.id,
        "name": key.name,
        "scopes": list(keys.scopes_of(key.scopes)),
        "created": moment(key.created),
        "expires": moment(key.expires),
        "last_used": moment(key.last_used),
        "revoked": moment(key.revoked),
    }


@blueprint.route("/keys")
@blueprint.response(200, KeysSchema())
@needs(Scope.ADMIN)
def read_keys() -> Response:
    """All keys of the outfit, revoked and expired ones too, without their tokens."""
    with the_store().reading() as session:
        return jsonify(items=[_shown(key) for key in keys.every(session, principal().outfit)])


@blueprint.route("/keys", methods=["POST"])
@idempotency.once(blueprint)
@blueprint.arguments(NewKeySchema())
@blueprint.response(201, IssuedKeySchema())
@needs(Scope.ADMIN)
def make_key(asked: dict[str, Any]) -> Response:
    """Make a key. Its token is in this answer and nowhere else.

    Sent again under its `Idempotency-Key` no second key is made, and the answer comes again with
    `token` null: only a hash of it is kept. Whoever never got the first answer revokes the key
    that this names and makes another under a new `Idempotency-Key`. A key makes none that outlives
    it.
    """
    expires = None if asked["days"] is None else now() + timedelta(days=asked["days"])
    own = principal().expires
    if own is not None and (expires is None or expires > own):
        raise ValidationError(
            {"days": [say.OUTLIVES_ITS_MAKER.format(until=f"{own:%Y-%m-%d %H:%M}")]}
        )
    with the_store().writing() as session:
        key, token = keys.issue(
            session, principal().outfit, asked["name"], asked["scopes"], expires
        )
        response = jsonify({**_shown(key), "token": token})
        response.status_code = 201
        response.headers["Location"] = url_for("keys.read_key", key_id=key.id)
        response.headers["Cache-Control"] = "no-store"
        without = current_app.json.dumps({**_shown(key), "token": None})
        idempotency.keep(session, response, without)
    return response


@blueprint.route("/keys/<key_id>")
@blueprint.response(200, KeySchema())
@needs(Scope.ADMIN)
def read_key(key_id: str) -> Response:
    """One key of the outfit."""
    with the_store().reading() as session:
        return jsonify(_shown(keys.find(session, principal().outfit, key_id)))


@blueprint.route("/keys/<key_id>", methods=["DELETE"])
@blueprint.response(204)
@needs(Scope.ADMIN)
def revoke_key(key_id: str) -> Response:
    """Revoke a key, from the next request on."""
    with the_store().writing() as session:
        keys.revoke(session, principal().outfit, key_id)
    return Response(status=204)
