"""A blueprint that shows what the plumbing makes of a request."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask, Response
from flask.testing import FlaskClient
from marshmallow import Schema, fields

from schemas.advice_request import AdviceRequestSchema
from schemas.loading_request import LoadingRequestSchema
from service import create_app
from service.api.accept import HTML, JSON, SVG, TEXT, media_type, offers
from service.api.body import Blueprint
from service.boats.fleet import Fleet


class PageSchema(Schema):
    page = fields.Integer(load_default=1)


def probe(fleet: Fleet) -> Blueprint:
    """Takes the real requests and answers with what they loaded to."""
    blueprint = Blueprint("probe", __name__, url_prefix="/probe")

    @blueprint.route("/advice", methods=["POST"])
    @blueprint.arguments(AdviceRequestSchema(fleet))
    @blueprint.response(200)
    def advice(asked: Any) -> dict[str, str]:
        return {"request": repr(asked.request), "system": asked.system}

    @blueprint.route("/loading", methods=["POST"])
    @blueprint.arguments(LoadingRequestSchema(fleet))
    @blueprint.response(200)
    def loading(asked: Any) -> dict[str, str]:
        return {"request": repr(asked.request), "system": asked.system}

    @blueprint.route("/card")
    @blueprint.response(200)
    @offers(JSON, TEXT, HTML, SVG)
    def card() -> Response:
        return Response("{}", mimetype=media_type())

    @blueprint.route("/page")
    @blueprint.arguments(PageSchema(), location="query")
    @blueprint.response(200)
    def page(asked: dict[str, int]) -> dict[str, int]:
        return asked

    @blueprint.route("/broken")
    @blueprint.response(200)
    def broken() -> None:
        raise RuntimeError("the secret of the house")

    @blueprint.route("/nan")
    @blueprint.response(200)
    def nan() -> dict[str, float]:
        return {"heel": float("nan")}

    return blueprint


@pytest.fixture(scope="session")
def probe_app(database: str, fleet: Fleet) -> Flask:
    """The application with the probe; errors are answered as in production."""
    app = create_app({"PROPAGATE_EXCEPTIONS": False})
    app.extensions["flask-smorest"]["apis"][""]["ext_obj"].register_blueprint(probe(fleet))
    return app


@pytest.fixture
def probe_client(probe_app: Flask) -> FlaskClient:
    """A client of the application with the probe."""
    return probe_app.test_client()
