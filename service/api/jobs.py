"""``/v1/jobs/{id}``: long work, done by processes of its own.

What is done as a job is the very request, sent to the same application by a worker; so its answer
is what it would have been at once, in the same form. Without a key the id of a job is what opens
it: nobody guesses it. ``Prefer`` and ``Preference-Applied`` as of RFC 7240.
"""

from __future__ import annotations

import base64
import math
from datetime import datetime
from typing import Any

from flask import Flask, Response, current_app, g, request, url_for
from marshmallow import Schema, fields
from werkzeug.exceptions import Conflict, ServiceUnavailable, TooManyRequests

from schemas import error_texts as say
from schemas import plain
from schemas.record import InputSchema
from service.api import at_work, idempotency, limits
from service.api.accept import JSON, media_type
from service.api.at_work import Working
from service.api.auth import outfit_of_key
from service.api.body import Blueprint
from service.api.stored import the_store
from service.jobs import queue
from service.jobs.queue import Answer, QueueFullError, State, Task
from service.jobs.worker import Perform, Report
from service.outfits.keys import Principal, Scope
from service.storage.tables import Document, Job

PARALLEL = 1
"""Jobs at once, by default: the other processors are for those who wait."""
LONGEST_WAIT = 60
"""Seconds after which to look again, at most."""
LONG_WORK = "Done as a job, which `Location` names."
_HEADERS = ("Content-Type", "Rule-Set", "Cache-Control")


class PreferSchema(InputSchema):
    """What the caller would rather have."""

    prefer = plain.String(
        data_key="Prefer",
        load_default=None,
        metadata={"description": "`respond-async`: answer 202 and do it as a job (RFC 7240)."},
    )


class ProgressSchema(Schema):
    """How much of it is done, where that can be told."""

    done = fields.Integer(required=True)
    total = fields.Integer(required=True)


class JobSchema(Schema):
    """A job."""

    id = fields.String(required=True)
    state = fields.Enum(State, by_value=True, required=True)
    created = fields.DateTime(required=True)
    started = fields.DateTime(allow_none=True, required=True)
    ended = fields.DateTime(allow_none=True, required=True)
    expires = fields.DateTime(
        required=True, metadata={"description": "Until then the job and its answer are kept."}
    )
    progress = fields.Nested(ProgressSchema(), allow_none=True, required=True)
    status = fields.Integer(
        allow_none=True, required=True, metadata={"description": "The status of its answer."}
    )
    answer = fields.String(
        allow_none=True, required=True, metadata={"description": "Where its answer is."}
    )
    fault = fields.String(
        allow_none=True, required=True,
        metadata={"description": "Why it has failed without an answer."},
    )  # fmt: skip


def shown(job: Job) -> Document:
    """A job as it is answered."""
    answer = job.answer
    return {
        "id": job.id,
        "state": job.state,
        "created": job.created.isoformat(),
        "started": _moment(job.started),
        "ended": _moment(job.ended),
        "expires": job.expires.isoformat(),
        "progress": None if job.total is None else {"done": job.done, "total": job.total},
        "status": None if answer is None else answer["status"],
        "answer": None if answer is None else url_for("jobs.answer", job_id=job.id),
        "fault": job.fault,
    }


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def accepted(cost: float, wished: bool) -> Response:
    """This request as a job: 202. 429 where its caller has too many, or has used too much.

    ``cost`` in seconds of processor time; ``wished`` if the caller asked for it.
    """
    limits.charge_job(cost)
    document = {
        "method": request.method,
        "path": request.full_path.rstrip("?"),
        "accept": media_type(),
        "body": request.get_data(as_text=True),
        "principal": _told(g.get("principal")),
    }
    kind = request.path if request.url_rule is None else request.url_rule.rule
    try:
        with the_store().writing() as session:
            job = queue.put(
                session, f"{request.method} {kind}", document,
                payer=limits.payer(), outfit=outfit_of_key(), price=cost,
            )  # fmt: skip
            response = _to_come(job, wished)
            idempotency.keep(session, response)
    except QueueFullError as full:
        if full.of_payer:
            raise TooManyRequests(
                say.TOO_MANY_JOBS.format(most=full.most), retry_after=LONGEST_WAIT
            ) from None
        raise ServiceUnavailable(say.QUEUE_FULL, retry_after=LONGEST_WAIT) from None
    return response


def _to_come(job: Job, wished: bool) -> Response:
    response = Response(current_app.json.dumps(shown(job)), 202, mimetype=JSON)
    response.headers["Location"] = url_for("jobs.job", job_id=job.id)
    response.headers["Retry-After"] = str(_wait(job))
    response.headers["Cache-Control"] = "no-store"
    if wished:
        response.headers["Preference-Applied"] = "respond-async"
    response.vary.add("Prefer")
    return response


def _wait(job: Job) -> int:
    return min(LONGEST_WAIT, max(1, math.ceil(job.price / 4)))


blueprint = Blueprint("jobs", __name__, url_prefix="/v1", description="Long work.")


@blueprint.route("/jobs/<job_id>")
@blueprint.response(200, JobSchema())
def job(job_id: str) -> Response:
    """How far a job is. `Retry-After` says when to look again."""
    with the_store().reading() as session:
        found = queue.find(session, job_id, outfit_of_key())
    response = Response(current_app.json.dumps(shown(found)), mimetype=JSON)
    response.headers["Cache-Control"] = "no-store"
    if State(found.state).is_open:
        response.headers["Retry-After"] = str(_wait(found))
    return response


@blueprint.route("/jobs/<job_id>/answer")
@blueprint.response(200, {"type": "object"})
@blueprint.alt_response(409, success=False, description="There is none yet.")
def answer(job_id: str) -> Response:
    """The answer as it would have come at once: with its own status, in the form asked for then."""
    with the_store().reading() as session:
        found = queue.find(session, job_id, outfit_of_key())
    if found.answer is None:
        error = Conflict(say.NO_ANSWER.format(state=found.state))
        if State(found.state).is_open:
            error.data = {"headers": {"Retry-After": str(_wait(found))}}  # type: ignore[attr-defined]
        raise error
    body: Any = found.answer["body"]
    if found.answer["binary"]:
        body = base64.b64decode(body)
    response = Response(body, found.answer["status"], found.answer["headers"])
    response.headers["Cache-Control"] = "no-store"
    return response


@blueprint.route("/jobs/<job_id>", methods=["DELETE"])
@blueprint.response(204)
def cancel(job_id: str) -> None:
    """Stops a job; forgets one that has ended, with its answer."""
    with the_store().writing() as session:
        queue.cancel(session, job_id, outfit_of_key())


def performer(app: Flask) -> Perform:
    """Does a task by sending its request to ``app``."""

    def perform(task: Task, report: Report) -> Answer:
        asked = task.request
        response = app.test_client().open(
            asked["path"],
            method=asked["method"],
            data=asked["body"],
            headers={"Accept": asked["accept"], "Content-Type": JSON},
            environ_overrides={at_work.ENVIRON: Working(_principal(asked["principal"]), report)},
        )
        data = response.get_data()
        binary = not (response.mimetype or "").startswith(("text/", "application/"))
        document = {
            "status": response.status_code,
            "headers": {name: response.headers[name] for name in _HEADERS
                        if name in response.headers},
            "body": base64.b64encode(data).decode() if binary else data.decode(),
            "binary": binary,
        }  # fmt: skip
        return Answer(document, good=response.status_code < 400)

    return perform


def _told(principal: Principal | None) -> Document | None:
    if principal is None:
        return None
    return {"outfit": principal.outfit, "key": principal.key_id, "scopes": [*principal.scopes]}


def _principal(told: Document | None) -> Principal | None:
    if told is None:
        return None
    return Principal(told["outfit"], told["key"], frozenset(map(Scope, told["scopes"])))
