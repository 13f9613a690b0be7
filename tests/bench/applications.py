"""The service, with addresses beside it that do less: what a request costs before any advice."""

from __future__ import annotations

from flask import Flask, Response, current_app
from werkzeug.middleware.dispatcher import DispatcherMiddleware

import rules
from schemas.advice_answer import present
from schemas.advice_request import AdviceRequestSchema
from schemas.advice_shapes import AdviceAnswerSchema
from schemas.fleet import demo_fleet
from schemas.request import Asked
from service import create_app
from service.advice.advise import advise
from service.advice.requests import AdviceRequest
from service.api import auth, learning
from service.api.body import Blueprint
from service.api.stored import the_store
from tests.production.server import SMALLEST


def application() -> Flask:
    """``/bench/echo`` reads and writes what advice does, and advises nothing.

    It reads the request by the same schema, with the boat from the store, and writes an answer
    that was found before, by the same presenter. ``/bench/bare/`` is Flask with one line.
    """
    app = create_app({"LOG_LEVEL": "warning"})
    with app.app_context():
        boats = learning.CalibratedBoats(the_store(), auth.outfit)
    asked = AdviceRequestSchema(demo_fleet()).load(SMALLEST)
    found = advise(asked.request, rules.load())
    blueprint = Blueprint("bench", __name__)

    @blueprint.route("/bench/echo", methods=["POST"])  # type: ignore[untyped-decorator]
    @blueprint.arguments(AdviceRequestSchema(boats))  # type: ignore[untyped-decorator]
    @blueprint.response(200, AdviceAnswerSchema())  # type: ignore[untyped-decorator]
    def echo(asked: Asked[AdviceRequest]) -> Response:
        answer = present(found, asked.system)
        return Response(current_app.json.dumps(answer), mimetype="application/json")

    app.register_blueprint(blueprint)
    bare = Flask("bare")

    @bare.post("/")
    def nothing() -> str:
        return "ok"

    app.wsgi_app = DispatcherMiddleware(  # type: ignore[method-assign]
        app.wsgi_app, {"/bench/bare": bare}
    )
    return app
