"""Templates to HTML. Everything is escaped unless a picture of our own making says otherwise."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from schemas.written import plain
from service.pages import page_texts, texts

STYLE = (files("service.pages") / "assets" / "site.css").read_text("utf-8")
STYLE_HASH = "sha256-" + base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
"""Of the style that sheets carry, as a Content-Security-Policy names it (CSP level 3, 2.3.1)."""


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("service.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["t"] = texts
    environment.globals["pt"] = page_texts
    environment.globals["plain"] = plain
    environment.globals["style"] = Markup(STYLE)  # noqa: S704 — a file of our own
    environment.filters["picture"] = Markup  # text that service.pages.svg wrote
    return environment


_ENVIRONMENT = _environment()


def render(template: str, **context: Any) -> str:
    """The page. A name that the context lacks is an error, not a gap."""
    return _ENVIRONMENT.get_template(template).render(**context)
