"""``/v1/outfit``: whose key this is."""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify

from schemas.outfits import OutfitSchema
from service.api.auth import needs, principal
from service.api.body import Blueprint
from service.api.stored import the_store
from service.outfits.keys import Scope
from service.storage.tables import Outfit
from service.storage.usage import Quotas

blueprint = Blueprint("outfit", __name__, url_prefix="/v1", description="The outfit itself.")


def _shown(outfit: Outfit) -> Response:
    most = the_store().quotas or Quotas()
    return jsonify(
        id=outfit.id,
        name=outfit.name,
        time_zone=outfit.time_zone,
        retention_days=outfit.retention_days,
        usage={
            name: {"used": getattr(outfit, name), "limit": getattr(most, name)}
            for name in ("rows", "bytes")
        },
    )


@blueprint.route("/outfit")
@blueprint.response(200, OutfitSchema())
@needs(Scope.READ)
def read_outfit() -> Response:
    """The outfit that the key belongs to."""
    with the_store().reading() as session:
        return _shown(session.get_one(Outfit, principal().outfit))


@blueprint.route("/outfit", methods=["PATCH"])
@blueprint.arguments(OutfitSchema())
@blueprint.response(200, OutfitSchema())
@needs(Scope.ADMIN)
def change_outfit(changes: dict[str, Any]) -> Response:
    """Change its name, its time zone, or how long it keeps riders."""
    with the_store().writing() as session:
        outfit = session.get_one(Outfit, principal().outfit)
        for name, value in changes.items():
            setattr(outfit, name, value)
        return _shown(outfit)
