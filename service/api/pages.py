"""The pages at ``/`` and ``/docs`` and what they load; the headers of every page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import flask
from flask import Flask, Response, current_app, request, send_from_directory
from marshmallow import ValidationError

from schemas.advice_answer import present
from schemas.advice_request import AdviceRequestSchema
from schemas.fleet import demo_fleet
from schemas.units import System
from service.advice.advise import advise
from service.api.accept import HTML, SVG, offers
from service.api.errors import faults
from service.api.rulebase import rules_for
from service.boats.fleet import Boats, UnknownBoatError
from service.pages import reference, sheet, tryout, tutorial
from service.pages.rendering import STYLE_HASH

ASSETS = Path(tryout.__file__).parent / "assets"
POLICY = (
    f"default-src 'none'; style-src 'self' '{STYLE_HASH}'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, nothing inline but the one style that sheets carry.

Pictures use attributes, which it does not restrict.
"""


def blueprint(boats: Boats) -> flask.Blueprint:
    """The pages; they are no part of the specification."""
    pages = flask.Blueprint("pages", __name__)
    listed = tuple(demo_fleet())

    @pages.get("/")
    @offers(HTML)
    def try_out() -> str:
        return tryout.page(listed, _system(request.args.get("units")))

    @pages.post("/")
    @offers(HTML)
    def tried() -> str | tuple[str, int]:
        """What the script does, for those who run none."""
        form = dict(request.form.lists())
        system = _system(request.form.get("units"))
        try:
            asked = AdviceRequestSchema(boats).load(tryout.request_of(form))
        except ValidationError as error:
            found_faults = faults(error.messages)
            return tryout.page(listed, system, form, found_faults), 422
        except UnknownBoatError as error:
            known = [("/boat", ", ".join(error.known))]
            return tryout.page(listed, system, form, known), 404
        found = advise(asked.request, rules_for(asked.request.boat))
        shown = sheet.part(found, present(found, asked.system), asked.system)
        return tryout.page(listed, system, form, sheet=shown)

    @pages.get("/assets/<path:name>")
    @offers("text/css", "text/javascript", SVG)
    def asset(name: str) -> Response:
        return send_from_directory(ASSETS, name, max_age=3600)

    @pages.get("/docs")
    @offers(HTML)
    def docs() -> str:
        return reference.page(_specification())

    @pages.get("/docs/tutorial")
    @offers(HTML)
    def ten_minutes() -> str:
        return tutorial.page()

    return pages


def _system(name: str | None) -> System:
    return System.US if name == System.US.value else System.METRIC


def _specification() -> dict[str, Any]:
    api = current_app.extensions["flask-smorest"]["apis"][""]["ext_obj"]
    found: dict[str, Any] = api.spec.to_dict()
    return found


def _guarded(response: Response) -> Response:
    if response.mimetype in (HTML, SVG):
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Referrer-Policy", "no-referrer")
    response.headers.setdefault("X-Content-Type-Options", "nosniff")
    return response


def init_app(app: Flask, boats: Boats) -> None:
    app.register_blueprint(blueprint(boats))
    app.after_request(_guarded)
