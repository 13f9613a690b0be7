"""Advice to draw, the pages served, and a real browser to look at them."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from playwright.sync_api import Browser, Page, Request, sync_playwright
from werkzeug.serving import make_server
from werkzeug.wsgi import ClosingIterator

import rules
from schemas.advice_request import AdviceRequestSchema
from schemas.units import System
from service import create_app
from service.advice.advise import advise
from service.advice.answer import Advice
from service.boats.fleet import Fleet

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

Ask = Callable[..., tuple[Advice, System]]

RIDER = {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"}
PLAIN: dict[str, Any] = {"boat": "demo-7m", "crew": 8, "rider": RIDER}
MOVING: dict[str, Any] = PLAIN | {
    "crew": [
        *({"seat": "bench-port"},) * 3, {"seat": "helm"}, *({"seat": "bow-port"},) * 2,
        {"seat": "stern"}, {"mass": 101},
    ],
    "ballast": {"aft-port": 60, "bow": 100},
    "water": {"depth": 5, "distance_to_shore": 100},
}  # fmt: skip
HOPELESS: dict[str, Any] = {
    "boat": "demo-6m", "units": "us", "crew": 40, "fuel": 100,
    "rider": {
        "mass": "300 lb", "stance": "goofy", "board": "skim", "level": "first_time",
        "wants": ["steeper", "longer", "more_push"],
    },
    "water": {"kind": "salt", "depth": 4, "distance_to_shore": 30},
    "loads": [{"mass": 3000, "x": 2, "y": 1, "z": 2, "name": "bags"}],
}  # fmt: skip
SINKING: dict[str, Any] = PLAIN | {
    "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 1}] * 8,
}


@pytest.fixture(scope="session")
def ask(fleet: Fleet) -> Ask:
    """Advice for a request as it is sent."""
    schema = AdviceRequestSchema(fleet)

    def asked(request: dict[str, Any], **more: Any) -> tuple[Advice, System]:
        found = schema.load(request | more)
        return advise(found.request, rules.load()), found.system

    return asked


@pytest.fixture(scope="session")
def application(tmp_path_factory: pytest.TempPathFactory) -> Flask:
    """The application that is looked at, with a store of its own."""
    store = tmp_path_factory.mktemp("store") / "pages.db"
    return create_app({"DATABASE_URL": f"sqlite:///{store}"})


def whole(application: WSGIApplication) -> WSGIApplication:
    """Each answer in one piece, closed before it is sent.

    The development server leaves a file open where a browser hangs up early.
    """

    def answered(environ: WSGIEnvironment, start: StartResponse) -> list[bytes]:
        with closing(ClosingIterator(application(environ, start))) as parts:
            return [b"".join(parts)]

    return answered


@pytest.fixture(scope="session")
def served(application: Flask) -> Iterator[str]:
    """The address of the application, at work on this machine."""
    server = make_server("127.0.0.1", 0, whole(application), threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, from ``WAVESETUP_CHROMIUM``. CI has to have it; elsewhere its absence is said."""
    path = Path(os.environ.get("WAVESETUP_CHROMIUM", "/usr/bin/chromium"))
    if not path.exists():
        missing = f"no Chromium at {path}: install it or set WAVESETUP_CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    with sync_playwright() as playwright:
        # CI runs as root, where Chromium has no sandbox of its own; it only sees our own pages.
        arguments = ["--no-sandbox", "--disable-background-networking", "--disable-sync"]
        chromium = playwright.chromium.launch(executable_path=path, args=arguments)
        yield chromium
        chromium.close()


@pytest.fixture
def page(browser: Browser, served: str) -> Iterator[Page]:
    """A page of its own; a request to anywhere else, or an error of the script, fails the test."""
    page = browser.new_page(base_url=served, viewport={"width": 1280, "height": 900})
    elsewhere: list[str] = []
    errors: list[str] = []

    def seen(request: Request) -> None:
        if not request.url.startswith(served):
            elsewhere.append(request.url)

    page.on("request", seen)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console",
        lambda said: errors.append(said.text) if "Content Security Policy" in said.text else None,
    )
    yield page
    page.close()
    assert elsewhere == []
    assert errors == []


def sheet_of(client: FlaskClient, request: dict[str, Any], accept: str = "text/html") -> str:
    """The answer of ``POST /v1/advice`` in another form."""
    response = client.post("/v1/advice", json=request, headers={"Accept": accept})
    assert response.status_code == 200
    return response.text


@pytest.fixture
def html(app: Flask) -> Callable[[dict[str, Any]], str]:
    """The sheet for a request."""
    return lambda request: sheet_of(app.test_client(), request)
