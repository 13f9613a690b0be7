"""``/v1/outfit/rules``: an outfit's own values for parameters of the rules."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, jsonify
from marshmallow import ValidationError
from sqlalchemy import select

from rules.base import load
from rules.local import LocalRules
from rules.reading import RuleError
from schemas import error_texts as say
from schemas.outfits import OutfitRulesSchema
from service.api import etag
from service.api.auth import needs, principal
from service.api.body import Blueprint
from service.api.rulebase import from_file
from service.api.stored import the_store
from service.outfits.keys import Scope
from service.storage import tables
from service.storage.documents import hold

blueprint = Blueprint(
    "outfit_rules", __name__, url_prefix="/v1", description="The outfit's own values for rules."
)


def _shown(row: tables.LocalRules | None) -> Response:
    document = {"fleet": {}, "boats": {}} if row is None else row.document
    version = 0 if row is None else row.version
    return etag.put_on(jsonify(version=version, **document), version)


@blueprint.route("/outfit/rules")
@blueprint.response(200, OutfitRulesSchema())
@needs(Scope.READ)
def read_local_values() -> Response:
    """The values that go before those of the rule base, for the fleet and for single boats."""
    with the_store().reading() as session:
        return _shown(session.get(tables.LocalRules, principal().outfit))


@blueprint.route("/outfit/rules", methods=["PUT"])
@blueprint.arguments(OutfitRulesSchema())
@blueprint.arguments(etag.IfMatchSchema(), location="headers")
@blueprint.response(200, OutfitRulesSchema())
@needs(Scope.ADMIN)
def replace_local_values(loaded: dict[str, Any], _headers: dict[str, Any]) -> Response:
    """Put other values in their place; advice made with them says that they are local."""
    document = {"fleet": loaded["fleet"], "boats": loaded["boats"]}
    _check(document)
    with the_store().writing() as session:
        hold(session, principal().outfit)  # there may be no row yet that could be locked
        row = session.get(tables.LocalRules, principal().outfit)
        etag.check(0 if row is None else row.version)
        known = select(tables.Boat.id).where(
            tables.Boat.outfit_id == principal().outfit, tables.Boat.deleted.is_(None)
        )
        if unknown := set(document["boats"]) - set(session.scalars(known)):
            unheard = {name: [say.NO_BOAT_OF_THE_OUTFIT] for name in sorted(unknown)}
            raise ValidationError({"boats": unheard})
        if row is None:
            row = tables.LocalRules(outfit_id=principal().outfit, version=0)
            session.add(row)
        row.version, row.document, row.updated = row.version + 1, document, tables.now()
        session.flush()
        return _shown(row)


def _check(document: Mapping[str, Any]) -> None:
    try:
        LocalRules(document["fleet"], document["boats"], from_file())
    except RuleError:
        found: dict[str, Any] = {}
        if faults := _faults(document["fleet"]):
            found["fleet"] = faults
        boats = {boat: _faults(values) for boat, values in document["boats"].items()}
        if boats := {boat: faults for boat, faults in boats.items() if faults}:
            found["boats"] = boats
        raise ValidationError(found or {"fleet": [say.VALUES_DISAGREE]}) from None


def _faults(values: Mapping[str, Any]) -> dict[str, list[str]]:
    faults = {}
    for name, value in values.items():
        try:
            load().with_values({name: value})
        except RuleError as error:
            faults[name] = [str(error)]
    return faults
