"""Content negotiation: JSON unless another offered form is asked for (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from flask import Flask, Response, current_app, g, request
from werkzeug.datastructures import MIMEAccept
from werkzeug.exceptions import NotAcceptable

from schemas import error_texts as say

JSON = "application/json"
TEXT = "text/plain"
HTML = "text/html"
SVG = "image/svg+xml"
PNG = "image/png"

View = TypeVar("View", bound=Callable[..., object])


def offers(*media_types: str) -> Callable[[View], View]:
    """A view answers in these forms; the first is the default. Without it a view offers JSON.

    Goes innermost, nearest to the function; the view asks :func:`media_type` which one to write.
    """

    def mark(view: View) -> View:
        view.offers = media_types  # type: ignore[attr-defined]
        return view

    return mark


def media_type() -> str:
    """The form that this request's answer is to have."""
    chosen: str = g.media_type
    return chosen


def _negotiate() -> None:
    if request.endpoint is None:
        return  # a 404 or 405 is on its way
    offered = getattr(current_app.view_functions[request.endpoint], "offers", (JSON,))
    # An absent header takes anything; one that is empty or names nothing offered does not.
    if "Accept" not in request.headers:
        g.media_type = offered[0]
        return
    # Parameters such as charset=utf-8 tell forms apart that are not told apart here.
    plain = [(name.partition(";")[0].strip(), q) for name, q in request.accept_mimetypes]
    chosen = MIMEAccept(plain).best_match(offered)
    if chosen is None:
        raise NotAcceptable(say.ANSWERS_IN.format(offered=", ".join(offered)))
    g.media_type = chosen


def _vary(response: Response) -> Response:
    if "media_type" in g:
        response.vary.add("Accept")
    return response


def init_app(app: Flask) -> None:
    app.before_request(_negotiate)
    app.after_request(_vary)
