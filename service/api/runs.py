"""``/v1/runs``: what was advised, word for word, and how it rode."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from flask import Response
from marshmallow import ValidationError
from sqlalchemy import ColumnElement
from werkzeug.exceptions import Gone

from schemas import error_texts as say
from schemas.card import card
from schemas.request import Asked
from schemas.run_log import kept
from schemas.runs import NewRunSchema, RunFilterSchema, RunSchema, run_faults
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import AdviceRequest
from service.api.accept import TEXT, offers
from service.api.advice import answered
from service.api.auth import needs, principal
from service.api.body import Blueprint
from service.api.collection import Kind, collection
from service.api.setups import of_boat_and_rider
from service.api.stored import StoredBoats, StoredRiders, StoredSetups, the_store
from service.boats.fleet import UnknownBoatError
from service.outfits.ids import stood_for
from service.outfits.keys import Scope
from service.storage import tables
from service.storage.documents import Shelf
from service.storage.tables import Document, now

FOR_GOOD = ("request", "stood_for", "tuning")
"""What the service writes into a run; the rest may be filled in later."""


def _where(asked: Mapping[str, Any]) -> list[ColumnElement[bool]]:
    conditions = of_boat_and_rider(tables.Run, asked)
    if "since" in asked:
        conditions.append(tables.Run.started >= asked["since"])
    if "until" in asked:
        conditions.append(tables.Run.started < asked["until"])
    return conditions


def _beside(row: tables.Run) -> dict[str, Any]:
    return {
        "started": row.started.isoformat(),
        "answer": row.answer,
        "rule_set": row.rule_set,
        "boat_version": row.boat_version,
    }


def blueprint(boats: StoredBoats, riders: StoredRiders, setups: StoredSetups) -> Blueprint:
    """The resource; these are where ids are looked up."""

    def columns_of(
        loaded: Mapping[str, Any], document: Document, row: tables.Run | None
    ) -> dict[str, Any]:
        if row is None:
            columns = _advised(loaded, document, boats)
            _check_overridden(columns["answer"], loaded["overridden"])
            return columns
        _check_overridden(row.answer, loaded["overridden"])
        document |= {name: row.document[name] for name in FOR_GOOD if name in row.document}
        if row.boat_id is not None and (loaded["settings"] or loaded["changes"]):
            _check_settings(boats, row.boat_id, loaded)
        return {"rating": loaded["rating"], "started": loaded["started"] or row.started}

    kind = Kind(
        name="run",
        row=tables.Run,
        schema=NewRunSchema(boats, riders, setups),
        changes=RunSchema(boats, riders, setups),
        filters=RunFilterSchema,
        about="Runs: the request, the advice as it was given, and how it rode.",
        columns=columns_of,
        where=_where,
        moment="started",
        timed=("since", "until"),
        beside=_beside,
    )
    resource = collection(kind)

    @resource.route("/runs/<row_id>/card")
    @resource.response(200, {"type": "string"}, content_type=TEXT)
    @offers(TEXT)
    @needs(Scope.READ)
    def read_card(row_id: str) -> Response:
        """The card for the helm as it was on that day."""
        with the_store().reading() as session:
            row = Shelf(session, tables.Run, principal().outfit).find(row_id)
        if row.card is None:
            raise Gone(say.CARD_ERASED)
        return Response(row.card, mimetype=TEXT)

    return resource


def _advised(loaded: Mapping[str, Any], document: Document, boats: StoredBoats) -> dict[str, Any]:
    sent = document["request"]
    advice, answer = answered(loaded["request"])
    saved = answer["saved"]
    with the_store().reading() as session:
        document["stood_for"] = stood_for(
            session, principal().outfit, sent, None if saved is None else saved["id"]
        )
    boat_id = sent["boat"] if isinstance(sent["boat"], str) else None
    return {
        "boat_id": boat_id,
        "boat_version": None if boat_id is None else boats.version(boat_id),
        "rider_id": sent["rider"] if isinstance(sent["rider"], str) else None,
        "rating": loaded["rating"],
        "started": loaded["started"] or now(),
        "rule_set": advice.base.hash,
        "answer": answer,
        "card": card(answer),
        "log": None if boat_id is None else kept(advice, _by_rules(loaded["request"], advice)),
    }


def _by_rules(asked: Asked[AdviceRequest], advice: Advice) -> Advice:
    """The same without what the boat's log adds, which is not to be learned again."""
    learned = asked.request.boat.learned
    if learned is None or not learned.offsets:
        return advice
    boat = replace(asked.request.boat, learned=replace(learned, offsets={}))
    return advise(replace(asked.request, boat=boat), advice.base)


def _check_settings(boats: StoredBoats, boat_id: str, loaded: Mapping[str, Any]) -> None:
    try:
        boat = boats.find(boat_id)
    except UnknownBoatError:
        return  # it is gone, the run stays
    if faults := run_faults(boat, loaded):
        raise ValidationError(faults)


def _check_overridden(
    answer: Mapping[str, Any], overridden: Sequence[Mapping[str, Any]] | None
) -> None:
    """Only what was advised can be overridden, each rule once."""
    fired = {reason["rule"] for reason in answer.get("reasons", ())}
    faults: dict[int, dict[str, list[str]]] = {}
    for number, entry in enumerate(overridden or ()):
        if entry["rule"] not in fired:
            faults[number] = {"rule": [say.NOT_AMONG_THE_REASONS]}
        fired.discard(entry["rule"])
    if faults:
        raise ValidationError({"overridden": faults})
