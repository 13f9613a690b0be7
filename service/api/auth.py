"""Who asks, and what they may: ``Authorization: Bearer`` (RFC 6750)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from flask import Flask, Response, current_app, g, request
from werkzeug.exceptions import Forbidden, Unauthorized

from schemas import error_texts as say
from service.api.at_work import working
from service.api.stored import the_store
from service.outfits.demo import DEMO
from service.outfits.keys import SCOPES, Principal, Scope, recognise

SECURITY_SCHEME = {
    "type": "http",
    "scheme": "bearer",
    "description": "An API key of the outfit; see `flask keys create`. Its scopes are levels: "
    + "; ".join(f"`{scope.value}` {adds}" for scope, adds in SCOPES.items())
    + ".",
}
# What a request must be able to do before anybody has a key.
_ALWAYS_OPEN = (
    "/healthz", "/readyz", "/metrics", "/openapi.json", "/docs", "/docs/tutorial",
    "/assets/site.css", "/assets/icon.svg",
)  # fmt: skip

View = TypeVar("View", bound=Callable[..., object])


class _NoKey(Unauthorized):
    """A 401 with the challenge that RFC 6750, section 3, asks for."""

    challenge = "Bearer"

    def get_headers(self, *args: Any, **kwargs: Any) -> list[tuple[str, str]]:
        return [*super().get_headers(*args, **kwargs), ("WWW-Authenticate", self.challenge)]


class _NotAllowed(Forbidden):
    """A 403 that names the scope that is missing."""

    scope = ""

    def get_headers(self, *args: Any, **kwargs: Any) -> list[tuple[str, str]]:
        challenge = f'Bearer error="insufficient_scope", scope="{self.scope}"'
        return [*super().get_headers(*args, **kwargs), ("WWW-Authenticate", challenge)]


def outfit_of_key() -> str | None:
    """The outfit whose key was told; ``None`` without a key."""
    found: Principal | None = g.get("principal")
    return None if found is None else found.outfit


def needs(scope: Scope) -> Callable[[View], View]:
    """A view needs a key with this scope. Goes innermost, nearest to the function."""

    def mark(view: View) -> View:
        view.scope = scope  # type: ignore[attr-defined]
        # Read by flask-smorest when it writes the specification.
        documented = {"security": [{"key": []}], "description": f"Requires the scope `{scope}`."}
        view._apidoc = {"manual_doc": documented}  # type: ignore[attr-defined]  # noqa: SLF001
        return view

    return mark


def principal() -> Principal:
    """Who asks, in a view that needs a scope."""
    found: Principal = g.principal
    return found


def outfit() -> str:
    """The outfit whose boats are meant: that of the key, without one that of the demo."""
    found: Principal | None = g.get("principal")
    return DEMO if found is None else found.outfit


def _recognise() -> None:
    if request.endpoint is None:
        return  # a 404 or 405 is on its way
    job = working()
    g.principal = _by_header() if job is None else job.principal
    scope = getattr(current_app.view_functions[request.endpoint], "scope", None)
    if scope is None and not current_app.config["OPEN"] and request.path not in _ALWAYS_OPEN:
        scope = Scope.READ
    if scope is None:
        return
    if g.principal is None:
        raise _NoKey(say.NO_KEY)
    if scope not in g.principal.scopes:
        error = _NotAllowed(say.NO_SCOPE.format(scope=scope))
        error.scope = scope
        raise error


def _by_header() -> Principal | None:
    """``None`` without the header; one that opens nothing is an error, also where none is asked."""
    header = request.headers.get("Authorization")
    if header is None:
        return None
    kind, _, token = header.strip().partition(" ")
    found = recognise(the_store(), token.strip()) if kind.lower() == "bearer" else None
    if found is None:
        error = _NoKey(say.NO_SUCH_KEY)
        error.challenge = 'Bearer error="invalid_token"'
        raise error
    return found


def _private(response: Response) -> Response:
    """What belongs to an outfit, or was made from what was sent, is left in no cache."""
    if g.get("principal") is not None or request.method not in ("GET", "HEAD", "OPTIONS"):
        response.headers.setdefault("Cache-Control", "no-store")
    return response


def init_app(app: Flask) -> None:
    if app.config.setdefault("OPEN", True) not in (True, False):
        raise ValueError("WAVESETUP_OPEN has to be true or false.")
    app.before_request(_recognise)
    app.after_request(_private)


def describe(api: Any) -> None:
    """The key in the specification; the views that need it say so themselves."""
    api.spec.components.security_scheme("key", SECURITY_SCHEME)
